"""Named points that a tube passes, as places on it that keep their share of their piece."""

from collections.abc import Mapping

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3
from soapstone.plan.model import TubePlan

AT_AN_END = 1.0
"""mm from an end within which a place is that end, which the budget has anyway."""


def places_passed(
    plan: TubePlan, points: Mapping[str, Vec3]
) -> tuple[tuple[str, tuple[int, float]], ...]:
    """Give name, piece (straights even, arcs odd) and share of it, for each point on the tube.

    A point counts that lies inside the tube, or is the corner of one of its bends, whose middle is
    taken then. In order from A.
    """
    way = walk(plan.shape)
    found = []
    for name, at in points.items():
        point = np.array(at, dtype=float)
        off, place = min(_nearest(plan, point, piece) for piece in range(2 * len(plan.bends) + 1))
        ends = np.linalg.norm(way.nodes[[0, -1]] - point, axis=1)
        if ends.min() <= AT_AN_END:
            continue
        corners = np.linalg.norm(np.array(plan.points) - point, axis=1)
        corner = int(np.argmin(corners))
        inner = 0 < corner < len(corners) - 1 and len(corners) == len(plan.bends) + 2
        if inner and corners[corner] <= AT_AN_END:
            found.append((name, (2 * corner - 1, 0.5)))
        elif off <= plan.setup.od / 2:
            found.append((name, place))
    return tuple(sorted(found, key=lambda one: one[1]))


def _nearest(plan: TubePlan, point: Array, piece: int) -> tuple[float, tuple[int, float]]:
    """How near a piece comes to a point, in mm, and where."""
    way, i = walk(plan.shape), piece // 2
    node = way.nodes[piece]
    if piece % 2 == 0:
        long = plan.shape.legs[i]
        share = float(np.clip((point - node) @ way.directions[i] / max(long, 1e-9), 0.0, 1.0))
        place = node + share * long * way.directions[i]
        return float(np.linalg.norm(point - place)), (piece, share)
    spoke, axis = node - way.centres[i], way.axes[i]
    across = np.cross(axis, spoke)
    out = point - way.centres[i]
    angle = np.radians(plan.shape.angles[i])
    turned = float(np.arctan2(out @ across, out @ spoke)) % (2 * np.pi)
    if turned > angle:
        turned = 0.0 if turned > np.pi + angle / 2 else float(angle)
    place = way.centres[i] + np.cos(turned) * spoke + np.sin(turned) * across
    return float(np.linalg.norm(point - place)), (piece, turned / float(angle))
