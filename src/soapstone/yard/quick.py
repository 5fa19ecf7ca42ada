"""Answers that are at hand at once: longest pieces first, and pairs of sticks packed anew."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from soapstone.yard.cut_list import Piece, Stick
from soapstone.yard.filling import HAIR

PAIRS = 1_000
"""Pairs of sticks that are packed anew before it is left."""

GIVERS = 12
"""Sticks with the longest remnants, that pieces are taken from."""

SUMS = 2_000
"""Lengths that pieces of two sticks can add up to, before no more are looked at."""


@dataclass(frozen=True, slots=True)
class Way:
    """One stick (its index) and how many of each piece are cut from it."""

    stick: int
    takes: tuple[int, ...]


def cost_of(sticks: Sequence[Stick], ways: Sequence[Way]) -> float:
    """What the sticks of an answer cost."""
    return math.fsum(sticks[way.stick].cost for way in ways)


def first_fit(sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> list[Way] | None:
    """Longest pieces first, each into the first stick with room; None when sticks run out."""
    left = [math.inf if s.count is None else s.count for s in sticks]
    cheap = sorted(range(len(sticks)), key=lambda i: sticks[i].cost / sticks[i].length)
    opened: list[tuple[int, Counter[int]]] = []
    rooms: list[float] = []
    for k in sorted(range(len(pieces)), key=lambda k: -pieces[k].length):
        need, at = pieces[k].length + kerf, 0
        for _ in range(pieces[k].count):
            # equal pieces: what was too full for the last one is too full for this one
            while at < len(rooms) and rooms[at] < need - HAIR:
                at += 1
            if at == len(rooms):
                fits = [i for i in cheap if left[i] and sticks[i].length + kerf >= need - HAIR]
                if not fits:
                    return None
                left[fits[0]] -= 1
                opened.append((fits[0], Counter()))
                rooms.append(sticks[fits[0]].length + kerf)
            rooms[at] -= need
            opened[at][1][k] += 1
    return [Way(i, tuple(taken[k] for k in range(len(pieces)))) for i, taken in opened]


def cheaper_sticks(
    sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float, ways: Sequence[Way]
) -> list[Way]:
    """Cut what is cut from each stick from the cheapest one that is long enough and at hand."""
    used = Counter(way.stick for way in ways)
    changed = []
    for way in sorted(ways, key=lambda way: -_need(way, pieces, kerf)):
        need = _need(way, pieces, kerf)
        fits = [
            i
            for i, stick in enumerate(sticks)
            if stick.length + kerf >= need - HAIR
            and (i == way.stick or stick.count is None or used[i] < stick.count)
        ]
        best = min(fits, key=lambda i: (sticks[i].cost, i != way.stick, sticks[i].length))
        used[way.stick] -= 1
        used[best] += 1
        changed.append(Way(best, way.takes))
    return changed


def few_long_remnants(
    sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float, ways: Sequence[Way]
) -> list[Way]:
    """Move pieces so that what is left over is left in few sticks, and long.

    Two sticks at a time: of all their pieces, the fuller one is filled as full as it can be. The
    sum of the squares of what is left over grows each time, so it ends; an emptied stick is saved.
    """
    kept = [*ways, *_spare(sticks, len(pieces), ways)]
    tries, again = 0, True
    no_better: set[tuple[Way, Way]] = set()
    rests = [_rest(way, sticks, pieces, kerf) for way in kept]
    while again and tries < PAIRS:
        again = False
        cut = [n for n, way in enumerate(kept) if any(way.takes)]
        for giving in sorted(cut, key=lambda n: -rests[n])[:GIVERS]:
            for taking in sorted(range(len(kept)), key=lambda n: rests[n]):
                both = (kept[taking], kept[giving])
                fuller = HAIR < rests[taking] <= rests[giving] + HAIR
                if taking == giving or not fuller or both in no_better or tries >= PAIRS:
                    continue
                tries += 1
                pair = _packed(*both, sticks, pieces, kerf)
                if pair is None:
                    no_better.add(both)
                    continue
                kept[taking], kept[giving] = pair
                for n in (taking, giving):
                    rests[n] = _rest(kept[n], sticks, pieces, kerf)
                again = True
    return [way for way in kept if any(way.takes)]


def _spare(sticks: Sequence[Stick], kinds: int, ways: Sequence[Way]) -> list[Way]:
    """What lies there, costs nothing and is not used yet."""
    used = Counter(way.stick for way in ways)
    nothing = (0,) * kinds
    return [
        Way(i, nothing)
        for i, stick in enumerate(sticks)
        if stick.count is not None and stick.cost == 0
        for _ in range(min(stick.count - used[i], len(ways)))
    ]


def _packed(
    full: Way, other: Way, sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float
) -> tuple[Way, Way] | None:
    """Fill `full` with pieces of both; None when it cannot be fuller, or the rest has no room."""
    both = [a + b for a, b in zip(full.takes, other.takes, strict=True)]
    room = sticks[full.stick].length + kerf
    # each length that is reached, and the length and piece that it was reached from
    reached: dict[float, tuple[float, int]] = {0.0: (0.0, -1)}
    for k in (k for k, count in enumerate(both) if count):
        need, edge = pieces[k].length + kerf, list(reached)
        for _ in range(both[k]):
            grown = [(round(at + need, 6), at) for at in edge if at + need <= room + HAIR]
            edge = [here for here, _ in grown if here not in reached]
            for here, at in grown:
                reached.setdefault(here, (at, k))
        if len(reached) > SUMS:
            break
    total = sum((pieces[k].length + kerf) * n for k, n in enumerate(both) if n)
    most = max(reached)
    fits = total - most <= sticks[other.stick].length + kerf + HAIR
    if most <= _need(full, pieces, kerf) + HAIR or not fits:
        return None
    takes, at = [0] * len(both), most
    while reached[at][1] >= 0:
        at, k = reached[at]
        takes[k] += 1
    rest = tuple(n - taken for n, taken in zip(both, takes, strict=True))
    return Way(full.stick, tuple(takes)), Way(other.stick, rest)


def _need(way: Way, pieces: Sequence[Piece], kerf: float) -> float:
    cut = zip(pieces, way.takes, strict=True)
    return sum((piece.length + kerf) * n for piece, n in cut if n)


def _rest(way: Way, sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> float:
    return sticks[way.stick].length + kerf - _need(way, pieces, kerf)
