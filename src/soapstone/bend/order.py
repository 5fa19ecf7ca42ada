"""The order in which a tube's bends are made with the least handling, without hitting anything.

Costs are those of `handling`, what is hit is found by `steps`, and `search` weighs every order.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, pi
from typing import TypeAlias

import numpy as np

from soapstone.bend.clash import Near, bend_nears, feed_nears, roll_before, roll_nears
from soapstone.bend.handling import (
    USUAL,
    State,
    Weights,
    has_straight,
    move_cost,
    states_of,
    step_costs,
)
from soapstone.bend.machine import Machine
from soapstone.bend.pose import Stick, swing_axis
from soapstone.geometry.vectors import Array
from soapstone.plan.rolls import LEAST_SHARPNESS, LEVEL_LIKES, LEVEL_NEEDS

EXACT_UP_TO = 14
"""Bends up to which every order is weighed; of more, only those in turn, from both ends."""

MOST_BENDS = 60
"""Bends of the longest tube that is held against a bender."""

MOST_LOOKS = 400_000
"""Motions of one end held against the bender in one search; then it is given up."""

Made: TypeAlias = Collection[int]


@dataclass(frozen=True, slots=True)
class Held:
    """A step of an order, held against the bender.

    `free` tells whether the bend is made clear of everything; `roll` and `lifted` as in `Step`.
    """

    n: int
    lead: str
    free: bool
    roll: float | None
    lifted: bool


@dataclass(frozen=True, slots=True)
class Step:
    """One bend of an order: what it comes nearest to, and how it is rolled.

    `n` counts from the A end; `lead` is "A" or "B". `roll` is in degrees, clockwise seen from the
    tail looking at the die, the way round that is free: it may be over 180 or under -180. It is
    None for a tube laid in anew: at first, turned end for end, carried past a bend, or where it is
    not free to be fed on and rolled (then `lifted`). `nears` are the least gaps, one for each
    thing, part and motion.
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
    """The best order, its cost; no order when none is free of clashes.

    `whole` tells whether every order was weighed; if not, there may be a better one, or one at all.
    """

    order: tuple[State, ...]
    cost: float
    whole: bool = True


def best_order(
    stick: Stick,
    where: Machine,
    wanted: float = 0.0,
    weights: Weights = USUAL,
    also: Sequence[Stick] = (),
    most: int = MOST_LOOKS,
) -> Best:
    """Find the order of least cost in which the tube keeps `wanted` mm off everything.

    `also` are tubes that must be free in the same order, as the mirror image of this one: the
    bender is not mirrored. Exact up to `EXACT_UP_TO` bends; of more, the better of the two orders
    in turn is given if it is free, and `whole` is false. So it is when `most` motions of one end
    have been held against the machine; then no order is given.
    """
    bends = len(stick.angles)
    if not bends:
        return Best((), 0.0)
    if bends > EXACT_UP_TO:
        return _in_turn((stick, *also), where, wanted, weights)
    from soapstone.bend.ends import look_of_ends
    from soapstone.bend.search import Shop, find_order

    tubes = np.array([_rows(one) for one in (stick, *also)])
    stocks = np.array([one.stock for one in (stick, *also)])
    things, sizes = bender_rows(where, wanted)
    ends = look_of_ends(tubes[0], stick.stock, sizes, LEVEL_NEEDS, LEVEL_LIKES, LEAST_SHARPNESS)
    states = states_of(bends)
    moves = np.array([[move_cost(stick, a, b, weights) for b in states] for a in states])
    steps = step_costs(stick, where, ends, weights)
    shop = Shop(tubes, stocks, things, sizes, weights.lifted, weights.rolled / (pi / 2))
    path, cost, whole = find_order(shop, moves, steps, most)
    return Best(tuple(states[state] for state in path), float(cost), bool(whole))


def _in_turn(sticks: Sequence[Stick], where: Machine, wanted: float, weights: Weights) -> Best:
    bends, found = len(sticks[0].angles), [Best((), inf, whole=False)]
    if bends > MOST_BENDS:
        return found[0]
    for lead in "AB":
        numbers = range(1, bends + 1) if lead == "A" else range(bends, 0, -1)
        order = tuple((n, lead) for n in numbers)
        held = [step for stick in sticks for step in hold(stick, where, order, wanted)]
        room = all(
            has_straight(sticks[0], numbers[:i], n, lead, where.clamp, where.follower)
            for i, n in enumerate(numbers)
        )
        if room and all(step.free for step in held):
            cost = sum(move_cost(sticks[0], a, b, weights) for a, b in pairwise(order))
            cost += weights.lifted * sum(step.lifted for step in held)
            found.append(Best(order, cost + weights.led_by_b * (lead == "B"), whole=False))
    return min(found, key=lambda best: best.cost)


def _rows(stick: Stick) -> Array:
    """Bring a tube into the array of `laying.lay`."""
    planes = np.cumsum(np.radians((0.0, *stick.rotations[1:])))
    free, loaded = np.radians(stick.angles), np.radians(stick.loaded)
    return np.column_stack([stick.arc_from, stick.arc_to, free, loaded, planes, stick.radii])


def bender_rows(where: Machine, wanted: float) -> tuple[Array, Array]:
    """Bring a bender into the arrays of `steps`."""
    targets = [thing.packed.target for thing in (*where.obstacles, where.die)]
    things = np.array([[target.kind, *target.shape] for target in targets], dtype=float)
    sizes = (where.od, where.clamp, where.follower, where.clr, wanted, *where.side)
    return things, np.array([*sizes, *swing_axis(where.side)])


def hold(stick: Stick, where: Machine, order: Sequence[State], wanted: float = 0.0) -> list[Held]:
    """Hold the steps of an order against the bender, every one, whatever the others hit.

    None of a tube of more than `MOST_BENDS` bends.
    """
    if not order or len(stick.angles) > MOST_BENDS:
        return []
    look, held, made = Look(stick, where, wanted), list[Held](), list[int]()
    for n, lead in order:
        roll, lifted = None, False
        if held and held[-1].lead == lead:
            roll, lifted = look.roll(made[:-1], made[-1], n, lead)
        held.append(Held(n, lead, look.bend(made, n, lead), roll, lifted))
        made.append(n)
    return held


class Look:
    """A tube held against a bender, step by step."""

    def __init__(self, stick: Stick, where: Machine, wanted: float) -> None:
        self.stick, self.rows = stick, _rows(stick)
        self.things, self.sizes = bender_rows(where, wanted)

    def _clear(self, made: Made, last: int, n: int, lead: str, *motions: int) -> bool:
        from soapstone.bend.steps import motion_clear

        bits, led_by_a = sum(1 << (m - 1) for m in made), lead == "A"
        return all(
            motion_clear(
                self.rows,
                self.stick.stock,
                bits,
                last - 1,
                n - 1,
                led_by_a,
                motion,
                self.things,
                self.sizes,
            )
            for motion in motions
        )

    def bend(self, made: Made, n: int, lead: str) -> bool:
        """Tell whether bend `n` is made clear of everything."""
        from soapstone.bend.steps import DRAWN, OWN, SWUNG

        return self._clear(made, n, n, lead, DRAWN, SWUNG, OWN)

    def roll(self, made: Made, last: int, n: int, lead: str) -> tuple[float | None, bool]:
        """Give the roll from bend `last`, `made` before it, and whether it must be lifted out."""
        from soapstone.bend import steps as motions

        if any(min(last, n) < m < max(last, n) for m in made):
            return None, False
        made, short = (*made, last), roll_before(self.stick, last, n, lead)
        onward = (n > last) == (lead == "A")
        if onward and not self._clear(made, last, n, lead, motions.LEAD_FED, motions.TAIL_FED):
            return None, True
        near, far = motions.LEAD_ROLLED, motions.LEAD_ROLLED_FAR
        if not short or self._clear(made, last, n, lead, near, motions.TAIL_ROLLED):
            return short, False
        if self._clear(made, last, n, lead, far, motions.TAIL_ROLLED_FAR):
            return short - 360 if short > 0 else short + 360, False
        return None, True


def steps_in(
    stick: Stick, where: Machine, order: Sequence[State], wanted: float = 0.0
) -> tuple[Step, ...]:
    """Hold the steps of an order against the machine, free or not, and find all the gaps."""
    steps, made = [], list[int]()
    for held in hold(stick, where, order, wanted):
        nears: list[Near] = []
        n, lead = held.n, held.lead
        if held.roll is not None:
            if (n > made[-1]) == (lead == "A"):
                nears += feed_nears(stick, made, made[-1], n, lead, where, held.roll)
            nears += roll_nears(stick, made, n, lead, where, held.roll)
        nears += bend_nears(stick, made, n, lead, where)
        steps.append(Step(n, lead, held.roll, held.lifted, tuple(nears)))
        made.append(n)
    return tuple(steps)
