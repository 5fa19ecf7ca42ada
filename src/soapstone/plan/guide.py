"""A tube made step by step: what to do now, given all that was confirmed so far.

The record is a list of events; the state is folded from it anew each time, so that what is kept of
a run is only what the fabricator said. Lengths in mm, angles in degrees.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from soapstone.errors import InputError
from soapstone.plan.model import BendStep, Cut, TubePlan
from soapstone.plan.rescue.model import MadeBend, Rescue
from soapstone.plan.stock import round_to

Kind: TypeAlias = Literal[
    "stock", "mark", "set up", "pull", "measure", "overshot", "cut", "check", "finished"
]
Said: TypeAlias = Literal["done", "angle", "undo", "rescue"]

Rescuer: TypeAlias = Callable[[Sequence[MadeBend]], Rescue]
"""Solves the rest of the tube anew from the bends made, as measured."""

SAME = 1e-9
"""Degrees by which an angle may pass the tolerance: noise in the last digits."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do.

    `bend` is the bend it is about, as planned; `dial` where to stop; `short` whether that is a
    stop to measure at before going on; `again` whether the bend is held in the die already or goes
    back into it. `measured` is the last angle measured. `cut` is the cut to make.
    """

    kind: Kind
    bend: BendStep | None = None
    dial: float | None = None
    short: bool = False
    again: bool = False
    measured: float | None = None
    cut: Cut | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """What the fabricator said of a step. `number` is the step's; `angle` what was measured."""

    number: int
    kind: Said
    angle: float | None = None


@dataclass(frozen=True, slots=True)
class State:
    """Where the making of a tube stands.

    `plan` is what is being worked to: the drawn one, or after a rescue the rescued one. `todo`
    are the steps left, the present one first. `made` are the bends made, in the order made.
    `number` is the present step's: it grows with all that is said, also when a step is taken back,
    so that one number never means two things.
    """

    plan: TubePlan
    todo: tuple[Step, ...]
    made: tuple[MadeBend, ...] = ()
    number: int = 1
    said: tuple[Event, ...] = ()

    @property
    def step(self) -> Step:
        """What to do now."""
        return self.todo[0]

    @property
    def finished(self) -> bool:
        """Whether nothing is left to do."""
        return self.step.kind == "finished"


def steps_of(plan: TubePlan) -> tuple[Step, ...]:
    """Give all steps of a tube from its plan, were every bend to come out at once."""
    marks = (Step("mark"),) if plan.bends else ()
    bends = (step for bend in plan.bends for step in _bend_steps(bend))
    return (Step("stock"), *marks, *bends, *_ending(plan))


def start(plan: TubePlan) -> State:
    """Give the state before anything is done."""
    return State(plan, steps_of(plan))


def fold(plan: TubePlan, events: Iterable[Event], rescuer: Rescuer | None = None) -> State:
    """Give the state after all events, in order.

    Raises
    ------
    InputError
        An event that does not fit the step it stands at.
    """
    state = start(plan)
    for event in events:
        state = after(state, event, plan, rescuer)
    return state


def after(state: State, event: Event, drawn: TubePlan, rescuer: Rescuer | None = None) -> State:
    """Give the state after one more event; `drawn` is the plan that the tube was begun with.

    Raises
    ------
    InputError
        The event is about another step than the present one, or says what cannot be said of it.
    """
    if event.number != state.number:
        raise InputError(
            f"{drawn.name}: this is about step {event.number}, but step {state.number} is to be "
            "done now; look again with --show"
        )
    if event.kind == "undo":
        if not state.said:
            raise InputError(f"{drawn.name}: nothing has been done yet that could be taken back")
        back = start(drawn)
        for said in state.said[:-1]:
            back = _said(back, said, drawn, rescuer)
        return replace(back, number=state.number + 1)
    return _said(replace(state, number=event.number), event, drawn, rescuer)


def _said(state: State, event: Event, drawn: TubePlan, rescuer: Rescuer | None) -> State:
    """Go on from the present step, whatever its number was when it was confirmed."""
    step = state.step
    if step.kind == "finished":
        raise InputError(f"{drawn.name}: the tube is finished")
    if event.kind == "rescue":
        moved = _rescued(state, drawn, rescuer)
    elif step.kind == "measure":
        moved = _measured(state, _angle(event, drawn.name))
    elif event.kind == "angle":
        raise InputError(f"{drawn.name}: no angle is to be measured now; look again with --show")
    else:
        moved = replace(state, todo=state.todo[1:])
    return replace(moved, number=event.number + 1, said=(*state.said, event))


def _angle(event: Event, name: str) -> float:
    angle = event.angle
    if event.kind != "angle" or angle is None:
        raise InputError(
            f"{name}: the bend's angle is needed now: measure it, and say --angle 44.5"
        )
    if not (math.isfinite(angle) and 0 <= angle < 360):
        raise InputError(f"{name}: the angle: expected degrees from 0 to below 360")
    return angle


def _measured(state: State, angle: float) -> State:
    """Take an angle after release: the bend is made, must go on, or has gone too far."""
    bend, dial = state.step.bend, state.step.dial
    assert bend is not None
    assert dial is not None
    setup, rest = state.plan.setup, state.todo[1:]
    short = bend.angle - angle
    if short > setup.tolerance + SAME:
        stop = _next_stop(bend, dial, angle, state.plan)
        again = (
            Step("pull", bend, stop, again=True, measured=angle),
            Step("measure", bend, stop, measured=angle),
        )
        return replace(state, todo=(*again, *rest))
    one = MadeBend(bend.n, angle, roll=bend.roll, dial=dial, mark=bend.stock_mark)
    others = tuple(other for other in state.made if other.n != bend.n)
    before = [other.n for other in state.made]
    at = before.index(bend.n) if bend.n in before else len(before)
    made = (*others[:at], one, *others[at:])
    if short >= -setup.tolerance - SAME:
        return replace(state, todo=rest, made=made)
    over = Step("overshot", bend, dial, measured=angle)
    return replace(state, todo=(over, *rest), made=made)


def _next_stop(bend: BendStep, dial: float, angle: float, plan: TubePlan) -> float:
    """Where to stop next, on the dial's graduations unless that would not move the die."""
    setup = plan.setup
    if angle <= 0:
        return max(bend.dial_stop, dial)
    exact = setup.calibration.second_stop(dial, angle, bend.angle)
    whole = float(round_to(np.asarray(exact), setup.dial_step))
    return whole if whole > dial else exact


def _rescued(state: State, drawn: TubePlan, rescuer: Rescuer | None) -> State:
    """Go on by the rescue's plan: bends taken further first, then the rest, its cuts and checks."""
    if state.step.kind != "overshot" or rescuer is None:
        raise InputError(f"{drawn.name}: no rescue is on offer now; look again with --show")
    offer = rescuer(state.made)
    if not offer.sound:
        raise InputError(
            f"{drawn.name}: no rescue makes this tube land; keep it as it is or begin anew"
        )
    by_number = {bend.n: bend for bend in offer.plan.bends}
    again = (
        step
        for one in offer.further
        for step in (
            Step("pull", by_number[one.n], one.dial_stop, again=True, measured=one.angle_now),
            Step("measure", by_number[one.n], one.dial_stop),
        )
    )
    marks = (Step("mark"),) if offer.rest else ()
    bends = (step for bend in offer.rest for step in _bend_steps(bend))
    todo = (*again, *marks, *bends, *_ending(offer.plan))
    return replace(state, plan=offer.plan, todo=todo)


def _bend_steps(bend: BendStep) -> tuple[Step, Step, Step]:
    short = bend.first_stop is not None
    stop = bend.dial_stop if bend.first_stop is None else bend.first_stop
    pull = Step("pull", bend, stop, short=short)
    return Step("set up", bend), pull, Step("measure", bend, stop, short=short)


def _ending(plan: TubePlan) -> tuple[Step, ...]:
    cuts = (Step("cut", cut=cut) for cut in plan.cuts if cut.offcut > 0)
    checks = (Step("check"),) if plan.bends else ()
    return (*cuts, *checks, Step("finished"))
