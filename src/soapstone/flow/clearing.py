"""Orders in which nothing is hit in the bender: the planned one where it is free, else another.

A tube and its mirror image share one order if there is one that is free for both, since then they
share a sheet; the bender is not mirrored, so one hand may hit what the other does not.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from soapstone.bench.model import Bench
from soapstone.bend.cures import cure_words, cures
from soapstone.bend.glance import glance
from soapstone.bend.handling import State, has_straight
from soapstone.bend.machine import Machine, machine_for
from soapstone.bend.order import MOST_BENDS, Held, best_order, hold, steps_in
from soapstone.bend.pose import Stick, stick_of
from soapstone.bend.review import step_findings
from soapstone.findings import Finding, Say, stops
from soapstone.geometry.compiled import is_loaded
from soapstone.job.model import Job
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.plan.order import Order, Turn, in_turn, order_words

ROUNDS = 3
"""How often a tube is planned anew: another order may need other grip, and so other stock."""

Planned: TypeAlias = TubePlan | Unplanned
Again: TypeAlias = Callable[[Mapping[int, Order]], Sequence[Planned]]
"""Plans a job anew, some tubes, by their place in the job, in another order."""


def clear_orders(
    job: Job, bench: Bench, planned: Sequence[Planned], fixed: Sequence[bool], again: Again
) -> tuple[Sequence[Planned], set[int]]:
    """Plan tubes that hit something in the bender anew, in an order that is free if there is one.

    `fixed` tells of each tube whether its order is fixed by hand; then it stays. Gives the plans,
    and the places in the job of those that are known to hit nothing, and are rolled the short way.
    """
    orders: dict[int, Order] = {}
    settled: set[int] = set()
    free: set[int] = set()
    for _ in range(ROUNDS):
        new: dict[int, Order] = {}
        for members in _hands(job, planned, fixed):
            if settled.issuperset(members):
                continue
            plans = [tube for i in members if isinstance(tube := planned[i], TubePlan)]
            where = machine_for(plans[0].setup, bench.bender)
            seen = [_seen(stick_of(plan), where, states_in(plan)) for plan in plans]
            if False not in seen:
                free.update(i for i, plain in zip(members, seen, strict=True) if plain)
                settled.update(members)
            elif plain := _in_turn(plans, where):
                new.update((i, plain) for i in members)
            elif found := _orders(plans, where):
                new.update(zip(members, found, strict=True))
            else:
                settled.update(members)
        if not new:
            break
        orders |= new
        planned = again(orders)
    return planned, free


def _hands(job: Job, planned: Sequence[Planned], fixed: Sequence[bool]) -> list[list[int]]:
    """Places of the tubes that may be bent in one order, whichever it is: a tube and its images."""
    hands: dict[tuple[str, int], list[int]] = defaultdict(list)
    for i, tube in enumerate(planned):
        if isinstance(tube, TubePlan) and tube.bends and not fixed[i]:
            hands[_drawn(job, tube.name), id(tube.setup)].append(i)
    return list(hands.values())


def _drawn(job: Job, name: str) -> str:
    """Name of the tube that a tube is an image of, or an image of an image."""
    while (mirror := job.tube(name).mirror) is not None:
        name = mirror.of
    return name


def _orders(plans: Sequence[TubePlan], where: Machine) -> list[Order] | None:
    """Give each hand a new order, or None where the orders they have are to stay."""
    sticks = [stick_of(plan) for plan in plans]
    if both := _turns(best_order(sticks[0], where, also=sticks[1:]).order):
        found = [both] * len(plans)
    elif len(plans) == 1:
        return None
    else:
        alone = [_turns(best_order(stick, where).order) for stick in sticks]
        found = [new or plan.order for new, plan in zip(alone, plans, strict=True)]
    return found if found != [plan.order for plan in plans] else None


def _in_turn(plans: Sequence[TubePlan], where: Machine) -> Order | None:
    """Give the order in turn from one end that is certain to do for every hand, if one is.

    All bends in turn is the least handling there is, and told without weighing all orders.
    """
    sticks = [stick_of(plan) for plan in plans]
    for lead in "AB":
        order = in_turn(len(plans[0].bends), lead)
        states = [(turn.n, turn.lead) for turn in order]
        room = all(
            has_straight(sticks[0], [m for m, _ in states[:i]], n, end, where.clamp, where.follower)
            for i, (n, end) in enumerate(states)
        )
        if room and all(_seen(stick, where, states) for stick in sticks):
            return order
    return None


def _turns(order: Sequence[State]) -> Order:
    return tuple(Turn(n, lead) for n, lead in order)


def states_in(plan: TubePlan) -> list[State]:
    """Give the bends of a plan in the order made, with the end that leads."""
    return [(step.n, step.lead) for step in plan.bends]


def _seen(stick: Stick, where: Machine, order: Sequence[State]) -> bool | None:
    """Tell whether an order hits nothing; None where it does so rolled the long way somewhere.

    None too for more bends than are looked at.

    What is sure at a glance is told without the compiler, which takes a second to load; once it is
    there, looking closely is the quicker way to the same answer.
    """
    sure = None if is_loaded() else glance(stick, where, order)
    if sure is not None:
        return sure
    steps = hold(stick, where, order)
    if steps and _is_plain(steps):
        return True
    return None if all(step.free and not step.lifted for step in steps) else False


def _is_plain(steps: Sequence[Held]) -> bool:
    """Whether nothing is hit, the tube need not be lifted out, and is rolled the short way."""
    return all(step.free and not step.lifted and not is_far(step.roll) for step in steps)


def is_far(roll: float | None) -> bool:
    """Whether a roll is the long way round."""
    return roll is not None and not -180 < roll <= 180


def held_to_bender(plan: TubePlan, bench: Bench, fixed: bool, say: Say) -> TubePlan:
    """Hold a planned tube against the bender: which way round it is rolled, and what it hits.

    What it hits goes to its problems, with what would cure it; rolls go the way round that is free.
    `fixed` tells whether its order is fixed by hand.
    """
    where, stick, states = machine_for(plan.setup, bench.bender), stick_of(plan), states_in(plan)
    held = hold(stick, where, states)
    if len(states) > MOST_BENDS:
        what = f"more than {MOST_BENDS} bends are not held against the bender"
        doubt = Finding("warn", plan.name, what, "watch what it comes near to at each step")
        return replace(plan, problems=(*plan.problems, doubt))
    if _is_plain(held):
        return plan
    bends = [
        replace(bend, roll=step.roll) if step.roll is not None and is_far(step.roll) else bend
        for bend, step in zip(plan.bends, held, strict=True)
    ]
    steps = steps_in(stick, where, states)
    found = step_findings(plan.name, steps, say=say)
    if stops(found):
        found = step_findings(plan.name, steps, say=say, mend=_mend(plan, stick, bench, fixed, say))
    return replace(plan, bends=tuple(bends), problems=(*plan.problems, *found))


def _mend(plan: TubePlan, stick: Stick, bench: Bench, fixed: bool, say: Say) -> str:
    """Say what would cure a tube that hits something in its order."""
    best = best_order(stick, machine_for(plan.setup, bench.bender))
    if best.order:
        mend = f"in the order {order_words(_turns(best.order))} nothing is hit"
        return mend + (": leave out order and lead of this tube" if fixed else "")
    if not best.whole:
        return "no order was found in which nothing is hit, but not all were tried"
    return cure_words(cures(stick, plan.setup, bench.bender, say))
