"""In which order bends are made, and which end of the tube leads at each.

Bends can be made in any order, each with either end through the die first, as long as clamp and
follower find straight: a bend that is not made yet is straight metal.
"""

import math
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby, pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

HAIR = 1e-6
"""Length in mm that no tape shows: limits are kept to within this."""

EXACT_UP_TO = 12
"""Bends up to which every order is weighed; of more, only those in turn, from both ends."""

Whole: TypeAlias = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Turn:
    """One bend's turn at the bender: `n` counts bends from the A end, `lead` is "A" or "B"."""

    n: int
    lead: str


Order: TypeAlias = tuple[Turn, ...]
"""Every bend of a tube once, in the order made."""


@cache
def in_turn(count: int, lead: str = "A") -> Order:
    """Give the plainest order: all bends one after another, from the end that leads."""
    numbers = range(1, count + 1) if lead == "A" else range(count, 0, -1)
    return tuple(Turn(n, lead) for n in numbers)


def check_order(order: Order, count: int) -> None:
    """Raise ValueError unless an order holds every bend of a tube once, led by A or by B."""
    if sorted(turn.n for turn in order) != list(range(1, count + 1)):
        raise ValueError(f"an order of {count} bends has each of them once")
    if not {turn.lead for turn in order} <= {"A", "B"}:
        raise ValueError('the end that leads is "A" or "B"')


def neighbours(order: Order) -> list[tuple[int, int]]:
    """Give for each bend, in the order made, the nearest made before it toward A and toward B.

    0 and one more than the number of bends stand for the stock's own ends.
    """
    made = [0, len(order) + 1]
    found = []
    for turn in order:
        place = bisect(made, turn.n)
        found.append((made[place - 1], made[place]))
        made.insert(place, turn.n)
    return found


def order_words(order: Order) -> str:
    """Say an order: "2, 1 with the A end leading, then 3 with the B end leading"."""
    runs = [
        f"{', '.join(str(turn.n) for turn in turns)} with the {lead} end leading"
        for lead, turns in groupby(order, key=lambda turn: turn.lead)
    ]
    return ", then ".join(runs)


def simplest_order(
    legs: Sequence[float], arcs: Sequence[float], clamp: float, follower: float
) -> Order:
    """Find the order that gives clamp and follower their straight with the least handling.

    `legs` are the straights from A to B, `arcs` the stock of each bend, all in mm. Ends too short
    are left out of account, since grip is added there. Of all orders the one is taken in which the
    fewest straights are too short; then by the least sum; then with the fewest changes of the lead
    end; then with the fewest moves past a neighbouring bend; then with the fewest moves toward the
    lead end; then with A leading most often. So bends go in turn from A wherever they can, else in
    turn from B. Exact up to `EXACT_UP_TO` bends.
    """
    gaps = _Gaps.between(legs, arcs, clamp, follower)
    count = len(arcs)
    forward = [in_turn(count, "A"), in_turn(count, "B")]
    for order in forward:
        if not any(gaps.missing(order)):
            return order
    if count <= EXACT_UP_TO:
        return _least(count, gaps)
    backward = [tuple(Turn(t.n, lead) for t in in_turn(count, other)) for lead, other in _ENDS]
    return min([*forward, *backward], key=lambda order: _short(gaps.missing(order)))


def any_short(
    order: Order, legs: Sequence[float], arcs: Sequence[float], clamp: float, follower: float
) -> bool:
    """Tell whether clamp or follower lack straight somewhere in an order; as `simplest_order`."""
    return any(_Gaps.between(legs, arcs, clamp, follower).missing(order))


_ENDS = (("A", "B"), ("B", "A"))


def _short(missing: list[float]) -> tuple[int, float]:
    return sum(one > 0 for one in missing), math.fsum(missing)


@dataclass(frozen=True, slots=True)
class _Gaps:
    """Where bends start and end along the part, in mm, and what must be straight beside each."""

    starts: list[float]
    ends: list[float]
    clamp: float
    follower: float

    @staticmethod
    def between(
        legs: Sequence[float], arcs: Sequence[float], clamp: float, follower: float
    ) -> "_Gaps":
        starts, ends, at = [], [], 0.0
        for leg, arc in zip(legs, arcs, strict=False):
            starts.append(at + leg)
            at += leg + arc
            ends.append(at)
        return _Gaps(starts, ends, clamp, follower)

    def toward_a(self, n: int, other: int, lead: str) -> float:
        """Straight missing between a bend and the one made before it toward A."""
        if other == 0:
            return 0.0
        return self._lacks(self.starts[n - 1] - self.ends[other - 1], lead == "A")

    def toward_b(self, n: int, other: int, lead: str) -> float:
        """Straight missing between a bend and the one made before it toward B."""
        if other > len(self.ends):
            return 0.0
        return self._lacks(self.starts[other - 1] - self.ends[n - 1], lead == "B")

    def _lacks(self, gap: float, clamped: bool) -> float:
        lacks = (self.clamp if clamped else self.follower) - gap
        return lacks if lacks > HAIR else 0.0

    def missing(self, order: Order) -> list[float]:
        """Straight missing at every step, toward A and toward B."""
        found = []
        for turn, (a, b) in zip(order, neighbours(order), strict=True):
            found += [self.toward_a(turn.n, a, turn.lead), self.toward_b(turn.n, b, turn.lead)]
        return found


# --- the least order, over sets of bends made -----------------------------------------------------
#
# What is straight beside a bend depends on which bends are made, not on how that came about. What
# handling costs depends on the bend made last and the end that led then. So the cheapest way to
# every set of made bends with every last bend is found from the sets with one bend less.
#
# A cost is one whole number, in fields from the weightiest down: straights too short, thousandths
# of a mm missing in all, changes of lead, moves past a neighbour, moves toward the lead end, bends
# led by B. None overflows into the next: 24 straights at most, and 16 steps.

_FIELD = 16
_BACK, _PASSED, _CHANGED = _FIELD, _FIELD**2, _FIELD**3
_MICRON = _FIELD**4
_MOST = 2**27
_SHORT = _MICRON * 2**32
_NEVER = 2**62


def _least(count: int, gaps: _Gaps) -> Order:
    """Find the order of least cost; state 2 (n - 1), + 1 when B leads, is the bend made last."""
    sets = np.arange(2**count)
    sizes = sum((sets >> bend) & 1 for bend in range(count))
    moves, steps = _moves(count), _steps(count, gaps)
    costs = np.full((2**count, 2 * count), _NEVER, dtype=np.int64)
    for size in range(count):
        layer = sets[sizes == size]
        for bend in range(count):
            before = layer[(layer >> bend) & 1 == 0]
            for new in (2 * bend, 2 * bend + 1):
                way = (costs[before] + moves[:, new]).min(axis=1) if size else 0
                costs[before | 1 << bend, new] = way + steps[before, new]
    return _traced(costs, moves)


def _traced(costs: Whole, moves: Whole) -> Order:
    """Follow the cheapest way back from the tube with all bends made."""
    made, states = len(costs) - 1, [int(np.argmin(costs[-1]))]
    while True:
        made &= ~(1 << states[-1] // 2)
        if not made:
            break
        states.append(int(np.argmin(costs[made] + moves[:, states[-1]])))
    return tuple(Turn(state // 2 + 1, "AB"[state % 2]) for state in reversed(states))


@cache
def _moves(count: int) -> Whole:
    """Cost of going from one bend, led by one end, to the next, led by the same or the other."""
    state = np.arange(2 * count)
    bend, lead = state // 2, state % 2
    step = bend[None, :] - bend[:, None]
    onward = np.where(lead == 0, 1, -1)[None, :]
    cost: Whole = (
        _CHANGED * (lead[:, None] != lead[None, :])
        + _PASSED * (np.abs(step) != 1)
        + _BACK * (step * onward < 0)
    )
    return cost


def _steps(count: int, gaps: _Gaps) -> Whole:
    """Cost (sets of bends made, state) of making one bend more, apart from how one comes there."""
    sets = np.arange(2**count)
    nearest_a = np.zeros((len(sets), count), dtype=np.int64)
    nearest_b = np.full((len(sets), count), count + 1, dtype=np.int64)
    for bend in range(1, count):
        nearest_a[:, bend] = np.where((sets >> (bend - 1)) & 1, bend, nearest_a[:, bend - 1])
        back = count - 1 - bend
        nearest_b[:, back] = np.where((sets >> (back + 1)) & 1, back + 2, nearest_b[:, back + 1])
    cost = np.zeros((len(sets), 2 * count), dtype=np.int64)
    others = range(count + 2)
    for state in range(2 * count):
        n, lead = state // 2 + 1, "AB"[state % 2]
        # a gap to a bend on the other side never comes up
        a = np.array([gaps.toward_a(n, other, lead) if other < n else 0.0 for other in others])
        b = np.array([gaps.toward_b(n, other, lead) if other > n else 0.0 for other in others])
        cost[:, state] = _priced(a)[nearest_a[:, n - 1]] + _priced(b)[nearest_b[:, n - 1]]
        cost[:, state] += lead == "B"
    return cost


def _priced(missing: NDArray[np.float64]) -> Whole:
    microns = np.minimum(np.ceil(missing * 1000), _MOST).astype(np.int64)
    priced: Whole = _SHORT * (missing > 0) + _MICRON * microns
    return priced


def changes_lead(order: Order) -> list[bool]:
    """Tell for each bend, in the order made, whether the tube is turned end for end before it."""
    return [False, *(before.lead != turn.lead for before, turn in pairwise(order))][: len(order)]
