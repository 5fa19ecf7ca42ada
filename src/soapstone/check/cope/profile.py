"""Where a tube's surface meets what the tube sits on: rays along the tube, all round it.

Every line of the tube's surface is followed from the tube's body toward its end until it meets the
other tube. The distance to a tube of round section is the distance to its centreline less its
radius, which is exact for straights and bends alike; going ahead by that distance can never step
over the surface, and the last step is Newton's.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.along import nearest_along
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, cross, dot, norm, unit

Flags: TypeAlias = npt.NDArray[np.bool_]

STEPS = 400
CLOSE = 1e-9
"""mm: nearer than this to the surface is on it."""

TOUCHING = 1e-5
"""mm: a line that passes by this near touches."""

GRAZING = 0.02
"""A ray that closes in on the surface by less than this, mm for mm, runs along it."""


@dataclass(frozen=True, slots=True)
class EndFrame:
    """A tube's end: where it is drawn, the direction back into the tube, and where 0 degrees is.

    `zero` is square to `back`; angles go right-handed about `back`. `straight` is how long the
    tube is straight behind the end, mm.
    """

    at: Array
    back: Array
    zero: Array
    straight: float

    def ways(self, degrees: Array) -> Array:
        """Directions (n, 3) out of the tube at angles round it."""
        turned = np.radians(degrees)[:, None]
        side = cross(self.back, self.zero)
        result: Array = np.cos(turned) * self.zero + np.sin(turned) * side
        return result


def onto_tube(end: EndFrame, radius: float, degrees: Array, line: Centreline, od: float) -> Array:
    """Distance (n,) in mm from the drawn end back to the cut, for lines `radius` from the axis.

    Positive into the tube; nan where a line passes by what the tube sits on, starts within it, or
    meets it beyond its ends.
    """
    starts = end.at + end.straight * end.back + radius * end.ways(degrees)
    gone = np.zeros(len(starts))
    outside = _off(line, starts) > od / 2
    along = np.full(len(starts), True)
    ahead = -end.back
    farthest = 2 * end.straight + 4 * od + _reach(line, end.at)
    for _ in range(STEPS):
        off = _off(line, starts + gone[:, None] * ahead) - od / 2
        along = along & (off > CLOSE) & (gone < farthest)
        if not along.any():
            break
        gone = np.where(along, gone + np.maximum(off, 0.0), gone)
    hit, off = _newton(line, starts, ahead, gone, od)
    met = (np.abs(off) < 1e-6) & (hit < farthest)
    if not met.all():
        touching, off = _nearest_pass(line, starts, ahead, gone, od)
        hit = np.where(met, hit, touching)
        met |= (off < TOUCHING) & (gone < farthest)
    met &= outside & ~_beyond(line, starts + hit[:, None] * ahead)
    result: Array = np.where(met, end.straight - hit, np.nan)
    return result


def _beyond(line: Centreline, points: Array) -> Flags:
    """Whether points (n, 3) lie past a tube's ends, where there is no metal of it."""
    way = walk(line)
    behind = (points - way.nodes[0]) @ way.directions[0] < -CLOSE
    past = (points - way.nodes[-1]) @ way.directions[-1] > CLOSE
    off = _off(line, points)
    first, last = norm(points - way.nodes[0]), norm(points - way.nodes[-1])
    result: Flags = (behind & (first < off + CLOSE)) | (past & (last < off + CLOSE))
    return result


def _nearest_pass(
    line: Centreline, starts: Array, ahead: Array, gone: Array, od: float
) -> tuple[Array, Array]:
    """Where rays come nearest to the surface from where they are, and how near: golden section.

    A tube of the same size touches along its sides; steps ahead by the distance get there slowly.
    """
    low, high = gone - 1e-3, gone + od
    part = (np.sqrt(5) - 1) / 2
    for _ in range(80):
        a, b = high - part * (high - low), low + part * (high - low)
        nearer = _off(line, starts + a[:, None] * ahead) < _off(line, starts + b[:, None] * ahead)
        low, high = np.where(nearer, low, a), np.where(nearer, b, high)
    middle = (low + high) / 2
    return middle, _off(line, starts + middle[:, None] * ahead) - od / 2


def _newton(
    line: Centreline, starts: Array, ahead: Array, gone: Array, od: float
) -> tuple[Array, Array]:
    """Polish hits; gives how far each ray went and how far off the surface it then is."""
    for _ in range(4):
        here = starts + gone[:, None] * ahead
        off = _off(line, here) - od / 2
        slope = (_off(line, here + 1e-5 * ahead) - _off(line, here - 1e-5 * ahead)) / 2e-5
        near = (np.abs(off) < 0.1) & (np.abs(slope) > GRAZING)
        gone = np.where(near, gone - off / np.where(near, slope, 1.0), gone)
    return gone, _off(line, starts + gone[:, None] * ahead) - od / 2


def _reach(line: Centreline, at: Array) -> float:
    return float(norm(walk(line).nodes - at).max())


def _off(line: Centreline, points: Array) -> Array:
    """Distance (n,) of points (n, 3) from a centreline."""
    return nearest_along(line, points)[1]


def onto_plate(end: EndFrame, radius: float, degrees: Array, at: Vec3, normal: Vec3) -> Array:
    """As `onto_tube`, for a plate: a plane through `at`; nan where the tube runs along it."""
    upright = unit(np.array(normal, dtype=float))
    slope = float(dot(end.back, upright))
    if abs(slope) < 1e-6:
        return np.full(len(degrees), np.nan)
    edge = end.at + radius * end.ways(degrees)
    result: Array = -((edge - np.array(at)) @ upright) / slope
    return result
