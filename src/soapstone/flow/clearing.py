"""Orders in which nothing is hit in the bender: the planned one where it is free, else another.

A tube and its mirror image share one order if there is one that is free for both, since then they
share a sheet; the bender is not mirrored, so one hand may hit what the other does not.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import TypeAlias

from soapstone.bench.model import Bench
from soapstone.bend.cures import cure_words, cures
from soapstone.bend.machine import Machine, machine_for
from soapstone.bend.order import Checks, State, Step, best_order, is_free, steps_in
from soapstone.bend.pose import stick_of
from soapstone.bend.review import step_findings
from soapstone.findings import Finding, Say, stops
from soapstone.job.model import Job
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.plan.order import Order, Turn, order_words

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
    and the places in the job of those that are known to hit nothing.
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
            if all(_is_free(plan, where) for plan in plans):
                free.update(members)
                settled.update(members)
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
    if both := _turns(best_order(sticks[0], where, also=sticks[1:]).steps):
        found = [both] * len(plans)
    elif len(plans) == 1:
        return None
    else:
        alone = [_turns(best_order(stick, where).steps) for stick in sticks]
        found = [new or plan.order for new, plan in zip(alone, plans, strict=True)]
    return found if found != [plan.order for plan in plans] else None


def _turns(steps: Sequence[Step]) -> Order:
    return tuple(Turn(step.n, step.lead) for step in steps)


def states_in(plan: TubePlan) -> list[State]:
    """Give the bends of a plan in the order made, with the end that leads."""
    return [(step.n, step.lead) for step in plan.bends]


def _is_free(plan: TubePlan, where: Machine) -> bool:
    return is_free(Checks(stick_of(plan), where, 0.0), states_in(plan))


def bender_findings(plan: TubePlan, bench: Bench, fixed: bool, say: Say) -> list[Finding]:
    """Say what a planned tube hits in the bender, and what would cure it.

    `fixed` tells whether its order is fixed by hand.
    """
    where, stick = machine_for(plan.setup, bench.bender), stick_of(plan)
    checks, states = Checks(stick, where, 0.0), states_in(plan)
    if not states or is_free(checks, states):
        return []
    steps = steps_in(checks, states)
    found = step_findings(plan.name, steps, say=say)
    if not stops(found):
        return found
    best = best_order(stick, where)
    if best.steps:
        mend = f"in the order {order_words(_turns(best.steps))} nothing is hit"
        mend += ": leave out order and lead of this tube" if fixed else ""
    elif not best.whole:
        mend = "no order was found in which nothing is hit, but not all were tried"
    else:
        mend = cure_words(cures(stick, plan.setup, bench.bender, say))
    return step_findings(plan.name, steps, say=say, mend=mend)
