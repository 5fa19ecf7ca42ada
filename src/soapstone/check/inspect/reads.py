"""What tape and protractor read on tubes as made.

A tape is straight and touches the tube's surface: outside to outside is the most it can read
between two places, inside to inside the least, and centre to centre what both give half of.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from soapstone.check.inspect.places import Place, Spots, spots
from soapstone.check.making import MadeTubes, Making
from soapstone.geometry.centreline import Walk
from soapstone.geometry.vectors import Array, any_perpendicular, dot, norm, unit
from soapstone.plan.model import TubePlan

How: TypeAlias = Literal["outside", "centre", "inside"]

_STILL = 1e-11
"""mm: a tape whose ends move less than this reads its most, or least."""


@dataclass(frozen=True, slots=True)
class Taping:
    """A tape between two places."""

    start: Place
    end: Place
    how: How = "outside"


@dataclass(frozen=True, slots=True)
class Protractor:
    """A protractor on the legs on either side of a bend."""

    bend: int


@dataclass(frozen=True, slots=True)
class Height:
    """How high the underside of a place stands over a flat floor that two legs lie on.

    The legs are `leg` and the one after it, so the bend between them lies flat, the tube otherwise
    as it likes. `turned` tells that the tube is turned over: it lies so that this bend, seen from
    above and from A on, goes clockwise. Below the floor counts negative, as where the floor ends.
    """

    place: Place
    leg: int
    turned: bool = False


What: TypeAlias = Taping | Protractor | Height


def reads(what: Sequence[What], making: Making, tubes: MadeTubes) -> Array:
    """Give what each of R instruments reads on tubes as made, (..., R), mm or degrees."""
    way = tubes.walk(making.plan.shape)
    radius = making.plan.setup.od / 2
    found: dict[Place, Spots] = {}
    columns = []
    for one in what:
        if isinstance(one, Protractor):
            columns.append(tubes.angles[..., one.bend - 1])
            continue
        ends = (one.place,) if isinstance(one, Height) else (one.start, one.end)
        for place in ends:
            if place not in found:
                found[place] = spots(place, making, tubes, way)
        if isinstance(one, Height):
            columns.append(_height(one, found[one.place], way, radius))
            continue
        touched = touches(one, found[one.start], found[one.end], radius)
        columns.append(norm(touched[1] - touched[0]))
    if not columns:
        return np.zeros((*tubes.legs.shape[:-1], 0))
    return np.stack(columns, axis=-1)


def touches(what: Taping, first: Spots, second: Spots, radius: float) -> tuple[Array, Array]:
    """Give the two points, (..., 3) each, that a tape lies on; `radius` is the tube's, in mm."""
    a, b = first.point, second.point
    if what.how == "centre":
        return a, b
    far = 1.0 if what.how == "outside" else -1.0
    rings = what.start.is_ring, what.end.is_ring
    for _ in range(200):
        moved_a = _side(first, radius, b, far) if rings[0] else a
        moved_b = _side(second, radius, moved_a, far) if rings[1] else b
        still = max(float(norm(moved_a - a).max()), float(norm(moved_b - b).max())) < _STILL
        a, b = moved_a, moved_b
        if still:
            break
    return a, b


def _height(what: Height, at: Spots, way: Walk, radius: float) -> Array:
    """The lowest point of a place's section, over a floor that touches both legs from below."""
    up = (-1.0 if what.turned else 1.0) * way.axes[..., what.leg - 1, :]
    centre: Array = dot(at.centre - way.nodes[..., 2 * what.leg - 1, :], up)
    # the rim of a section that leans reaches less far down
    lean = dot(at.direction, up)
    lowest: Array = centre + radius - radius * np.sqrt(np.maximum(1 - lean**2, 0.0))
    return lowest


def _side(ring: Spots, radius: float, seen_from: Array, far: float) -> Array:
    """The point of a ring farthest from a point, or with `far` -1 nearest to it."""
    away = ring.centre - seen_from
    across = away - dot(away, ring.direction)[..., None] * ring.direction
    lost = norm(across)[..., None] < 1e-9
    if lost.any():
        across = np.where(lost, any_perpendicular(ring.direction), across)
    return ring.centre + far * radius * unit(across)


def drawn(plan: TubePlan) -> MadeTubes:
    """Give a tube as drawn in the form of one made, without leading axes."""
    shape = plan.shape
    bends = sorted(plan.bends, key=lambda bend: bend.n)
    return MadeTubes(
        np.array(shape.legs, dtype=float),
        np.array(shape.angles, dtype=float),
        np.array(shape.rotations, dtype=float),
        np.array(shape.radii, dtype=float),
        np.array([bend.arc_to - bend.arc_from for bend in bends], dtype=float),
        np.array(0.0),
    )
