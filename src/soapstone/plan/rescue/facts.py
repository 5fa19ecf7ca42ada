"""Facts of a tube half made: where on the stick its bends lie, what they used, how they turn.

Everything is said in stock coordinates, mm from the stock's A end: metal keeps its coordinate
whatever is done to it, so what is made stands fast there while the rest is solved.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.errors import InputError
from soapstone.findings import Finding, Say
from soapstone.geometry.vectors import Array
from soapstone.plan.model import BendStep, TubePlan
from soapstone.plan.rescue.model import MadeBend

NOT_BENT = 0.05
"""Degrees: what measures less than this is not bent yet."""

MATTERS = 0.5
"""mm of stock by which what is not known of a dial may change the tube before it is said."""


@dataclass(frozen=True, slots=True)
class Facts:
    """A tube half made; arrays in order A to B, one value a bend. mm and degrees.

    `places` are where bends begin, at their lead end, on the stock; `toward` is 1 where the lead
    end is A and -1 where it is B; `planes` are how far the bends' planes are turned about the
    tube, counted on from bend to bend; `held` the angles on the die. For bends to come all are as
    drawn. `made` are the bends made, and `order` all bends, as indices, in the order made.
    """

    plan: TubePlan
    stick: float
    made: tuple[MadeBend, ...]
    order: tuple[int, ...]
    places: Array
    toward: Array
    planes: Array
    angles: Array
    held: Array
    findings: tuple[Finding, ...]

    @property
    def setup(self) -> Setup:
        """What the tube is bent with."""
        return self.plan.setup

    @property
    def made_at(self) -> tuple[int, ...]:
        """Indices of the bends made, in the order made."""
        return tuple(bend.n - 1 for bend in self.made)


def facts_of(plan: TubePlan, made: Sequence[MadeBend], stick: float | None, say: Say) -> Facts:
    """Bring together what was planned and what was measured.

    Bends made before the last one measured, and not measured themselves, stand as planned.

    Raises
    ------
    InputError
        A measurement that cannot be.
    """
    length = plan.stock_tape if stick is None else stick
    if not (math.isfinite(length) and length > 0):
        raise InputError(f"{plan.name}: the stick's length: expected more than nothing")
    given = _checked(plan, made, length, say)
    bent, assumed = _in_order(plan, given)
    last_arc = max((step.arc_to for step in plan.bends if step.n in {b.n for b in bent}), default=0)
    if length < last_arc:
        raise InputError(
            f"{plan.name}: the stick's length: expected more than {say(last_arc)}, where the last "
            "bend made ends"
        )
    steps = {step.n: step for step in plan.bends}
    count = len(steps)
    findings = [*_assumed(plan.name, assumed)]
    in_turn = [steps[n + 1] for n in range(count)]
    places = np.array([step.arc_from if step.lead == "A" else step.arc_to for step in in_turn])
    toward = np.array([1.0 if step.lead == "A" else -1.0 for step in in_turn])
    planes = np.cumsum(np.array(plan.shape.rotations, dtype=float))
    angles = np.array(plan.shape.angles, dtype=float)
    held = np.array([step.loaded for step in in_turn])
    turned = 0.0
    for bend in bent:
        i, step = bend.n - 1, steps[bend.n]
        if bend.roll is not None:
            turned += toward[i] * math.remainder(bend.roll - step.roll, 360.0)
        planes[i] += turned
        angles[i] = bend.angle
        held[i] = _held(bend, step, plan.setup)
        mark = step.stock_mark if bend.mark is None else bend.mark
        places[i] = mark + toward[i] * plan.setup.mark_offset
        findings += _unsure_of_dial(plan, bend, step, float(held[i]), say)
    order = [bend.n - 1 for bend in bent]
    order += [step.n - 1 for step in plan.bends if step.n - 1 not in order]
    result = Facts(
        plan,
        length,
        bent,
        tuple(order),
        places,
        toward,
        planes,
        angles,
        held,
        tuple(findings),
    )
    return _with_legs(result)


def stock_of(setup: Setup, held: Array) -> Array:
    """Stock in mm that bends held at those degrees on the die have used."""
    return (1 - setup.stretch) * setup.clr * np.radians(held)


def _checked(
    plan: TubePlan, made: Sequence[MadeBend], stick: float, say: Say
) -> dict[int, MadeBend]:
    """Refuse what no tape, protractor or dial can show."""
    count, most = len(plan.bends), plan.setup.max_angle
    found: dict[int, MadeBend] = {}
    for bend in made:
        where = f"{plan.name}, bend {bend.n}"
        if not 1 <= bend.n <= count:
            has = f"bends 1 to {count}" if count else "no bends"
            raise InputError(f"{where}: the tube has {has}")
        if bend.n in found:
            raise InputError(f"{where}: it is given twice")
        limits = {
            "angle": (bend.angle, 0.0, most, _degrees),
            "roll": (bend.roll, -360.0, 360.0, _degrees),
            "dial": (bend.dial, -180.0, 540.0, _degrees),
            "mark": (bend.mark, 0.0, stick, say),
            "leg": (bend.leg, 0.0, stick, say),
        }
        for key, (value, low, high, words) in limits.items():
            if value is not None and not low <= value <= high:
                wanted = f"expected {words(low)} to {words(high)}, as measured"
                raise InputError(f"{where}, {key} {words(value)}: {wanted}")
        known = plan.setup.calibration
        if bend.dial is not None and not known.can_have_given(bend.dial, bend.angle):
            raise InputError(
                f"{where}, dial {bend.dial:g}: held so far it cannot have kept {bend.angle:g}°; "
                "measure it again"
            )
        found[bend.n] = bend
    return found


def _degrees(value: float) -> str:
    return f"{value:g}°"


def _in_order(
    plan: TubePlan, given: dict[int, MadeBend]
) -> tuple[tuple[MadeBend, ...], tuple[int, ...]]:
    """Give the bends made in the order made, and the numbers of those taken to be as planned."""
    bent = {n for n, bend in given.items() if bend.angle > NOT_BENT}
    last = max((k for k, step in enumerate(plan.bends) if step.n in bent), default=-1)
    before = plan.bends[: last + 1]
    assumed = tuple(step.n for step in before if step.n not in given)
    made = tuple(
        given.get(step.n, MadeBend(step.n, step.angle, dial=step.dial))
        for step in before
        if step.n in bent or step.n not in given
    )
    return made, assumed


def _assumed(name: str, numbers: Sequence[int]) -> list[Finding]:
    if not numbers:
        return []
    listed = ", ".join(map(str, numbers))
    what = "made before, and not measured: taken to be as planned"
    return [Finding("note", f"{name}, bend {listed}", what, "measure it, to be sure")]


def _held(bend: MadeBend, step: BendStep, setup: Setup) -> float:
    """Degrees that a bend was held at on the die: by its dial, else by what can have been."""
    learnt = setup.calibration
    if bend.dial is not None:
        return bend.dial - learnt.dial_zero
    low, high = (float(limit) for limit in learnt.interval(bend.angle))
    if low <= step.dial_stop <= high and learnt.can_have_given(step.dial_stop, bend.angle):
        return step.dial_stop - learnt.dial_zero
    return learnt.loaded(bend.angle)


def _unsure_of_dial(
    plan: TubePlan, bend: MadeBend, step: BendStep, held: float, say: Say
) -> list[Finding]:
    """Say what hangs on a dial reading that nobody wrote down."""
    if bend.dial is not None:
        return []
    setup = plan.setup
    choices = np.array([step.dial_stop - setup.calibration.dial_zero, 0.0])
    choices[1] = setup.calibration.loaded(bend.angle)
    used = stock_of(setup, choices)
    apart = abs(float(used[1] - used[0]))
    if apart < MATTERS:
        return []
    reading = held + setup.calibration.dial_zero
    return [
        Finding(
            "note",
            f"{plan.name}, bend {bend.n}",
            f"its dial is not given: taken to have stopped at {reading:.1f}°; if it was otherwise "
            f"the bend has used up to {say(apart)} more or less of the stick",
            "give the dial, if it is known",
        )
    ]


def _with_legs(facts: Facts) -> Facts:
    """Put bends whose leg was measured where that leg has them."""
    places = facts.places.copy()
    used = stock_of(facts.setup, facts.held)
    for bend in sorted(facts.made, key=lambda one: one.n):
        if bend.leg is None:
            continue
        i = bend.n - 1
        if i and i - 1 not in facts.made_at:
            raise InputError(
                f"{facts.plan.name}, bend {bend.n}, leg: bend {i} is not made yet; give the mark"
            )
        before = 0.0
        if i:
            before = places[i - 1] + (used[i - 1] if facts.toward[i - 1] > 0 else 0.0)
        begins = before + bend.leg
        places[i] = begins if facts.toward[i] > 0 else begins + used[i]
    return replace(facts, places=places)
