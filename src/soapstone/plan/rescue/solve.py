"""Solve what is still to be made so that the ends land, and the tube changes least.

First the ends: place in mm over `off`, direction in degrees over `askew`, both ends, least squares.
Beside it, and last to give way, what must be kept clear of. Among all ways in which these come
out alike the one is taken that moves the tube least: the squares of the distances in mm by which
the middles of its bends lie off their drawn places. The second goal stands in one sum with the
first, at a weight that falls to a millionth. The steps are compiled (`settling`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.course import Course, Laid, course_of
from soapstone.plan.rescue.unknowns import Unknowns

if TYPE_CHECKING:
    from soapstone.plan.rescue.trace import Task

WEIGHTS = (0.1, 0.01, 0.001)
"""How much a mm off the drawn shape counts beside a missed end, in turn."""

STEPS = 40
SLACK_COUNTS = 1e3
"""A mm of straight that is missing weighs like a metre of change."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What counts as landed: mm off the place, degrees off the direction, at either end."""

    off: float = 1.0
    askew: float = 0.3


@dataclass(frozen=True, slots=True)
class Contact:
    """A place of the tube to be kept on one side of a plane: `normal` . point >= `least`, in mm.

    With `other`, piece and share of another place on the tube, the point is seen from there.
    """

    piece: int
    share: float
    normal: Vec3
    least: float
    other: tuple[int, float] | None = None


@dataclass(frozen=True, slots=True)
class Via:
    """A place of the tube that is to pass a point `at` within so many mm, anywhere along it."""

    piece: int
    share: float
    at: Vec3
    within: float


@dataclass(frozen=True, slots=True)
class Holds:
    """What a tube is held to between its ends."""

    contacts: tuple[Contact, ...] = ()
    vias: tuple[Via, ...] = ()


FREE = Holds()
"""Nothing between the ends."""


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
    holds: Holds = FREE,
    laid: Laid | None = None,
    weights: Sequence[float] = WEIGHTS,
) -> Answer:
    """Find the tube that lands best and, of those, the one changed least.

    `weights` say in turn how much a mm off the drawn shape counts beside a missed end.
    """
    from soapstone.plan.rescue.settling import settle

    task = _task(unknowns, target, within, holds)
    begun = start_of(unknowns) if laid is None else laid
    state = np.concatenate((begun.start, begun.along, begun.up, begun.values))
    short = _shortfall(task, begun.values)
    for weight in weights:
        settle(task, state, weight, short, STEPS)
    start, along, up, values = np.split(state, (3, 6, 9))
    course = course_of(unknowns, Laid(values, start, along, up))
    off, askew = misses(course, target)
    return Answer(unknowns, course, off, askew, short)


def _task(unknowns: Unknowns, target: Target, within: Tolerance, holds: Holds) -> "Task":
    """Bring a rescue to the numbers that compiled code works with."""
    from soapstone.plan.rescue.trace import POSE, Task

    facts, setup = unknowns.facts, unknowns.facts.setup
    number = (setup.clr, 1 + setup.calibration.springback, within.off, within.askew)
    free = np.concatenate((np.ones(POSE, dtype=bool), unknowns.movable))
    count = len(facts.angles)
    spots = [(0, 0.0), (2 * count, 1.0), *((2 * i + 1, 0.5) for i in range(count))]
    spots += [(one.piece, one.share) for one in holds.vias]
    for one in holds.contacts:
        spots += [(one.piece, one.share), one.other or (-1, 0.0)]
    vias = [(*one.at, one.within) for one in holds.vias]
    contacts = [(*one.normal, one.least) for one in holds.contacts]
    return Task(
        legs=unknowns.legs,
        number=np.array(number, dtype=float),
        bent=facts.angles,
        held=facts.held,
        ends=target.ends,
        ways=target.directions,
        middles=target.middles,
        vias=np.array(vias, dtype=float).reshape(-1, 4),
        contacts=np.array(contacts, dtype=float).reshape(-1, 4),
        spots=np.array(spots, dtype=float),
        free=np.flatnonzero(free).astype(np.int64),
        limits=unknowns.limits,
        least=unknowns.least,
    )


def _shortfall(task: "Task", values: Array) -> float:
    """Find how much straight is missing however the rest is placed, in mm; mostly none."""
    from soapstone.plan.rescue.limits import least_squares_within
    from soapstone.plan.rescue.trace import POSE

    columns = task.free[task.free >= POSE] - POSE
    limits, least = np.ascontiguousarray(task.limits[:, columns]), task.least - task.limits @ values
    size = len(columns)
    found = np.empty(size + 1)
    if least_squares_within(np.eye(size), np.zeros(size), limits, least, found[:size]):
        return 0.0
    system = np.eye(size + 1)
    system[-1, -1] = SLACK_COUNTS
    loose = np.hstack((limits, np.ones((len(limits), 1))))
    loose = np.vstack((loose, np.eye(1, size + 1, size)))
    wanted = np.append(least, 0.0)
    if not least_squares_within(system, np.zeros(size + 1), loose, wanted, found):
        return float(np.inf)
    return float(found[-1]) * (1 + 1e-6) + 1e-6


def misses(course: Course, target: Target) -> tuple[Array, Array]:
    """Give for both ends the distance in mm and the angle in degrees off the target."""
    way = course.way
    off = np.linalg.norm(way.nodes[[0, -1]] - target.ends, axis=1)
    gap = np.linalg.norm(way.directions[[0, -1]] - target.directions, axis=1)
    return off, np.degrees(2 * np.arcsin(np.minimum(gap / 2, 1.0)))
