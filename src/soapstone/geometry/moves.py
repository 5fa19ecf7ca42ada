"""Centrelines reversed, mirrored and moved."""

from dataclasses import replace

import numpy as np

from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, cross, dot, turn, unit


def reverse(line: Centreline) -> Centreline:
    """Travel the same tube from its B end; twice gives the tube back.

    Every bend axis changes sign with the direction of travel, so rotations keep theirs.
    """
    way = walk(line)
    direction = way.directions[-1]
    up = cross(way.axes[-1], direction) if line.angles else np.array(line.up, dtype=float)
    return Centreline(
        start=vec(way.nodes[-1]),
        along=vec(-direction),
        up=vec(up),
        legs=line.legs[::-1],
        angles=line.angles[::-1],
        rotations=(0.0, *line.rotations[:0:-1]) if line.rotations else (),
        radii=line.radii[::-1],
    )


def mirror(line: Centreline, at: Vec3, normal: Vec3) -> Centreline:
    """Reflect in the plane through `at` with the given normal (any length but zero).

    Legs and angles stay; every rotation changes sign (180 stays 180).
    """
    across = unit(np.array(normal, dtype=float))
    if not across.any():
        raise ValueError("the normal of a mirror plane must not be zero")
    origin = np.array(at, dtype=float)

    def reflected(v: Array) -> Array:
        return v - 2 * dot(v, across) * across

    return replace(
        line,
        start=vec(origin + reflected(np.array(line.start, dtype=float) - origin)),
        along=vec(reflected(np.array(line.along, dtype=float))),
        up=vec(reflected(np.array(line.up, dtype=float))),
        rotations=tuple(r if r in (0.0, 180.0) else -r for r in line.rotations),
    )


def move(
    line: Centreline,
    by: Vec3 = (0.0, 0.0, 0.0),
    axis: Vec3 = (0.0, 0.0, 1.0),
    angle: float = 0.0,
) -> Centreline:
    """Turn right-handed by `angle` degrees about `axis` through the origin, then shift."""
    about, angle_rad = unit(np.array(axis, dtype=float)), np.radians(np.float64(angle))

    def turned(v: Vec3) -> Array:
        return turn(np.array(v, dtype=float), about, angle_rad)

    return replace(
        line,
        start=vec(turned(line.start) + np.array(by)),
        along=vec(turned(line.along)),
        up=vec(turned(line.up)),
    )
