"""The order in which a tube's bends are made with the least handling, without hitting anything.

What handling costs depends on the bend made last and the end that led then; what the tube hits, on
the set of bends made. So the least cost to go from every set is found first, as if nothing were in
the way (Bellman's recursion over subsets; Held and Karp 1962, from memory); then orders are
followed best first with that as the bound, and held against the machine only so far.
"""

import heapq
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import count as counter
from itertools import pairwise
from math import inf

import numpy as np

from soapstone.bend.clash import (
    Near,
    Passing,
    bend_nears,
    lead_passings,
    own_passings,
    roll_before,
    roll_nears,
    roll_passings,
    tail_passings,
)
from soapstone.bend.machine import Machine
from soapstone.bend.pose import Stick, beyond, other_end
from soapstone.geometry.vectors import Array

EXACT_UP_TO = 12
"""Bends up to which every order is weighed."""

MOST_CHECKS = 15_000
"""Parts of steps held against the machine in one search; then it is given up."""

HAIR = 1e-6
"""mm that no tape shows."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What handling costs, in any one unit.

    `turned` end for end; a roll of other than 0, 90 or 180 degrees; going past a neighbouring bend;
    going back toward the lead end; led by the B end; lifted out of the die, since it cannot be
    rolled there.
    """

    turned: float = 10.0
    awkward: float = 0.5
    past: float = 3.0
    back: float = 2.0
    led_by_b: float = 0.01
    lifted: float = 5.0


USUAL = Weights()


@dataclass(frozen=True, slots=True)
class Step:
    """One bend of an order: what it comes nearest to, and how it is rolled.

    `n` counts from the A end; `lead` is "A" or "B". `roll` is in degrees, clockwise seen from the
    tail looking at the die, the way round that is free: it may be over 180 or under -180. It is
    None for a tube laid in anew: at first, turned end for end, carried past a bend, or where no way
    round is free (then `lifted`). `nears` are the least gaps, one for each thing, part and motion.
    """

    n: int
    lead: str
    roll: float | None
    lifted: bool
    nears: tuple[Near, ...]

    @property
    def nearest(self) -> Near | None:
        """What it comes nearest to; None when there is nothing about."""
        return min(self.nears, key=lambda near: near.gap, default=None)


@dataclass(frozen=True, slots=True)
class Best:
    """The best order: its steps, and its cost; no steps when none is free of clashes.

    `whole` tells whether every order was weighed; if not, there may be a better one, or one at all.
    """

    steps: tuple[Step, ...]
    cost: float
    whole: bool = True


State = tuple[int, str]


def states_of(bends: int) -> list[State]:
    """Give every bend with either end leading; 2 (n - 1), + 1 when B leads."""
    return [(n, lead) for n in range(1, bends + 1) for lead in "AB"]


def move_cost(stick: Stick, before: State, after: State, weights: Weights = USUAL) -> float:
    """What it costs to go from one bend to the next, clashes apart."""
    cost = weights.led_by_b if after[1] == "B" else 0.0
    step = after[0] - before[0]
    if abs(step) != 1:
        cost += weights.past
    if (step > 0) != (after[1] == "A"):
        cost += weights.back
    if before[1] != after[1]:
        return cost + weights.turned
    turned = sum(stick.rotations[min(before[0], after[0]) : max(before[0], after[0])])
    off = abs((turned + 45) % 90 - 45)
    return cost + (weights.awkward if off > 0.05 else 0.0)


def has_straight(
    stick: Stick, made: Iterable[int], n: int, lead: str, clamp: float, follower: float
) -> bool:
    """Whether clamp and follower find straight; at the ends it is there, since grip is added."""
    toward_a = max((m for m in made if m < n), default=0)
    toward_b = min((m for m in made if m > n), default=0)
    a, b = (clamp, follower) if lead == "A" else (follower, clamp)
    short_a = toward_a and stick.arc_from[n - 1] - stick.arc_to[toward_a - 1] < a - HAIR
    short_b = toward_b and stick.arc_from[toward_b - 1] - stick.arc_to[n - 1] < b - HAIR
    return not (short_a or short_b)


def best_order(
    stick: Stick,
    where: Machine,
    wanted: float = 0.0,
    weights: Weights = USUAL,
    also: Sequence[Stick] = (),
    most: int = MOST_CHECKS,
) -> Best:
    """Find the order of least cost in which the tube keeps `wanted` mm off everything.

    `also` are tubes that must be free in the same order, as the mirror image of this one: the
    bender is not mirrored. The steps are those of `stick`. Exact up to `EXACT_UP_TO` bends; of
    more, none is found, and `whole` is false. So it is when `most` parts of steps have been held
    against the machine.
    """
    bends = len(stick.angles)
    if not bends:
        return Best((), 0.0)
    if bends > EXACT_UP_TO:
        return Best((), inf, whole=False)
    return _Search([Checks(one, where, wanted) for one in (stick, *also)], weights, most).run()


@dataclass(eq=False)
class Checks:
    """Steps held against the machine: clear by `wanted` mm or not, each once."""

    stick: Stick
    where: Machine
    wanted: float
    known: dict[tuple[object, ...], bool] = field(default_factory=dict)

    def bend(self, made: Collection[int], n: int, lead: str) -> bool:
        """Tell whether a bend can be made with nothing in the way."""
        ahead, behind = beyond(made, n, lead), beyond(made, n, other_end(lead))
        return (
            self._free("tail", tail_passings, behind, n, lead)
            and self._free("lead", lead_passings, ahead, n, lead)
            and self._free("own", own_passings, (*ahead, *behind), n, lead)
        )

    def roll(
        self, made: Collection[int], last: int, n: int, lead: str
    ) -> tuple[float | None, bool]:
        """Give the roll that is free, and whether there is one or none is needed."""
        short = roll_before(self.stick, [m for m in made if m != last], last, n, lead)
        if short is None:
            return None, True
        ends = (("lead", beyond(made, n, lead)), ("tail", beyond(made, n, other_end(lead))))
        for turn in (short, short - 360 if short > 0 else short + 360):
            if all(
                self._free("roll", roll_passings, bends, n, lead, part, turn)
                for part, bends in ends
            ):
                return turn, True
        return None, False

    def _free(
        self,
        kind: str,
        passings: Callable[..., Iterable[Passing]],
        made: tuple[int, ...],
        n: int,
        lead: str,
        *more: object,
    ) -> bool:
        """Weigh what a part of the tube comes past; it hangs on the bends made in that part."""
        key = (kind, made, n, lead, *more)
        if key not in self.known:
            met = passings(self.stick, made, n, lead, self.where, *more)
            self.known[key] = all(passing.clears(self.wanted) for passing in met)
        return self.known[key]


def is_free(checks: Checks, order: Sequence[State]) -> bool:
    """Whether nothing is hit in an order, and every roll can go the short way round."""
    made = frozenset[int]()
    before: list[State | None] = [None, *order[:-1]]
    for (n, lead), last in zip(order, before, strict=True):
        if not checks.bend(made, n, lead):
            return False
        if last is not None and last[1] == lead:
            turn, free = checks.roll(made, last[0], n, lead)
            if not free or (turn is not None and not -180 < turn <= 180):
                return False
        made = made | {n}
    return True


class _Search:
    """Best first over sets of bends made, last bend and end that led."""

    def __init__(self, checks: Sequence[Checks], weights: Weights, most: int) -> None:
        self.checks, self.weights, self.most = checks, weights, most
        stick, where = checks[0].stick, checks[0].where
        self.states = states_of(len(stick.angles))
        self.moves = np.array(
            [[move_cost(stick, one, two, weights) for two in self.states] for one in self.states]
        )
        self.first = np.array([weights.led_by_b * (lead == "B") for _, lead in self.states])
        self.steps = _room_costs(stick, where, self.states)
        self.to_go = _costs_to_go(self.moves, self.steps)
        self.ticket = counter()
        self.heap: list[tuple[float, int, float, int, tuple[int, ...], bool]] = []

    def run(self) -> Best:
        """Follow orders, the most promising first."""
        full, settled = len(self.to_go) - 1, set[tuple[int, int]]()
        for state in range(len(self.states)):
            self._offer(self.first[state] + self.steps[0, state], 1 << state // 2, (state,))
        while self.heap:
            _, _, cost, made, path, checked = heapq.heappop(self.heap)
            if (made, path[-1]) in settled:
                continue
            if len(self.checks[0].known) > self.most:
                return Best((), inf, whole=False)
            extra = 0.0 if checked else self._extra(path)
            if extra:
                self._offer(cost + extra, made, path, checked=True)
                continue
            if made == full:
                return Best(self._steps(path), cost)
            settled.add((made, path[-1]))
            self._go_on(cost, made, path)
        return Best((), inf)

    def _go_on(self, cost: float, made: int, path: tuple[int, ...]) -> None:
        for new in range(len(self.states)):
            if not made >> new // 2 & 1:
                step = self.moves[path[-1], new] + self.steps[made, new]
                self._offer(cost + step, made | 1 << new // 2, (*path, new))

    def _offer(
        self, cost: float, made: int, path: tuple[int, ...], *, checked: bool = False
    ) -> None:
        bound = cost + self.to_go[made, path[-1]]
        if bound < inf:
            heapq.heappush(self.heap, (bound, next(self.ticket), cost, made, path, checked))

    def _extra(self, path: tuple[int, ...]) -> float:
        """What the machine adds to the cost of an order's last step: no end of it for a clash."""
        made = frozenset(self.states[state][0] for state in path[:-1])
        n, lead = self.states[path[-1]]
        if not all(checks.bend(made, n, lead) for checks in self.checks):
            return inf
        if len(path) == 1 or self.states[path[-2]][1] != lead:
            return 0.0
        last = self.states[path[-2]][0]
        free = all(checks.roll(made, last, n, lead)[1] for checks in self.checks)
        return 0.0 if free else self.weights.lifted

    def _steps(self, path: tuple[int, ...]) -> tuple[Step, ...]:
        return steps_in(self.checks[0], [self.states[state] for state in path])


def steps_in(checks: Checks, order: Sequence[State]) -> tuple[Step, ...]:
    """Hold the steps of an order against the machine, free or not, and find all the gaps."""
    steps, made = [], frozenset[int]()
    stick, where = checks.stick, checks.where
    before: list[State | None] = [None, *order[:-1]]
    for (n, lead), last in zip(order, before, strict=True):
        roll: float | None = None
        nears: list[Near] = []
        free = True
        if last is not None and last[1] == lead:
            roll, free = checks.roll(made, last[0], n, lead)
        if roll is not None:
            nears += roll_nears(stick, made, n, lead, where, roll)
        nears += bend_nears(stick, made, n, lead, where)
        steps.append(Step(n, lead, roll, not free, tuple(nears)))
        made = made | {n}
    return tuple(steps)


def order_cost(stick: Stick, order: list[State], weights: Weights = USUAL) -> float:
    """Cost of an order without what lifting adds."""
    first = weights.led_by_b if order and order[0][1] == "B" else 0.0
    return first + sum(move_cost(stick, one, two, weights) for one, two in pairwise(order))


def _room_costs(stick: Stick, where: Machine, states: list[State]) -> Array:
    """0 where clamp and follower find straight, else infinite: (sets of bends made, state)."""
    bends = len(stick.angles)
    costs = np.full((2**bends, len(states)), inf)
    for i, (n, lead) in enumerate(states):
        room = np.zeros((n, bends - n + 1), dtype=bool)
        for a in range(n):
            for b in range(n + 1, bends + 2):
                beside = [m for m in (a, b) if 1 <= m <= bends]
                room[a, b - n - 1] = has_straight(
                    stick, beside, n, lead, where.clamp, where.follower
                )
        sets = np.arange(2**bends)
        near_a, near_b = np.zeros_like(sets), np.full_like(sets, bends + 1)
        for m in range(1, n):
            near_a = np.where(sets >> (m - 1) & 1, m, near_a)
        for m in range(bends, n, -1):
            near_b = np.where(sets >> (m - 1) & 1, m, near_b)
        free = room[near_a, near_b - n - 1] & (sets >> (n - 1) & 1 == 0)
        costs[:, i] = np.where(free, 0.0, inf)
    return costs


def _costs_to_go(moves: Array, steps: Array) -> Array:
    """Least cost (set of bends made, state made last) to make the rest, nothing in the way."""
    sets = np.arange(len(steps))
    bends = len(moves) // 2
    sizes = sum((sets >> bend) & 1 for bend in range(bends))
    to_go = np.zeros_like(steps)
    for size in range(bends - 1, 0, -1):
        layer = sets[sizes == size]
        onward = np.empty((len(layer), len(moves)))
        for state in range(len(moves)):
            onward[:, state] = steps[layer, state] + to_go[layer | 1 << state // 2, state]
        to_go[layer] = (moves[None] + onward[:, None]).min(axis=-1)
    return to_go
