"""Distances to tape on the finished tube, outside to outside, that show each bend's angle.

They go between the ends and the bend marks, which are lines all round the tube and stay on it.
The greatest reading between two such rings is the same whoever holds the tape.
"""

import math
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Walk, vec
from soapstone.geometry.chain import sample, walk
from soapstone.geometry.vectors import (
    Array,
    Vec3,
    any_perpendicular,
    cross,
    dot,
    norm,
    turn,
    unit,
)
from soapstone.plan.model import TubePlan

SHORTEST = 1.0
"""Distances of less than this many diameters say nothing about a bend."""

LEAST_SHOWN = 0.5
"""mm on the tape for one degree of bend: with less, a distance is not worth taking."""


@dataclass(frozen=True, slots=True)
class CheckDistance:
    """The greatest distance, outside to outside, between two places of a tube, in mm.

    `start` and `end` name the places ("A end", "mark 2", "B end"); `start_at`, `end_at` are the
    points of the surface that the tape touches; `spans` lists the bends in between.
    """

    start: str
    end: str
    length: float
    start_at: Vec3
    end_at: Vec3
    spans: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Ring:
    """A line round the tube: its name, how many bends lie before it, centre and direction."""

    name: str
    after: int
    centre: Array
    direction: Array


def check_distances(plan: TubePlan) -> tuple[CheckDistance, ...]:
    """Give one distance for each bend, in order from the A end, and the one end to end.

    The distance for a bend ends at the first ring after it, so that, taken in order, each tells of
    one bend more; it starts at the ring from which it changes most with that bend's angle. What a
    straight tape cannot take, or would hardly show, is left out.
    """
    way, rings = walk(plan.shape), _rings(plan)
    radius = plan.setup.od / 2
    body = sample(plan.shape, max(radius / 2, 1.0))
    found = [_over(bend, rings, way, body, radius) for bend in range(len(plan.bends))]
    if len(plan.bends) > 1:
        found.append(_distance(rings[0], rings[-1], body, radius))
    return tuple(dict.fromkeys(distance for distance in found if distance is not None))


def _over(
    bend: int, rings: list[_Ring], way: Walk, body: Array, radius: float
) -> CheckDistance | None:
    """Give the distance that shows a bend's angle best; None where a tape cannot take one."""
    end = next((ring for ring in rings if ring.after > bend), rings[-1])
    starts = [ring for ring in rings if ring.after <= bend]

    def shown(start: _Ring) -> float:
        # a bend taken further turns all that comes after it about the bend's end
        moved = cross(way.axes[bend], end.centre - way.nodes[2 * bend + 2])
        return abs(float(dot(moved, unit(end.centre - start.centre)))) * math.radians(1.0)

    for start in sorted(starts, key=shown, reverse=True):
        if shown(start) < LEAST_SHOWN:
            break
        distance = _distance(start, end, body, radius)
        if distance is not None:
            return distance
    return None


def _rings(plan: TubePlan) -> list[_Ring]:
    """The A end, the marks that stay on the part, and the B end, from A to B."""
    way = walk(plan.shape)
    bends = sorted(plan.bends, key=lambda bend: bend.mark)
    rings = [_Ring("A end", 0, way.nodes[0], way.directions[0])]
    from_a, to_b = plan.cuts[0].mark, plan.cuts[1].mark
    for bend in bends:
        if from_a < bend.mark < to_b:
            before = sum(other.arc_to <= bend.mark + 1e-9 for other in bends)
            rings.append(_Ring(f"mark {bend.n}", before, *_at(plan, way, bend.mark)))
    rings.append(_Ring("B end", len(bends), way.nodes[-1], way.directions[-1]))
    return rings


def _at(plan: TubePlan, way: Walk, mark: float) -> tuple[Array, Array]:
    """Centre and direction, on the free shape, of a place given on the straight stock."""
    bends = sorted(plan.bends, key=lambda bend: bend.n)
    leg_from = plan.cuts[0].mark
    for i, bend in enumerate(bends):
        if mark <= bend.arc_from:
            break
        if mark < bend.arc_to:
            share = (mark - bend.arc_from) / (bend.arc_to - bend.arc_from)
            angle_rad = np.radians(bend.angle) * share
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            centre = way.centres[i] + turn(spoke, way.axes[i], angle_rad)
            return centre, turn(way.directions[i], way.axes[i], angle_rad)
        leg_from = bend.arc_to
    leg = sum(bend.arc_to <= mark for bend in bends)
    return way.nodes[2 * leg] + (mark - leg_from) * way.directions[leg], way.directions[leg]


def _distance(first: _Ring, second: _Ring, body: Array, radius: float) -> CheckDistance | None:
    """The greatest distance between two rings, or None where a tape cannot take it."""
    a, b = first.centre, second.centre
    for _ in range(100):
        a = _far_side(first, radius, b)
        moved = _far_side(second, radius, a)
        still = float(norm(moved - b)) < 1e-10
        b = moved
        if still:
            break
    length = float(norm(b - a))
    if length < 2 * radius * SHORTEST or not _clear(a, b, body, radius):
        return None
    spans = tuple(range(first.after + 1, second.after + 1))
    return CheckDistance(first.name, second.name, length, vec(a), vec(b), spans)


def _far_side(ring: _Ring, radius: float, seen_from: Array) -> Array:
    """The point of a ring farthest from a point."""
    away = ring.centre - seen_from
    across = away - dot(away, ring.direction) * ring.direction
    if float(norm(across)) < 1e-9:
        across = any_perpendicular(ring.direction)
    return ring.centre + radius * unit(across)


def _clear(a: Array, b: Array, body: Array, radius: float) -> bool:
    """Whether a straight tape from a to b can lie beside the tube.

    The places touched are the far sides of their sections, so the tape runs past each a radius to
    the side, and must pass the rest of the tube there too. The two sides may differ by up to 60
    degrees: that makes the tape read longer by less than it is read to.
    """
    along = unit(b - a)
    beside = body[_gaps(a[None], b[None], body)[1] < 2.5 * radius]
    if not len(beside):
        return True
    one = any_perpendicular(along)
    two = cross(along, one)
    around_rad = np.radians(np.arange(0, 360, 15))[:, None]
    shift = radius * (np.cos(around_rad) * one + np.sin(around_rad) * two)
    for skew in (0, 1, -1, 2, -2, 3, -3, 4, -4):
        start, end = a + shift, b + np.roll(shift, skew, axis=0)
        if bool((_gaps(start, end, beside)[0] > 0.9 * radius).any()):
            return True
    return False


def _gaps(start: Array, end: Array, body: Array) -> tuple[Array, Array]:
    """Distances of points (m, 3) from the straight lines start to end, (n, 3) each.

    Gives the least of each line (n,) and of each point (m,).
    """
    step = (end - start)[:, None, :]
    share = np.clip(dot(body - start[:, None, :], step) / dot(step, step), 0, 1)
    gaps = norm(start[:, None, :] + share[..., None] * step - body)
    return gaps.min(axis=1), gaps.min(axis=0)
