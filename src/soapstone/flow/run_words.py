"""A step of a run in words and numbers, as a fabricator says them."""

from collections.abc import Sequence

from soapstone.check.inspect.choosing import CheckDistance
from soapstone.findings import stops
from soapstone.plan.guide import State, Step
from soapstone.plan.model import BendStep, TubePlan
from soapstone.plan.rescue.model import Rescue
from soapstone.quantities import Units, format_angle, format_fine, format_length
from soapstone.sheets.words import clock_words, level_words, roll_words, turn_words


def step_words(
    state: State, units: Units, distances: Sequence[CheckDistance], offer: Rescue | None
) -> tuple[str, ...]:
    """Say what to do now, a line each; the first line is the step's title."""
    step, plan = state.step, state.plan
    if step.bend is not None:
        return _at_bend(step, step.bend, plan, offer, units)
    if step.kind == "check":
        lines = (f"{d.start} to {d.end}: {format_fine(d.length, units)}" for d in distances)
        return ("Check with the tape, outside to outside", *lines)
    return _on_stick(state, units)


def _on_stick(state: State, units: Units) -> tuple[str, ...]:
    step, plan = state.step, state.plan

    def tape(mm: float) -> str:
        return format_length(mm, units, plan.setup.tape)

    if step.kind == "stock":
        stopping = (f"STOP: {found}" for found in stops(plan.problems))
        line = f"{plan.setup.tubing}: cut to {tape(plan.stock_tape)}."
        return ("Cut the stock", line, *stopping)
    if step.kind == "mark":
        left = {todo.bend.n for todo in state.todo if todo.kind == "set up" and todo.bend}
        marks = (
            f"bend {bend.n}: mark at {tape(bend.stock_mark)}, the {bend.lead} end leads"
            for bend in plan.bends
            if bend.n in left
        )
        cuts = (
            f"cut of the {cut.end} end: at {tape(cut.stock_mark)}"
            for cut in plan.cuts
            if cut.offcut > 0
        )
        anew = ("Cross out the old marks.",) if state.made else ()
        return ("Mark out, measuring from the stick's A end", *anew, *marks, *cuts)
    if step.cut is not None:
        place, falls = tape(step.cut.stock_mark), tape(step.cut.offcut)
        return (
            f"Cut the {step.cut.end} end",
            f"at {place} as marked on the straight stick: {falls} falls off.",
        )
    return ("Finished",)


def _at_bend(
    step: Step, bend: BendStep, plan: TubePlan, offer: Rescue | None, units: Units
) -> tuple[str, ...]:
    if step.kind == "set up":
        return _set_up(bend, plan)
    if step.kind == "pull":
        return _pull(step, bend)
    if step.kind == "overshot":
        return _overshot(step, bend, offer, units)
    return (
        f"Bend {bend.n}: release and measure the angle",
        f"It should come to {format_angle(bend.angle)}.",
    )


def _set_up(bend: BendStep, plan: TubePlan) -> tuple[str, ...]:
    first = bend.n == plan.bends[0].n
    seam = (
        (f"Load with the weld seam at {clock_words(plan.seam.clock)}, seen from the tail.",)
        if first and plan.seam
        else ()
    )
    turn = turn_words(bend, plan.setup.plane)
    return (
        f"Bend {bend.n}: set up",
        f"Mark {bend.n} to the die's index line; the {bend.lead} end leads.",
        *((turn,) if turn else ()),
        *seam,
        *(() if first else (roll_words(bend.roll),)),
        level_words(bend, first),
    )


def _pull(step: Step, bend: BendStep) -> tuple[str, ...]:
    assert step.dial is not None
    pins = ", ".join(f"{stroke:.1f}°" for stroke in bend.strokes if stroke < step.dial)
    measured = (
        (f"It measures {format_angle(step.measured)} of {format_angle(bend.angle)}.",)
        if step.measured is not None
        else ()
    )
    return (
        f"Bend {bend.n}: {'take it further, to' if step.again else 'pull to'} {step.dial:.4g}°",
        *measured,
        *(("A first stop: it is measured before going on.",) if step.short else ()),
        *((f"Re-pin at {pins}.",) if pins and not step.again else ()),
    )


def _overshot(step: Step, bend: BendStep, offer: Rescue | None, units: Units) -> tuple[str, ...]:
    measured = format_angle(step.measured or 0.0)
    wanted = format_angle(bend.angle)
    title = f"Bend {bend.n} has gone too far: {measured}, wanted {wanted}"
    if offer is None or not offer.sound:
        why = [
            str(found) for found in (offer.problems if offer else ()) if found.severity == "stop"
        ]
        return (title, "No rescue makes it land; go on with it as it is, or give it up.", *why)
    ends = " and ".join(
        f"the {one.end} end {format_fine(one.off, units)} off" for one in offer.ends
    )
    return (title, f"A rescue brings it back, {ends}; take it, or go on with it as it is.")
