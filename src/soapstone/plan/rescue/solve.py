"""Solve what is still to be made so that the ends land, and the tube changes least.

First the ends: place in mm over `off`, direction in degrees over `askew`, both ends, least squares.
Beside it, and last to give way, what must be kept clear of. Among all ways in which these come
out alike the one is taken that moves the tube least: the squares of the distances in mm by which
the middles of its bends lie off their drawn places. The second goal stands in one sum with the
first, at a weight that falls to a millionth; each step solves the linear problem within its limits
(Gauss, Newton; damped by Levenberg and Marquardt).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.course import DEGREE, Course, Laid, Moves, course_of, stepped
from soapstone.plan.rescue.limits import least_squares_within
from soapstone.plan.rescue.unknowns import Unknowns

WEIGHTS = (0.1, 0.01, 0.001)
"""How much a mm off the drawn shape counts beside a missed end, in turn."""

STEPS = 40
SETTLED = 1e-7
SLACK_COUNTS = 1e3
"""A mm of straight that is missing weighs like a metre of change."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What counts as landed: mm off the place, degrees off the direction, at either end."""

    off: float = 1.0
    askew: float = 0.3


@dataclass(frozen=True, slots=True)
class Contact:
    """A place of the tube to be kept on one side of a plane: `normal` . point >= `least`, in mm."""

    piece: int
    share: float
    normal: Array
    least: float


@dataclass(frozen=True, slots=True)
class Target:
    """Where the tube was drawn: its ends, their directions (A to B), the middles of its bends."""

    ends: Array
    directions: Array
    middles: Array


def target_of(plan: TubePlan) -> Target:
    """Take the target from the drawn shape."""
    course = _course_as_drawn(plan)
    middles = [course.point(2 * i + 1, 0.5) for i in range(len(course.angles))]
    way = course.way
    return Target(way.nodes[[0, -1]], way.directions[[0, -1]], np.array(middles).reshape(-1, 3))


def _course_as_drawn(plan: TubePlan) -> Course:
    line = plan.shape
    start, along, up = (np.array(v, dtype=float) for v in (line.start, line.along, line.up))
    laid = Laid(np.empty(0), start, along, up)
    measures = (line.legs, line.angles, line.rotations, line.radii)
    legs, angles, rotations, radii = (np.array(m, dtype=float) for m in measures)
    return Course(laid, legs, angles, rotations, radii, walk(line))


@dataclass(frozen=True, slots=True)
class Answer:
    """A solved tube. `short` is the straight in mm that clamp, follower or stick still lack."""

    unknowns: Unknowns
    course: Course
    off: Array
    askew: Array
    short: float

    def miss(self, within: Tolerance) -> float:
        """Give the worse end's miss as a multiple of the tolerance: 1 and less is landed."""
        return float(max((self.off / within.off).max(), (self.askew / within.askew).max()))

    def worth(self, within: Tolerance) -> float:
        """Give what was made least first: the sum of the squares of all misses."""
        return float(((self.off / within.off) ** 2 + (self.askew / within.askew) ** 2).sum())


def start_of(unknowns: Unknowns) -> Laid:
    """Lay the tube by its A end, as planned but for the facts."""
    line = unknowns.facts.plan.shape
    start, along, up = (np.array(v, dtype=float) for v in (line.start, line.along, line.up))
    return Laid(unknowns.drawn, start, along, up)


def solve(
    unknowns: Unknowns,
    target: Target,
    within: Tolerance,
    contacts: Sequence[Contact] = (),
    laid: Laid | None = None,
    weights: Sequence[float] = WEIGHTS,
) -> Answer:
    """Find the tube that lands best and, of those, the one changed least.

    `weights` say in turn how much a mm off the drawn shape counts beside a missed end.
    """
    problem = _Problem(unknowns, target, within, tuple(contacts))
    laid = start_of(unknowns) if laid is None else laid
    short = problem.shortfall(laid)
    for weight in weights:
        laid = problem.settle(laid, weight, short)
    course = course_of(unknowns, laid)
    off, askew = misses(course, target)
    return Answer(unknowns, course, off, askew, short)


def misses(course: Course, target: Target) -> tuple[Array, Array]:
    """Give for both ends the distance in mm and the angle in degrees off the target."""
    way = course.way
    off = np.linalg.norm(way.nodes[[0, -1]] - target.ends, axis=1)
    gap = np.linalg.norm(way.directions[[0, -1]] - target.directions, axis=1)
    return off, 2 * np.arcsin(np.minimum(gap / 2, 1.0)) / DEGREE


@dataclass(frozen=True, slots=True)
class _Problem:
    unknowns: Unknowns
    target: Target
    within: Tolerance
    contacts: tuple[Contact, ...]

    @property
    def free(self) -> Array:
        """The columns of a step that may be used."""
        return np.concatenate((np.ones(6, dtype=bool), self.unknowns.movable))

    def shortfall(self, laid: Laid) -> float:
        """Find how much straight is missing however the rest is placed, in mm; mostly none."""
        limits, least = self._limits(laid)
        size = limits.shape[1]
        if least_squares_within(np.eye(size), np.zeros(size), limits, least) is not None:
            return 0.0
        system = np.eye(size + 1)
        system[-1, -1] = SLACK_COUNTS
        loose = np.hstack((limits, np.ones((len(limits), 1))))
        loose = np.vstack((loose, np.eye(1, size + 1, size)))
        found = least_squares_within(system, np.zeros(size + 1), loose, np.append(least, 0.0))
        return float(np.inf) if found is None else float(found[-1]) * (1 + 1e-6) + 1e-6

    def settle(self, laid: Laid, weight: float, short: float) -> Laid:
        """Step until nothing more is gained."""
        course = course_of(self.unknowns, laid)
        residual, damping = self.residual(course, weight), 1e-6
        worth = self._worth(laid, residual, short)
        for _ in range(STEPS):
            rows = self.rows(course, weight)[:, self.free]
            limits, least = self._limits(laid)
            while True:
                step = self._step(rows, residual, limits, least - short, damping)
                if step is None:
                    return laid
                trial = stepped(laid, step)
                then = course_of(self.unknowns, trial)
                after = self.residual(then, weight)
                gained = worth - self._worth(trial, after, short)
                if gained >= 0 or damping > 1e6:
                    break
                damping *= 10
            if gained < 0:
                return laid
            laid, course, residual, worth = trial, then, after, worth - gained
            damping = max(damping / 10, 1e-9)
            if float(np.abs(step).max()) < SETTLED or gained < SETTLED * 1e-3 * worth:
                return laid
        return laid

    def _worth(self, laid: Laid, residual: Array, short: float) -> float:
        """Sum of squares; where limits are broken still, that counts above all."""
        limits, least = self._limits(laid)
        broken = float(np.maximum(least - short, 0.0).max(initial=0.0)) if len(limits) else 0.0
        return float(residual @ residual) + (1e9 * broken if broken > 1e-6 else 0.0)

    def _step(
        self, rows: Array, residual: Array, limits: Array, least: Array, damping: float
    ) -> Array | None:
        scale = np.sqrt(damping * np.maximum((rows**2).sum(axis=0), 1e-6))
        system = np.vstack((rows, np.diag(scale)))
        wanted = np.concatenate((-residual, np.zeros(len(scale))))
        found = least_squares_within(system, wanted, limits, least)
        if found is None:
            return None
        step = np.zeros(len(self.free))
        step[self.free] = found
        return step

    def _limits(self, laid: Laid) -> tuple[Array, Array]:
        """Limits on the free columns of a step from here."""
        unknowns = self.unknowns
        limits = np.hstack((np.zeros((len(unknowns.limits), 6)), unknowns.limits))
        return limits[:, self.free], unknowns.least - unknowns.limits @ laid.values

    def residual(self, course: Course, weight: float) -> Array:
        """What is to be brought to nothing."""
        target, within, way = self.target, self.within, course.way
        off = (way.nodes[[0, -1]] - target.ends) / within.off
        askew = (way.directions[[0, -1]] - target.directions) / (DEGREE * within.askew)
        moved = [course.point(2 * i + 1, 0.5) for i in range(len(course.angles))]
        away = weight * (np.array(moved).reshape(-1, 3) - target.middles)
        near = [self._lacks(course, one) / within.off for one in self.contacts]
        return np.concatenate((off.ravel(), askew.ravel(), away.ravel(), near))

    def rows(self, course: Course, weight: float) -> Array:
        """Derivative of the residual by the columns of a step."""
        moves, within, last = Moves(self.unknowns, course), self.within, 2 * len(course.angles)
        near = [
            -(contact.normal @ moves.of_point(contact.piece, contact.share))[None] / within.off
            if self._lacks(course, contact) > 0
            else np.zeros((1, len(self.free)))
            for contact in self.contacts
        ]
        return np.vstack(
            (
                moves.of_point(0, 0.0) / within.off,
                moves.of_point(last, 1.0) / within.off,
                moves.of_first_direction() / (DEGREE * within.askew),
                moves.of_last_direction() / (DEGREE * within.askew),
                *(weight * moves.of_point(2 * i + 1, 0.5) for i in range(len(course.angles))),
                *near,
            )
        )

    def _lacks(self, course: Course, contact: Contact) -> float:
        point = course.point(contact.piece, contact.share)
        return max(0.0, contact.least - float(contact.normal @ point))
