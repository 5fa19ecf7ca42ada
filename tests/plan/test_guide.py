"""A tube made step by step comes out as planned, whatever the metal does at each pull."""

from dataclasses import replace

import pytest

from soapstone.errors import InputError
from soapstone.plan.guide import Event, after, fold, start, steps_of
from soapstone.plan.rescue.rescue import rescue
from tests.plan.rescue.test_rescue import planned


def make(plan, angle_at, rescuer=None, overshot="done"):
    """Go through a whole tube; `angle_at(bend, dial)` is what the metal measures."""
    state, dials = start(plan), []
    for _ in range(200):
        step = state.step
        if state.finished:
            return state, dials
        if step.kind == "measure":
            said = Event(state.number, "angle", angle_at(step.bend, step.dial))
        else:
            said = Event(state.number, overshot if step.kind == "overshot" else "done")
        dials += [(step.bend.n, step.dial)] if step.kind == "pull" else []
        state = after(state, said, plan, rescuer)
    raise AssertionError("the tube was never finished")


def true_angle(plan, springback, zero):
    return lambda bend, dial: (dial - zero) / (1 + springback)


def test_a_tube_that_bends_as_known_is_made_in_the_steps_told_at_the_start():
    plan = planned()
    state, _ = make(plan, lambda bend, dial: bend.angle)
    assert [one.n for one in state.made] == [turn.n for turn in plan.order]
    assert len(state.said) == len(steps_of(plan)) - 1
    assert state.plan == plan


@pytest.mark.parametrize("springback", [0.02, 0.06, 0.11])
@pytest.mark.parametrize("zero", [-1.0, 0.0, 1.0])
def test_every_bend_that_falls_short_is_brought_within_tolerance(springback, zero):
    plan = planned()
    back = plan.setup.calibration.springback
    state, dials = make(plan, true_angle(plan, back + springback, zero + 2 * plan.setup.dial_step))
    wanted = {bend.n: bend.angle for bend in plan.bends}
    for one in state.made:
        assert one.angle >= wanted[one.n] - plan.setup.tolerance - 1e-9
    for n in wanted:
        stops = [dial for number, dial in dials if number == n]
        assert stops == sorted(set(stops)), "each stop lies beyond the one before"


def test_a_step_confirmed_twice_is_refused_and_an_undo_takes_back_just_one():
    plan = planned()
    state = fold(plan, [Event(1, "done"), Event(2, "done")])
    with pytest.raises(InputError, match="step 2, but step 3"):
        after(state, Event(2, "done"), plan)
    back = after(state, Event(3, "undo"), plan)
    assert (back.todo, back.number) == (fold(plan, [Event(1, "done")]).todo, 4)
    again = after(back, Event(4, "undo"), plan)
    assert again.todo == steps_of(plan)
    with pytest.raises(InputError, match="nothing"):
        after(again, Event(5, "undo"), plan)


@pytest.mark.parametrize("angle", [None, float("nan"), -1.0, 360.0, float("inf")])
def test_what_cannot_be_an_angle_is_refused(angle):
    plan = planned()
    state = fold(plan, [Event(1, "done"), Event(2, "done"), Event(3, "done"), Event(4, "done")])
    assert state.step.kind == "measure"
    with pytest.raises(InputError):
        after(state, Event(5, "angle", angle), plan)
    with pytest.raises(InputError):
        after(state, Event(5, "done"), plan)
    with pytest.raises(InputError):
        after(state, Event(5, "rescue"), plan)


def test_after_an_overshot_bend_the_rescue_is_followed_to_an_end_that_lands():
    plan = planned()
    first = plan.bends[0]

    def metal(bend, dial):
        return bend.angle + 2.0 if bend.n == first.n else bend.angle

    def rescuer(made):
        return rescue(plan, made)

    offer = rescuer([fold_made(plan, first.n, 2.0)])
    state, _ = make(plan, metal, rescuer, "rescue" if offer.sound else "done")
    assert offer.sound
    assert state.plan == replace(offer.plan)
    assert {one.n: one.angle for one in state.made}[first.n] == first.angle + 2.0
    assert len(state.made) == len(plan.bends)


def fold_made(plan, n, over):
    """The bend `n` as the guide records it when it comes out too far by `over`."""
    state = start(plan)
    while state.step.kind != "overshot":
        bend = state.step.bend
        measure = state.step.kind == "measure"
        said = (
            Event(state.number, "angle", bend.angle + over)
            if measure
            else Event(state.number, "done")
        )
        state = after(state, said, plan)
    return next(one for one in state.made if one.n == n)
