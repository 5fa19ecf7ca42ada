"""Gaps found by looking at very many points and angles, written apart from the code they judge.

A point's distance to each solid is worked out from that solid's definition alone, in numpy. The
least over a tube and all hinge angles is then found by grids that close in on the best places of
the grid before. What they find is an upper bound of the true least gap.
"""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.measure import length
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
)
from soapstone.geometry.vectors import Array


def rotation(axis: Array, angle_rad: float) -> Array:
    """Matrix of a right-handed turn, from the axis' cross product matrix (Rodrigues)."""
    x, y, z = np.asarray(axis) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    turned: Array = np.eye(3) + np.sin(angle_rad) * k + (1 - np.cos(angle_rad)) * k @ k
    return turned


def points_at(line: Centreline, s: Array) -> Array:
    """Points (n, 3) of a centreline at distances (n,) along it."""
    way = walk(line)
    ends = [0.0]
    for i, leg in enumerate(line.legs):
        ends.append(ends[-1] + leg)
        if i < len(line.angles):
            ends.append(ends[-1] + line.radii[i] * np.radians(line.angles[i]))
    s, out = np.minimum(s, ends[-1]), np.empty((len(s), 3))
    for i in range(len(ends) - 1):
        on = (s >= ends[i]) & (s <= ends[i + 1]) if i == 0 else (s > ends[i]) & (s <= ends[i + 1])
        along = s[on] - ends[i]
        leg = i // 2
        if i % 2 == 0:
            out[on] = way.nodes[i] + along[:, None] * way.directions[leg]
        else:
            spoke = way.nodes[i] - way.centres[leg]
            phi = along[:, None] / line.radii[leg]
            out[on] = (
                way.centres[leg]
                + np.cos(phi) * spoke
                + np.sin(phi) * line.radii[leg] * (way.directions[leg])
            )
    return out


def segment_distance(points: Array, a: Array, b: Array) -> Array:
    """Distances of points (n, 3) to the segment a b."""
    along = b - a
    t = np.clip((points - a) @ along / max(float(along @ along), 1e-300), 0, 1)
    return np.linalg.norm(points - a - t[:, None] * along, axis=1)


def triangle_distance(points: Array, triangle: Array) -> Array:
    """Distances of points (n, 3) to a triangle: its plane if they are over it, else its edges."""
    a, b, c = triangle
    best = np.minimum.reduce([segment_distance(points, *e) for e in ((a, b), (b, c), (c, a))])
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal)
    if size < 1e-9:
        return best
    normal = normal / size
    over = np.ones(len(points), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        over &= (points - p) @ np.cross(normal, q - p) >= 0
    return np.where(over, np.minimum(best, np.abs((points - a) @ normal)), best)


def mesh_distance(points: Array, mesh: Mesh, closed: bool) -> Array:
    """Signed distances to a mesh; inside where it fills the whole sphere of directions.

    Solid angle of a triangle: A. van Oosterom, J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    triangles = mesh.triangles()
    best = np.minimum.reduce([triangle_distance(points, t) for t in triangles])
    if not closed:
        return best
    total = np.zeros(len(points))
    for t in triangles:
        a, b, c = (corner - points for corner in t)
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        over = (a * np.cross(b, c)).sum(axis=1)
        under = (a * b).sum(axis=1) * lc + (b * c).sum(axis=1) * la + (c * a).sum(axis=1) * lb
        total += 2 * np.arctan2(over, la * lb * lc + under)
    return np.where(np.abs(total) > 2 * np.pi, -best, best)


def box_distance(points: Array, box: Box) -> Array:
    """Signed distances of points (n, 3) to a box: from its nearest point, or its nearest face."""
    rx, ry, rz = np.radians(box.turn)
    matrix = rotation([0, 0, 1], rz) @ rotation([0, 1, 0], ry) @ rotation([1, 0, 0], rx)
    local, half = (points - np.array(box.at)) @ matrix, np.array(box.size) / 2
    outside = np.linalg.norm(local - np.clip(local, -half, half), axis=1)
    return np.where(outside > 0, outside, -np.min(half - np.abs(local), axis=1))


def cylinder_distance(points: Array, cylinder: Cylinder) -> Array:
    """Signed distances of points (n, 3) to a cylinder: beyond its side, its ends, or both."""
    start, axis = np.array(cylinder.start), np.subtract(cylinder.end, cylinder.start)
    length = np.linalg.norm(axis)
    up = (points - start) @ axis / length
    across = np.linalg.norm(np.cross(points - start, axis / length), axis=1)
    side, end = across - cylinder.diameter / 2, np.maximum(-up, up - length)
    corner = np.hypot(np.maximum(side, 0), np.maximum(end, 0))
    return np.where((side > 0) | (end > 0), corner, np.maximum(side, end))


def solid_distance(points: Array, solid: Solid, closed: bool = True) -> Array:
    """Signed distances of points (n, 3) to a drawn solid."""
    match solid:
        case Box():
            return box_distance(points, solid)
        case Cylinder():
            return cylinder_distance(points, solid)
        case Ball():
            return np.linalg.norm(points - np.array(solid.at), axis=1) - solid.diameter / 2
        case HalfSpace():
            normal = np.array(solid.normal) / np.linalg.norm(solid.normal)
            return (points - np.array(solid.at)) @ normal
        case Rod():
            return line_distance(points, solid.line) - solid.diameter / 2
        case Mesh():
            return mesh_distance(points, solid, closed)


def line_distance(points: Array, line: Centreline) -> Array:
    """Distances of points to a centreline: to its straights, and to its arcs from their centres."""
    way = walk(line)
    ends = way.nodes.reshape(-1, 2, 3)
    found = [segment_distance(points, start, end) for start, end in ends]
    for i, angle in enumerate(line.angles):
        away, radius = points - way.centres[i], line.radii[i]
        spoke = (way.nodes[2 * i + 1] - way.centres[i]) / radius
        phi = np.degrees(np.arctan2(away @ way.directions[i], away @ spoke)) % 360
        flat = np.hypot(away @ way.directions[i], away @ spoke)
        on_arc = np.hypot(flat - radius, away @ way.axes[i])
        found.append(np.where(phi <= angle, on_arc, np.inf))
    return np.minimum.reduce(found)


def seen_from(points: Array, hinges: tuple[Hinge, ...], angles: Sequence[float]) -> Array:
    """Points (n, 3) as seen from a solid swung by `angles`: turned back, last hinge first."""
    for hinge, angle in reversed(list(zip(hinges, angles, strict=True))):
        through = np.array(hinge.through)
        points = (points - through) @ rotation(np.array(hinge.along), np.radians(angle)) + through
    return points


def gap_at(
    line: Centreline, od: float, keepout: KeepOut, s: float, angles: Sequence[float]
) -> float:
    """Gap at one place of the tube, with the hinges at some angles."""
    points = seen_from(points_at(line, np.array([s])), keepout.hinges, angles)
    closed = keepout.name != "open mesh"
    return float(solid_distance(points, keepout.solid, closed)[0]) - od / 2


FINE = ((241,), (161, 61), (81, 21, 21))
"""Points of the first grid along the tube and over each hinge, by how many hinges there are."""


def sampled_gap(
    line: Centreline,
    od: float,
    keepout: KeepOut,
    rounds: int = 9,
    places: int = 40,
    grid: Sequence[tuple[int, ...]] = FINE,
) -> float:
    """Least gap found by grids that close in on the best places; `open mesh` is a mesh's name."""
    bounds = np.array([(0.0, length(line)), *((h.start, h.stop) for h in keepout.hinges)])
    numbers = grid[len(keepout.hinges)]
    cells, best = [(bounds[:, 0], bounds[:, 1])], np.inf
    for turn in range(rounds):
        looked = [dip for low, high in cells for dip in _dips(line, keepout, low, high, numbers)]
        looked.sort(key=lambda dip: dip[0])
        best = min(best, looked[0][0])
        cells = [
            (np.clip(at - step, *bounds.T), np.clip(at + step, *bounds.T))
            for _, at, step in looked[: places if turn == 0 else places // 3]
        ]
        numbers = (9,) * len(bounds)
    return best - od / 2


def _dips(
    line: Centreline, keepout: KeepOut, low: Array, high: Array, numbers: tuple[int, ...]
) -> Iterator[tuple[float, Array, Array]]:
    """Distance, place and grid steps wherever a grid row along the tube has a dip."""
    axes = [np.linspace(a, b, n) for a, b, n in zip(low, high, numbers, strict=True)]
    steps = np.array([axis[1] - axis[0] for axis in axes])
    on_line = points_at(line, axes[0])
    for angles in product(*axes[1:]):
        points = seen_from(on_line, keepout.hinges, angles)
        d = solid_distance(points, keepout.solid, keepout.name != "open mesh")
        around = np.concatenate([[np.inf], d, [np.inf]])
        for i in np.flatnonzero((d <= around[:-2]) & (d <= around[2:])):
            yield float(d[i]), np.array([axes[0][i], *angles]), steps
