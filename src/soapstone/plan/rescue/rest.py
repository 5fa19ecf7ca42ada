"""The plan of the rest: the same planner on the shape that the tube will have, facts kept."""

from dataclasses import replace

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.findings import Finding, Say
from soapstone.geometry.chain import corners
from soapstone.plan.model import BendStep, Cut, TubePlan
from soapstone.plan.order import Turn
from soapstone.plan.rescue.facts import Facts
from soapstone.plan.rescue.model import Further, MadeBend
from soapstone.plan.rescue.solve import Answer
from soapstone.plan.rescue.unknowns import places
from soapstone.plan.stock import round_to
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape


def rest_of(answer: Answer, say: Say) -> TubePlan:
    """Plan the solved tube: its shape by the planner, its places on the stick as solved.

    Bends made keep mark, dial and roll as facts and have no stops, strokes or level left.
    """
    facts, line = answer.unknowns.facts, answer.course.line()
    setup, drawn = facts.setup, facts.plan
    shape = Shape(drawn.name, line, corners(line), drawn.of)
    order = tuple(Turn(i + 1, "A" if facts.toward[i] > 0 else "B") for i in facts.order)
    (planned,) = plan_tubes([shape], [setup], say, orders=[order])
    if not isinstance(planned, TubePlan):
        raise TypeError("a shape with a centreline has a plan")
    steps = {step.n - 1: step for step in planned.bends}
    placed = [_placed(answer, steps[i]) for i in facts.order]
    made = {bend.n: bend for bend in facts.made}
    again = {further.n: further for further in taken_further(answer)}
    bends = tuple(
        _as_made(step, made[step.n], again.get(step.n), setup) if step.n in made else step
        for step in placed
    )
    return replace(
        planned,
        stock=facts.stick,
        stock_tape=float(round_to(np.array(facts.stick), setup.tape.step_mm)),
        bends=bends,
        cuts=_cuts(answer),
        seam=drawn.seam,
        problems=tuple(f for f in planned.problems if _about(f, planned.name, facts)),
        made=tuple(sorted(made)),
    )


def _about(finding: Finding, name: str, facts: Facts) -> bool:
    """Leave out what is said of the whole stick and of bends made: that is done and measured."""
    done = {f"{name}, bend {bend.n}" for bend in facts.made}
    return finding.where != name and finding.where not in done


def _placed(answer: Answer, step: BendStep) -> BendStep:
    """Put a step where it was solved to be on the stick."""
    facts, values = answer.unknowns.facts, answer.course.laid.values
    setup, i = facts.setup, step.n - 1
    both = np.append(values, 1.0)
    mark = float(places(values)[i] - facts.toward[i] * setup.mark_offset)
    return replace(
        step,
        mark=mark,
        stock_mark=float(round_to(np.array(mark), setup.tape.step_mm)),
        arc_from=float(answer.unknowns.begins[i] @ both),
        arc_to=float(answer.unknowns.ends[i] @ both),
        loaded=float(answer.unknowns.held(values)[i]),
    )


def _as_made(step: BendStep, bend: MadeBend, further: Further | None, setup: Setup) -> BendStep:
    """State a bend as the fact that it is; one that is taken further has its new stop."""
    dial = step.loaded + setup.calibration.dial_zero
    if further is not None:
        dial, stop = further.dial, further.dial_stop
    else:
        stop = dial if bend.dial is None else bend.dial
    return replace(
        step,
        stock_mark=step.mark,
        dial=dial,
        dial_low=dial,
        dial_high=dial,
        dial_stop=stop,
        first_stop=None,
        strokes=(),
        level=None,
    )


def _cuts(answer: Answer) -> tuple[Cut, Cut]:
    facts = answer.unknowns.facts
    tape = facts.setup.tape.step_mm
    a, b = (float(value) for value in answer.course.laid.values[:2])
    on_tape = round_to(np.array([a, b]), tape)
    return (
        Cut("A", a, float(on_tape[0]), "B", a),
        Cut("B", b, float(on_tape[1]), "A", facts.stick - b),
    )


def taken_further(answer: Answer) -> tuple[Further, ...]:
    """Give the bends made that go back into the die, with the reading that brings them there."""
    facts, setup = answer.unknowns.facts, answer.unknowns.facts.setup
    found = []
    for bend in facts.made:
        angle = float(answer.course.angles[bend.n - 1])
        if angle > bend.angle + 1e-6:
            first = float(facts.held[bend.n - 1]) + setup.calibration.dial_zero
            found.append(_further(setup, bend, angle, first))
    return tuple(found)


def _further(setup: Setup, bend: MadeBend, angle: float, first: float) -> Further:
    dial = setup.calibration.second_stop(first, bend.angle, angle)
    stop = float(round_to(np.array(dial), setup.dial_step))
    return Further(bend.n, bend.angle, angle, dial, stop)
