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
from soapstone.geometry.centreline import Centreline, Walk
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, cross, dot, norm, unit

Flags: TypeAlias = npt.NDArray[np.bool_]

STEPS = 400

GOLDEN = 60
"""Golden sections of a tube's diameter: down to far less than can be told apart."""

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
    target = Target(line, walk(line), od)
    ahead = -end.back
    farthest = 2 * end.straight + 4 * od + _reach(target, end.at)
    gone = _marched(target, starts, ahead, farthest)
    hit, off = _newton(target, starts, ahead, gone)
    met = (np.abs(off) < 1e-6) & (hit < farthest)
    missed = ~met
    if missed.any():
        touching, off = _nearest_pass(target, starts[missed], ahead, gone[missed])
        hit[missed] = touching
        met[missed] = (off < TOUCHING) & (gone[missed] < farthest)
    met &= (target.off(starts) > 0) & ~_beyond(target, starts + hit[:, None] * ahead)
    result: Array = np.where(met, end.straight - hit, np.nan)
    return result


@dataclass(frozen=True, slots=True)
class Target:
    """A tube to sit on: its centreline, the walk along that, and its outside diameter in mm."""

    line: Centreline
    way: Walk
    od: float

    def off(self, points: Array) -> Array:
        """How far points (n, 3) are off its surface, negative within, (n,)."""
        result: Array = nearest_along(self.line, points, self.way)[1] - self.od / 2
        return result


def _marched(target: Target, starts: Array, ahead: Array, farthest: float) -> Array:
    """Follow rays by their distance to the surface until they are on it, or past everything."""
    gone = np.zeros(len(starts))
    going = np.arange(len(starts))
    for _ in range(STEPS):
        off = target.off(starts[going] + gone[going, None] * ahead)
        kept = (off > CLOSE) & (gone[going] < farthest)
        going, off = going[kept], off[kept]
        if not len(going):
            break
        gone[going] += off
    return gone


def _beyond(target: Target, points: Array) -> Flags:
    """Whether points (n, 3) lie past a tube's ends, where there is no metal of it."""
    way = target.way
    behind = (points - way.nodes[0]) @ way.directions[0] < -CLOSE
    past = (points - way.nodes[-1]) @ way.directions[-1] > CLOSE
    off = target.off(points) + target.od / 2
    first, last = norm(points - way.nodes[0]), norm(points - way.nodes[-1])
    result: Flags = (behind & (first < off + CLOSE)) | (past & (last < off + CLOSE))
    return result


def _nearest_pass(target: Target, starts: Array, ahead: Array, gone: Array) -> tuple[Array, Array]:
    """Where rays come nearest to the surface from where they are, and how near: golden section.

    A tube of the same size touches along its sides; steps ahead by the distance get there slowly.
    """
    part = (np.sqrt(5) - 1) / 2
    low, high = gone - 1e-3, gone + target.od

    def off(at: Array) -> Array:
        return target.off(starts + at[:, None] * ahead)

    a, b = high - part * (high - low), low + part * (high - low)
    off_a, off_b = off(a), off(b)
    for _ in range(GOLDEN):
        nearer = off_a < off_b
        low, high = np.where(nearer, low, a), np.where(nearer, b, high)
        new = np.where(nearer, high - part * (high - low), low + part * (high - low))
        off_new = off(new)
        a, b = np.where(nearer, new, b), np.where(nearer, a, new)
        off_a, off_b = np.where(nearer, off_new, off_b), np.where(nearer, off_a, off_new)
    middle = (low + high) / 2
    return middle, off(middle)


def _newton(target: Target, starts: Array, ahead: Array, gone: Array) -> tuple[Array, Array]:
    """Polish hits; gives how far each ray went and how far off the surface it then is."""
    for _ in range(4):
        here = starts + gone[:, None] * ahead
        off = target.off(here)
        slope = (target.off(here + 1e-5 * ahead) - target.off(here - 1e-5 * ahead)) / 2e-5
        near = (np.abs(off) < 0.1) & (np.abs(slope) > GRAZING)
        gone = np.where(near, gone - off / np.where(near, slope, 1.0), gone)
    return gone, target.off(starts + gone[:, None] * ahead)


def _reach(target: Target, at: Array) -> float:
    return float(norm(target.way.nodes - at).max())


def onto_plate(end: EndFrame, radius: float, degrees: Array, at: Vec3, normal: Vec3) -> Array:
    """As `onto_tube`, for a plate: a plane through `at`; nan where the tube runs along it."""
    upright = unit(np.array(normal, dtype=float))
    slope = float(dot(end.back, upright))
    if abs(slope) < 1e-6:
        return np.full(len(degrees), np.nan)
    edge = end.at + radius * end.ways(degrees)
    result: Array = -((edge - np.array(at)) @ upright) / slope
    return result
