"""The tube in the bender at one step: what is bent already, rolled and about to be bent.

Machine frame: origin on the tube's centreline where the bend starts, x to the tail, z up, y to the
right hand of one who stands at the tail and looks at the die.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from soapstone.bend.pose import SIDES
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.moves import move
from soapstone.geometry.vectors import Array, Vec3, cross, turn
from soapstone.plan.model import BendStep, TubePlan
from soapstone.plan.rolls import machine_axes


@dataclass(frozen=True, slots=True)
class Stage:
    """The tube at one step, grips included, in the machine frame.

    Attributes
    ----------
    before
        Rolled and clamped for this bend.
    unrolled
        As it lay before the roll.
    after
        This bend made and still held at its loaded angle.
    leg
        Which straight of `before` lies in the die (from 0).
    level_leg
        Which straight of `before` the level lies on (from 0), or None.
    turned
        Which bend of `before` (from 0) shows how it is rolled: the one next to the die on the lead
        side, or on the tail's when nothing is bent ahead; None when nothing is bent at all.
    """

    plan: TubePlan
    step: BendStep
    before: Centreline
    unrolled: Centreline
    after: Centreline
    leg: int
    level_leg: int | None
    turned: int | None

    @property
    def bent_ahead(self) -> bool:
        """Whether anything is bent on the lead side of the die."""
        if self.turned is None:
            return False
        return (self.turned < self.leg) == (self.step.lead == "A")

    @property
    def swing(self) -> Vec3:
        """Unit vector in which the lead end starts to swing."""
        return SIDES[self.plan.setup.swing]


@dataclass(frozen=True, slots=True)
class _Chain:
    """A partly bent tube in the world, and where the coming bend starts on it."""

    line: Centreline
    leg: int
    at: float
    rotation: float


def stage(plan: TubePlan, place: int, tail: float) -> Stage:
    """Set the tube up for the bend made at `place` (from 0 in the order made).

    `tail` is how much straight tail to keep behind the bend, in mm; the rest is left out.
    """
    step = plan.bends[place]
    made = frozenset(b.n for b in plan.bends[:place])
    chain = _partly_bent(plan, made, step)
    before = _in_machine(plan, step, chain)
    after = _after(plan, step, made, tail)
    numbers = sorted(made)
    level_leg = None
    if step.level is not None:
        level_leg = sum(n < step.level.leg for n in numbers)
    before = _with_tail(before, step.lead, chain.leg, chain.at, tail)
    return Stage(
        plan=plan,
        step=step,
        before=before,
        unrolled=move(before, axis=(1.0, 0.0, 0.0), angle=step.roll),
        after=after,
        leg=chain.leg,
        level_leg=level_leg,
        turned=_beside(chain.leg, len(numbers), step.lead),
    )


def _beside(leg: int, count: int, lead: str) -> int | None:
    """Which of `count` bends made lies next to the straight in the die, the lead side first."""
    sides = (leg - 1, leg) if lead == "A" else (leg, leg - 1)
    return next((bend for bend in sides if 0 <= bend < count), None)


def _partly_bent(plan: TubePlan, made: Collection[int], step: BendStep) -> _Chain:
    """Join what is bent and what is still straight; bends not made are straight stock."""
    line = plan.shape
    steps = {b.n: b for b in plan.bends}
    grip_a, grip_b = plan.cuts[0].offcut, plan.cuts[1].offcut
    legs: list[float] = []
    angles: list[float] = []
    rotations: list[float] = []
    radii: list[float] = []
    run, rotation = grip_a + line.legs[0], 0.0
    where = (0, 0.0, 0.0)
    for n, leg in enumerate(line.legs[1:], start=1):
        rotation += line.rotations[n - 1]
        stock = steps[n].arc_to - steps[n].arc_from
        if n == step.n:
            where = (len(angles), run if step.lead == "A" else run + stock, rotation)
        if n in made:
            legs.append(run)
            angles.append(line.angles[n - 1])
            radii.append(line.radii[n - 1])
            rotations.append(rotation)
            run, rotation = leg, 0.0
        else:
            run += stock + leg
    legs.append(run + grip_b)
    start = np.array(line.start) - grip_a * np.array(line.along)
    shape = Centreline(
        vec(start), line.along, line.up, tuple(legs), tuple(angles), tuple(rotations), tuple(radii)
    )
    return _Chain(shape, *where)


def _in_machine(plan: TubePlan, step: BendStep, chain: _Chain) -> Centreline:
    """Move a partly bent tube so that the coming bend starts at the origin, rolled right."""
    way = walk(chain.line)
    direction = way.directions[chain.leg]
    last = way.axes[chain.leg - 1] if chain.leg else cross(*_frame(chain.line))
    axis = turn(last, direction, np.array(math.radians(chain.rotation)))
    origin = way.nodes[2 * chain.leg] + chain.at * direction
    return _moved(chain.line, origin, machine_axes(direction, axis, plan.setup, step.lead))


def _after(plan: TubePlan, step: BendStep, made: Collection[int], tail: float) -> Centreline:
    """Give the tube with this bend held on the die at its loaded angle, its tail shortened."""
    chain = _partly_bent(plan, {*made, step.n}, step)
    angles, radii = list(chain.line.angles), list(chain.line.radii)
    angles[chain.leg], radii[chain.leg] = step.loaded, plan.setup.clr
    line = replace(chain.line, angles=tuple(angles), radii=tuple(radii))
    way = walk(line)
    end, leg = (2, 1) if step.lead == "A" else (1, 0)
    axes = machine_axes(way.directions[chain.leg + leg], way.axes[chain.leg], plan.setup, step.lead)
    line = _moved(line, way.nodes[2 * chain.leg + end], axes)
    at = 0.0 if step.lead == "A" else line.legs[chain.leg]
    return _with_tail(line, step.lead, chain.leg + leg, at, tail)


def _moved(line: Centreline, origin: Array, axes: tuple[Array, Array, Array]) -> Centreline:
    tail, up, aside = axes
    frame = np.array([tail, aside, up])
    return replace(
        line,
        start=vec(frame @ (np.array(line.start) - origin)),
        along=vec(frame @ np.array(line.along)),
        up=vec(frame @ np.array(line.up)),
    )


def _frame(line: Centreline) -> tuple[Array, Array]:
    return np.array(line.along, dtype=float), np.array(line.up, dtype=float)


def _with_tail(line: Centreline, lead: str, leg: int, at: float, tail: float) -> Centreline:
    """Shorten a straight tail to `tail` behind the bend; one that is bent already stays whole.

    `leg`, `at`: the straight that leaves the die toward the tail, and where on it.
    """
    last = len(line.legs) - 1
    if lead == "A":
        if leg != last:
            return line
        kept = min(line.legs[last], at + tail)
        return replace(line, legs=(*line.legs[:-1], kept))
    if leg != 0:
        return line
    cut = max(0.0, at - tail)
    start = np.array(line.start) + cut * np.array(line.along)
    return replace(line, start=vec(start), legs=(line.legs[0] - cut, *line.legs[1:]))
