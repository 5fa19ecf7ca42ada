"""Keep-outs as bodies with an outline in any view: convex ones exactly, others by silhouette."""

import math
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
    turn_matrix,
)
from soapstone.geometry.vectors import Array, any_perpendicular, cross, unit
from soapstone.sheets.projection import FRONT
from soapstone.sheets.silhouette import sprinkled
from soapstone.sheets.strand import strand

ROUND = 48
"""Points that a circle is drawn with."""

ROUGH = 2000
"""Points that are enough to find out where a body reaches to."""


@dataclass(frozen=True, slots=True)
class Body:
    """Points (n, 3) in mm that stand for a solid.

    Where `spacing` is 0 it is their convex hull, with `radius` mm round it; else a surface of
    which they are no farther apart than that, in mm.
    """

    points: Array
    radius: float = 0.0
    spacing: float = 0.0


def body_of(solid: Solid, spacing: float, low: Array, high: Array) -> Body | None:
    """Give a solid as a body; None for a half-space.

    Of meshes and rods, what lies outside the box from `low` to `high` may be left out, and points
    are at most `spacing` mm apart if that is not too many.
    """
    match solid:
        case Box():
            signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
            corners = signs * np.array(solid.size) / 2 @ turn_matrix(solid.turn).T
            return Body(corners + np.array(solid.at))
        case Cylinder():
            start, end = np.array(solid.start, float), np.array(solid.end, float)
            ring = _ring(unit(end - start)) * solid.diameter / 2
            return Body(np.concatenate([start + ring, end + ring]))
        case Ball():
            return Body(np.array([solid.at], float), solid.diameter / 2)
        case Mesh():
            return Body(*_surface(solid.triangles(), spacing, low, high))
        case Rod():
            return Body(*_surface(_rod_triangles(solid), spacing, low, high))
        case HalfSpace():
            return None


def reach_of(solid: Solid) -> Body | None:
    """Give a body of not too many points that reaches just as far as a solid in x, y and z."""
    everywhere = np.full(3, np.inf)
    if isinstance(solid, Mesh | Rod):
        corners = solid.triangles() if isinstance(solid, Mesh) else _rod_triangles(solid)
        points = corners.reshape(-1, 3)
        extremes = points[[*points.argmin(axis=0), *points.argmax(axis=0)]]
        return Body(np.concatenate([points[:: max(1, len(points) // ROUGH)], extremes]))
    return body_of(solid, 1.0, -everywhere, everywhere)


def outline(body: Body, seen: Array, scale: float) -> Array:
    """Outline (m, 2) of a convex body whose points are `seen` (n, 2) on the page, anticlockwise."""
    if body.radius:
        seen = (seen[:, None] + _circle() * body.radius * scale).reshape(-1, 2)
    return hull(seen)


def hull(points: Array) -> Array:
    """Give the convex hull (m, 2) of points (n, 2), anticlockwise (Andrew's monotone chain)."""
    ordered = sorted(set(map(tuple, points.tolist())))
    chains: list[tuple[float, float]] = []
    for way in (ordered, ordered[::-1]):
        chain: list[tuple[float, float]] = []
        for x, y in way:
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-2:]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                chain.pop()
            chain.append((x, y))
        chains += chain[:-1]
    return np.array(chains or ordered)


def _surface(
    triangles: Array, spacing: float, low: Array, high: Array
) -> tuple[Array, float, float]:
    points, reached = sprinkled(triangles, spacing, low, high)
    return points, 0.0, reached


def _circle() -> Array:
    turns_rad = np.arange(ROUND) * (2 * math.pi / ROUND)
    return np.stack([np.cos(turns_rad), np.sin(turns_rad)], axis=1)


def _ring(direction: Array) -> Array:
    """Circle (n, 3) of radius 1 about the origin, square to a direction."""
    one = any_perpendicular(direction)
    result: Array = _circle() @ np.array([one, cross(direction, one)])
    return result


def _rod_triangles(rod: Rod) -> Array:
    """Triangles (n, 3, 3) of a rod's surface, its ends left open."""
    s = strand(rod.line, max(rod.diameter, 20.0), FRONT, 1.0)
    # the view's axes are x, z, -y: back to space
    places, directions = (np.stack([a[:, 0], -a[:, 2], a[:, 1]], axis=1) for a in (s.seen, s.going))
    rings = np.stack(
        [
            at + _ring(unit(d))[::4] * rod.diameter / 2
            for at, d in zip(places, directions, strict=True)
        ]
    )
    here, ahead = rings[:-1], rings[1:]
    beside, beyond = np.roll(here, -1, axis=1), np.roll(ahead, -1, axis=1)
    halves = [np.stack([here, ahead, beside], axis=2), np.stack([beside, ahead, beyond], axis=2)]
    return np.concatenate([half.reshape(-1, 3, 3) for half in halves])
