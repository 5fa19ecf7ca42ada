"""Places along a centreline: at distances from its A end, and nearest to points."""

import numpy as np

from soapstone.geometry.centreline import Centreline, Walk
from soapstone.geometry.chain import arc_points, walk
from soapstone.geometry.vectors import Array, cross, norm, turn


def places_at(line: Centreline, alongs: Array) -> tuple[Array, Array]:
    """Points and unit directions of travel (n, 3) at distances (n,) in mm from the A end."""
    way = walk(line)
    points, directions = np.empty((2, len(alongs), 3))
    at = 0.0
    for i, leg in enumerate(line.legs):
        on = alongs >= at
        points[on] = way.nodes[2 * i] + (alongs[on] - at)[:, None] * way.directions[i]
        directions[on] = way.directions[i]
        at += leg
        if i < len(line.angles):
            on = alongs >= at
            turned_rad = (alongs[on] - at) / line.radii[i]
            points[on] = arc_points(way, i, turned_rad)
            directions[on] = turn(way.directions[i], way.axes[i], turned_rad)
            at += line.radii[i] * float(np.radians(line.angles[i]))
    return points, directions


def nearest_along(line: Centreline, points: Array, way: Walk | None = None) -> tuple[Array, Array]:
    """Places of a centreline nearest to points (n, 3): mm from its A end, and how far off, (n,).

    `way` is the line's own walk, for callers that ask again and again.
    """
    way = walk(line) if way is None else way
    best, off = np.zeros(len(points)), np.full(len(points), np.inf)
    at = 0.0

    def offer(along: Array, places: Array) -> None:
        away = norm(points - places)
        nearer = away < off
        best[nearer], off[nearer] = along[nearer], away[nearer]

    for i, leg in enumerate(line.legs):
        start, direction = way.nodes[2 * i], way.directions[i]
        share = np.clip((points - start) @ direction, 0.0, leg)
        offer(at + share, start + share[:, None] * direction)
        at += leg
        if i < len(line.angles):
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            across, away = cross(way.axes[i], spoke), points - way.centres[i]
            held_rad = float(np.radians(line.angles[i]))
            turned_rad = np.arctan2(away @ across, away @ spoke) % (2 * np.pi)
            # beyond the arc its ends are nearer, and the straights there have offered them
            turned_rad = np.where(turned_rad > held_rad, held_rad, turned_rad)
            offer(at + line.radii[i] * turned_rad, arc_points(way, i, turned_rad))
            at += line.radii[i] * held_rad
    return best, off
