"""A tube as it is handed to other programs: its centreline, its name, its section."""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, walk
from soapstone.geometry.solids import Faces
from soapstone.geometry.vectors import Array, any_perpendicular, cross, turn, unit

ROUND = 32
"""Sides that a round section is given as triangles."""

ARC_STEP = 4.0
"""Degrees of a bend in one row of triangles."""


@dataclass(frozen=True, slots=True)
class SolidTube:
    """A tube of the free shape: outside diameter and wall in mm."""

    name: str
    line: Centreline
    od: float
    wall: float


def tube_mesh(tube: SolidTube) -> tuple[Array, Faces]:
    """Give a tube's closed surface, bore and cut ends too: vertices (n, 3) in mm, faces (m, 3).

    Triangles go anticlockwise seen from outside. The corners of the sides lie on the round surface.
    """
    centres, along = stations(tube.line)
    across = _carried(along)
    other = cross(along, across)
    turned = 2 * np.pi * np.arange(ROUND) / ROUND
    out = np.cos(turned)[:, None] * across[:, None] + np.sin(turned)[:, None] * other[:, None]
    rings = [centres[:, None] + radius * out for radius in (tube.od / 2, tube.od / 2 - tube.wall)]
    vertices = np.concatenate([ring.reshape(-1, 3) for ring in rings])
    count = len(centres)
    i, k = np.meshgrid(np.arange(count - 1), np.arange(ROUND), indexing="ij")
    a, b = (i * ROUND + k).ravel(), (i * ROUND + (k + 1) % ROUND).ravel()
    outer = [np.stack([a, b, a + ROUND], 1), np.stack([b, b + ROUND, a + ROUND], 1)]
    inside = count * ROUND
    inner = [face[:, ::-1] + inside for face in outer]
    side = np.arange(ROUND)
    after = (side + 1) % ROUND
    last = (count - 1) * ROUND
    start = [
        np.stack([side, side + inside, after], 1),
        np.stack([after, side + inside, after + inside], 1),
    ]
    end = [face[:, ::-1] + last for face in start]
    return vertices, np.concatenate([*outer, *inner, *start, *end]).astype(np.int64)


def stations(line: Centreline, arc_step: float = ARC_STEP) -> tuple[Array, Array]:
    """Points (n, 3) along a centreline and the directions there, by degrees of its bends."""
    way = walk(line)
    centres, along = [way.nodes[:1]], [way.directions[:1]]
    for i in range(len(line.legs)):
        if i < len(line.angles):
            count = max(2, int(np.ceil(line.angles[i] / arc_step)))
            turned = np.linspace(0, np.radians(line.angles[i]), count + 1)
            centres.append(arc_points(way, i, turned))
            along.append(turn(way.directions[i], way.axes[i], turned))
    centres.append(way.nodes[-1:])
    along.append(way.directions[-1:])
    points, ways = np.concatenate(centres), np.concatenate(along)
    kept = np.concatenate(([True], np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-9))
    return points[kept], unit(ways[kept])


def _carried(along: Array) -> Array:
    """Directions (n, 3) square to the tube, carried along it without twist."""
    across = np.empty_like(along)
    across[0] = any_perpendicular(along[0])
    for i in range(1, len(along)):
        kept = across[i - 1] - (across[i - 1] @ along[i]) * along[i]
        across[i] = unit(kept)
    return across
