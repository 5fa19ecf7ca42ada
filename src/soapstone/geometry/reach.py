"""How far round tubes reach in any direction: their support function, in closed form.

What holds several tubes is the hull of them all, so everything here takes any number of tubes, each
a centreline and its outside diameter in mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, dot, unit

Rod: TypeAlias = tuple[Centreline, float]


@dataclass(frozen=True, slots=True)
class Body:
    """The sections and arcs that tubes reach furthest with.

    Attributes
    ----------
    at, going, radius
        (k, 3), (k, 3), (k,): centres, directions and radii in mm of the sections at the ends of all
        straights.
    centre, spoke, onward, bend, angle, arc_radius
        (n, 3), (n, 3), (n, 3), (n,), (n,), (n,): of every arc its centre, the unit vectors from
        there to its start and along its start, its radius, its angle in radians, and the
        radius of the tube's section.
    ends
        (e, 3): the ends of the tubes.
    """

    at: Array
    going: Array
    radius: Array
    centre: Array
    spoke: Array
    onward: Array
    bend: Array
    angle: Array
    arc_radius: Array
    ends: Array


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a body reaches along m directions: `far` (m,) in mm, at the points `touch` (m, 3)."""

    far: Array
    touch: Array


def body_of(rods: Sequence[Rod]) -> Body:
    """Bring tubes together as one body."""
    parts = [_part(line, od / 2) for line, od in rods]
    return Body(*(np.concatenate(each) for each in zip(*parts, strict=True)))


def _part(line: Centreline, radius: float) -> tuple[Array, ...]:
    way, count = walk(line), len(line.angles)
    spokes = unit(way.nodes[1:-1:2] - way.centres) if count else np.empty((0, 3))
    return (
        way.nodes,
        np.repeat(way.directions, 2, axis=0),
        np.full(2 * count + 2, radius),
        way.centres,
        spokes,
        way.directions[:-1],
        np.array(line.radii, dtype=float),
        np.radians(np.array(line.angles, dtype=float)),
        np.full(count, radius),
        way.nodes[[0, -1]],
    )


def moved(body: Body, turn: Array, shift: Array) -> Body:
    """Turn a body by a matrix (3, 3) about the origin, then shift it by (3,) mm."""
    return Body(
        body.at @ turn.T + shift,
        body.going @ turn.T,
        body.radius,
        body.centre @ turn.T + shift,
        body.spoke @ turn.T,
        body.onward @ turn.T,
        body.bend,
        body.angle,
        body.arc_radius,
        body.ends @ turn.T + shift,
    )


def together(bodies: Sequence[Body]) -> Body:
    """Bring bodies together as one."""
    names = Body.__slots__
    return Body(*(np.concatenate([getattr(body, name) for body in bodies]) for name in names))


def far(body: Body, directions: Array) -> Array:
    """Give how far in mm the tubes reach along unit directions (..., 3), flat ends included. Exact.

    A section of radius r whose direction is d reaches r sqrt(1 - (d.u)^2) beyond its centre along
    u. On an arc of radius R > r that sum has one greatest value, where the tube runs square to u;
    without that place on the arc the greatest is at an end.
    """
    ends, _ = _sections(body, directions)
    found: Array = ends.max(axis=-1)
    if len(body.bend):
        found = np.maximum(found, _arcs(body, directions)[0].max(axis=-1))
    return found


def reach(body: Body, directions: Array) -> Reach:
    """Give how far the tubes reach along unit directions (m, 3), as `far`, and a point there."""
    rows = np.arange(len(directions))
    ends, across = _sections(body, directions)
    best = ends.argmax(axis=1)
    value = ends[rows, best]
    going = body.going[best]
    side = directions - dot(directions, going)[:, None] * going
    wide = np.maximum(across[rows, best], 1e-12)
    touch = body.at[best] + (body.radius[best] / wide)[:, None] * side
    if not len(body.bend):
        return Reach(value, touch)
    arcs, phi_rad = _arcs(body, directions)
    best = arcs.argmax(axis=1)
    turned = phi_rad[rows, best][:, None]
    radial = np.cos(turned) * body.spoke[best] + np.sin(turned) * body.onward[best]
    on_arc = body.centre[best] + body.bend[best][:, None] * radial
    on_arc += body.arc_radius[best][:, None] * directions
    most = arcs[rows, best]
    touch = np.where((most > value)[:, None], on_arc, touch)
    return Reach(np.maximum(most, value), touch)


def _sections(body: Body, directions: Array) -> tuple[Array, Array]:
    """How far every section reaches (..., k), and the sine between it and the direction."""
    across = np.sqrt(np.clip(1 - (directions @ body.going.T) ** 2, 0, None))
    return directions @ body.at.T + body.radius * across, across


def _arcs(body: Body, directions: Array) -> tuple[Array, Array]:
    """How far every arc reaches (..., n) where it runs square to the direction, and at what angle.

    Minus infinity where it does so nowhere.
    """
    outward, onward = directions @ body.spoke.T, directions @ body.onward.T
    phi_rad = np.arctan2(onward, outward) % (2 * np.pi)
    reached = directions @ body.centre.T + body.bend * np.hypot(outward, onward) + body.arc_radius
    return np.where(phi_rad <= body.angle, reached, -np.inf), phi_rad
