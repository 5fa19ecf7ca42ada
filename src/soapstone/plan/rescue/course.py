"""Where a tube runs, and how that changes with each of the unknowns of a rescue.

Every change turns what follows about an axis, or shifts it: the straight before it shifts along
itself, a roll turns about that straight, a bend turns about the arc's axis through its centre, and
a wider radius opens the arc along its chord. So the derivatives are closed.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.centreline import Centreline, Walk, vec
from soapstone.geometry.chain import walk_arrays
from soapstone.geometry.vectors import Array, cross, turn, unit
from soapstone.plan.rescue.unknowns import Unknowns, angles, planes

DEGREE = np.pi / 180


@dataclass(frozen=True, slots=True)
class Laid:
    """A tube laid in space: its unknowns; the A end, `along` and `up` as in `Centreline`."""

    values: Array
    start: Array
    along: Array
    up: Array


@dataclass(frozen=True, slots=True)
class Course:
    """Where a laid tube runs: the measures of its chain, and the walk along it."""

    laid: Laid
    legs: Array
    angles: Array
    rotations: Array
    radii: Array
    way: Walk

    def point(self, piece: int, share: float) -> Array:
        """Give the point at the share 0 to 1 of a piece: straights are even, arcs odd."""
        i, node = piece // 2, self.way.nodes[piece]
        if piece % 2 == 0:
            return np.asarray(node + share * self.legs[i] * self.way.directions[i])
        spoke, turned = node - self.way.centres[i], np.float64(share * self.angles[i] * DEGREE)
        point: Array = self.way.centres[i] + turn(spoke, self.way.axes[i], turned)
        return point

    def line(self) -> Centreline:
        """Give the centreline, rotations within half a turn."""
        turned = -((-self.rotations + 180.0) % 360.0 - 180.0)
        return Centreline(
            start=vec(self.laid.start),
            along=vec(self.laid.along),
            up=vec(self.laid.up),
            legs=tuple(np.maximum(self.legs, 0.0).tolist()),
            angles=tuple(self.angles.tolist()),
            rotations=tuple(turned.tolist()),
            radii=tuple(self.radii.tolist()),
        )


def course_of(unknowns: Unknowns, laid: Laid) -> Course:
    """Walk a laid tube."""
    values, setup = laid.values, unknowns.facts.setup
    legs = unknowns.legs @ np.append(values, 1.0)
    bent = angles(values)
    radii = radii_of(setup, unknowns.held(values), bent)
    rotations = np.diff(planes(values), prepend=planes(values)[:1])
    way = walk_arrays(laid.start, laid.along, laid.up, legs, bent, rotations, radii)
    return Course(laid, legs, bent, rotations, radii, way)


def radii_of(setup: Setup, held: Array, bent: Array) -> Array:
    """Radii after release: the arc keeps its length when it opens from `held` to `bent` degrees."""
    return setup.clr * held / bent


def stepped(laid: Laid, change: Array) -> Laid:
    """Take a step: three mm of shift, three degrees of turn about the A end, then the unknowns."""
    by_rad = float(np.linalg.norm(change[3:6])) * DEGREE
    along, up = laid.along, laid.up
    if by_rad > 0:
        axis = unit(change[3:6])
        along = unit(turn(along, axis, np.float64(by_rad)))
        up = turn(up, axis, np.float64(by_rad))
    up = unit(up - (up @ along) * along)
    return Laid(laid.values + change[6:], laid.start + change[:3], along, up)


@dataclass(frozen=True, slots=True)
class Moves:
    """How a course changes, by the columns of a step (6 + unknowns)."""

    unknowns: Unknowns
    course: Course

    def of_point(self, piece: int, share: float) -> Array:
        """Derivative (3, columns) of a point that keeps its share of its piece."""
        point = self.course.point(piece, share)
        way, i = self.course.way, piece // 2
        on_arc = piece % 2 == 1
        by_leg, by_bend = self._empty()
        by_leg[:, : i + 1] = way.directions[: i + 1].T
        if not on_arc:
            by_leg[:, i] *= share
        before = i + 1 if on_arc else i
        part = np.ones(before)
        if on_arc:
            part[i] = share
        self._bends(by_bend, before, point, part)
        return self._columns(by_leg, by_bend, point - self.course.laid.start, shifts=True)

    def of_last_direction(self) -> Array:
        """Derivative (3, columns) of the direction at the B end."""
        way = self.course.way
        by_leg, by_bend = self._empty()
        by_bend[0] = cross(way.axes, way.directions[-1]).T * DEGREE
        by_bend[1] = cross(way.directions[:-1], way.directions[-1]).T * DEGREE
        return self._columns(by_leg, by_bend, way.directions[-1], shifts=False)

    def of_first_direction(self) -> Array:
        """Derivative (3, columns) of the direction at the A end."""
        return self._columns(*self._empty(), self.course.laid.along, shifts=False)

    def _empty(self) -> tuple[Array, Array]:
        """Derivatives by legs (3, n + 1); by angles, rotations and radii (3, 3, n)."""
        count = len(self.course.angles)
        return np.zeros((3, count + 1)), np.zeros((3, 3, count))

    def _bends(self, by_bend: Array, count: int, point: Array, part: Array) -> None:
        """How a point moves with the bends before it; `part` of an arc is before it, mostly all."""
        way, radii = self.course.way, self.course.radii[:count]
        entries, leaves = way.nodes[1 : 2 * count : 2], way.nodes[2 : 2 * count + 1 : 2]
        leaves = np.where(part[:, None] < 1, point, leaves)
        turned = part[:, None] * cross(way.axes[:count], point - way.centres[:count])
        by_bend[0, :, :count] = turned.T * DEGREE
        by_bend[1, :, :count] = cross(way.directions[:count], point - entries).T * DEGREE
        by_bend[2, :, :count] = (leaves - entries).T / radii

    def _columns(self, by_leg: Array, by_bend: Array, arm: Array, *, shifts: bool) -> Array:
        """Bring the derivatives by the chain's measures to those by the unknowns."""
        unknowns, course = self.unknowns, self.course
        count = len(course.angles)
        setup = unknowns.facts.setup
        by_unknown = by_leg @ unknowns.legs[:, :-1]
        grows = (setup.clr * (1 + setup.calibration.springback) - course.radii) / course.angles
        by_unknown[:, 2 + count : 2 + 2 * count] += by_bend[0] + by_bend[2] * grows
        # a rotation is the difference of two planes; the first bend's plane turns with the tube
        turned = by_bend[1].copy()
        turned[:, :1] = 0
        by_unknown[:, 2 + 2 * count :] += turned
        by_unknown[:, 2 + 2 * count : -1] -= turned[:, 1:]
        x, y, z = arm * DEGREE
        turning = np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])
        return np.hstack((np.eye(3) if shifts else np.zeros((3, 3)), turning, by_unknown))
