"""Cut pieces out of sticks for the least money, with a proven bound.

Column generation (Gilmore and Gomory 1961, "A linear programming approach to the cutting-stock
problem"): a linear programme over ways to cut one stick, joined by the way that pays best at its
prices until none pays. Its value bounds every answer from below; a whole-number choice among the
ways found gives the answer, and first-fit-decreasing stands behind it.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.yard.cut_list import Piece, Stick, refuse_long, refuse_short_stock

HAIR = 1e-6
"""mm: lengths nearer than this are one length."""

MOST_KINDS = 300
"""Above so many different lengths the answer is first-fit-decreasing's."""

GRIDS = (1.0, 0.5, 0.1, 25.4 / 16, 25.4 / 64)
"""mm: steps on which all lengths of a job usually lie."""

MOST_CELLS = 200_000

ROUNDS = 600


@dataclass(frozen=True, slots=True)
class Way:
    """One stick (its index) and how many of each piece are cut from it."""

    stick: int
    takes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Nest:
    """An answer: a way for every stick used, its cost, the least cost and number there can be."""

    ways: tuple[Way, ...]
    cost: float
    least_cost: float
    bound: int

    @property
    def optimal(self) -> bool:
        """Whether no answer is cheaper."""
        return self.cost <= self.least_cost * (1 + 1e-9)


def nest(sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> Nest:
    """Cut all pieces at the least cost; lengths in mm, `kerf` lost between neighbours.

    An InputError names a piece longer than every stick, or says that the sticks run out.
    """
    refuse_long(sticks, pieces)
    quick = first_fit(sticks, pieces, kerf)
    room = sum((p.length + kerf) * p.count for p in pieces)
    fewest = math.ceil(room / max(s.length + kerf for s in sticks) - 1e-9)
    rate = min(s.cost / (s.length + kerf) for s in sticks)
    least = _whole(sticks, room * rate)
    ways = quick
    if len(pieces) <= MOST_KINDS and (quick is None or _cost(sticks, quick) > least * (1 + 1e-9)):
        proven, better = _generate(sticks, pieces, kerf, quick or [])
        least = max(least, _whole(sticks, proven))
        if better is not None and (quick is None or _cost(sticks, better) < _cost(sticks, quick)):
            ways = better
    if ways is None:
        raise refuse_short_stock()
    if len({s.cost for s in sticks}) == 1:
        fewest = max(fewest, math.ceil(least / sticks[0].cost - 1e-9))
    return Nest(tuple(ways), _cost(sticks, ways), least, fewest)


def _cost(sticks: Sequence[Stick], ways: Sequence[Way]) -> float:
    return sum(sticks[way.stick].cost for way in ways)


def _whole(sticks: Sequence[Stick], cost: float) -> float:
    """Raise a bound to the next cost that sticks of one price can have."""
    prices = {s.cost for s in sticks}
    return cost if len(prices) > 1 else math.ceil(cost / sticks[0].cost - 1e-7) * sticks[0].cost


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


def _generate(
    sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float, start: Sequence[Way]
) -> tuple[float, list[Way] | None]:
    """Give a proven least cost, and the best whole answer among the ways that were found."""
    from scipy.optimize import linprog

    ways = list(dict.fromkeys(start)) + _plain_ways(sticks, pieces, kerf)
    ways = list(dict.fromkeys(ways))
    proven, short = 0.0, 1e4 * max(s.cost for s in sticks)
    for _ in range(ROUNDS):
        cost, cover, use, demand, supply = _tables(sticks, pieces, ways)
        extra = np.eye(len(pieces))
        result = linprog(
            np.concatenate((cost, np.full(len(pieces), short))),
            A_ub=np.vstack(
                (np.hstack((-cover, -extra)), np.hstack((use, 0 * use[:, :1] @ extra[:1])))
            ),
            b_ub=np.concatenate((-demand, supply)),
            method="highs",
        )
        pays = -result.ineqlin.marginals
        worth, rent = pays[: len(pieces)], pays[len(pieces) :]
        found = [_best_way(i, s, pieces, kerf, worth) for i, s in enumerate(sticks)]
        gains = [v - s.cost - r for (_, v), s, r in zip(found, sticks, rent, strict=True)]
        fresh = [w for (w, _), g in zip(found, gains, strict=True) if g > 1e-7 and w not in ways]
        if not fresh:
            # Farley's bound: at prices scaled until no way pays, the dual is feasible
            scale = max(
                1.0, *((v / (s.cost + r)) for (_, v), s, r in zip(found, sticks, rent, strict=True))
            )
            proven = float(demand @ worth - np.where(np.isinf(supply), 0, supply) @ rent)
            proven /= scale
            if result.x[len(ways) :].sum() > 1e-6:
                raise refuse_short_stock()
            break
        ways += fresh
    return proven, _choose(sticks, pieces, ways)


def _plain_ways(sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> list[Way]:
    return [
        Way(
            i,
            tuple(
                min(p.count, int((s.length + kerf + HAIR) / (p.length + kerf))) * (j == k)
                for j in range(len(pieces))
            ),
        )
        for i, s in enumerate(sticks)
        for k, p in enumerate(pieces)
        if p.length <= s.length + HAIR
    ]


def _tables(
    sticks: Sequence[Stick], pieces: Sequence[Piece], ways: Sequence[Way]
) -> tuple[Array, Array, Array, Array, Array]:
    cost = np.array([sticks[w.stick].cost for w in ways])
    cover = np.array([w.takes for w in ways], dtype=float).T
    use = np.array([[float(w.stick == i) for w in ways] for i in range(len(sticks))])
    supply = np.array([1e9 if s.count is None else float(s.count) for s in sticks])
    return cost, cover, use, np.array([float(p.count) for p in pieces]), supply


def _best_way(
    i: int, stick: Stick, pieces: Sequence[Piece], kerf: float, worth: Array
) -> tuple[Way, float]:
    """Cut one stick for the most worth (a knapsack, solved to the end)."""
    room = stick.length + kerf
    most = [p.count if p.length <= stick.length + HAIR else 0 for p in pieces]
    needs = np.array([p.length + kerf for p in pieces])
    for step in GRIDS:
        cells = np.append(needs, room) / step
        if room / step < MOST_CELLS and np.all(np.abs(cells - np.rint(cells)) * step < 1e-9):
            whole = [int(n) for n in np.rint(cells)]
            takes = _knapsack(whole[:-1], whole[-1], most, worth)
            return Way(i, takes), float(worth @ np.array(takes))
    solved = _whole_numbers(-worth, needs[None, :], -np.inf, room + HAIR, most)
    if solved.x is None:
        return Way(i, (0,) * len(pieces)), float(worth @ np.array(most))
    takes = tuple(int(n) for n in np.rint(solved.x))
    # cut short by its time, the search still knows what no way can be worth more than
    return Way(i, takes), max(float(worth @ np.array(takes)), -float(solved.mip_dual_bound))


def _knapsack(needs: list[int], room: int, most: list[int], worth: Array) -> tuple[int, ...]:
    """Fill whole numbers of cells for the most worth, by dynamic programming."""
    best, steps = np.zeros(room + 1), []
    for k, need in enumerate(needs):
        left, part = min(most[k], room // need), 1
        while left > 0:
            n = min(part, left)
            tried = np.full(room + 1, -np.inf)
            tried[n * need :] = best[: room + 1 - n * need] + n * worth[k]
            steps.append((k, n, tried > best))
            best = np.maximum(best, tried)
            left, part = left - n, part * 2
    takes, at = [0] * len(needs), room
    for k, n, taken in reversed(steps):
        if taken[at]:
            takes[k] += n
            at -= n * needs[k]
    return tuple(takes)


def _whole_numbers(cost: Array, rows: Array, low: Any, high: Any, most: Any) -> Any:
    from scipy.optimize import Bounds, LinearConstraint, milp

    return milp(
        cost,
        constraints=LinearConstraint(rows, low, high),
        bounds=Bounds(0, most),
        integrality=np.ones(len(cost)),
        options={"mip_rel_gap": 0.0, "time_limit": 3.0},
    )


def _choose(
    sticks: Sequence[Stick], pieces: Sequence[Piece], ways: Sequence[Way]
) -> list[Way] | None:
    """Choose whole numbers of ways, and leave out what is cut more often than asked for."""
    cost, cover, use, demand, supply = _tables(sticks, pieces, ways)
    low = np.concatenate((demand, np.full(len(sticks), -np.inf)))
    high = np.concatenate((np.full(len(pieces), np.inf), supply))
    times = _whole_numbers(cost, np.vstack((cover, use)), low, high, np.inf).x
    if times is None:
        return None
    left, chosen = [p.count for p in pieces], []
    for way, n in zip(ways, np.rint(times).astype(int).tolist(), strict=True):
        for _ in range(n):
            takes = tuple(min(a, b) for a, b in zip(way.takes, left, strict=True))
            left = [b - a for a, b in zip(takes, left, strict=True)]
            if any(takes):
                chosen.append(Way(way.stick, takes))
    return chosen if not any(left) else None
