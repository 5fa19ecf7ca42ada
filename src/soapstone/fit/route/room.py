"""Keep-outs as the arrays that the compiled search reads."""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge, hinge_rows
from soapstone.fit.route.contact import AT, BOUND, CENTRE, NEED, SIZE, SWEEP, Room
from soapstone.fit.route.reach import BALL, BOX, CAPSULE, CYLINDER, HALFSPACE
from soapstone.geometry.chain import walk
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, Solid, turn_matrix
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, turn, unit

STEP_LENGTH = 70.0
"""mm that the far side of a swinging solid moves between two poses of its grid, about."""

MOST_POSES = (25, 11, 5)
"""Most poses about each hinge of a solid on one, two or three hinges."""

Row = tuple[int, Array, Array, Array, float]
"""Kind, frame, centre, size, bounding radius."""


def build_room(
    keepouts: Sequence[KeepOut], od: float, extra: Sequence[float]
) -> Room:
    """Arrays for the compiled search.

    `extra` mm are kept beyond the gap of each keep-out.
    """
    rows: list[Row] = []
    owners: list[int] = []
    for owner, keepout in enumerate(keepouts):
        for row in _rows(keepout.solid):
            rows.append(row)
            owners.append(owner)
    hinges = [keepouts[owner].hinges[:3] for owner in owners]
    need = np.array([od / 2 + keepouts[owner].gap + extra[owner] for owner in owners])
    return _room(rows, hinges, need)


def _rows(solid: Solid) -> Iterator[Row]:
    if isinstance(solid, Box):
        half = np.array(solid.size) / 2
        yield BOX, turn_matrix(solid.turn), np.array(solid.at), half, float(norm(half))
    elif isinstance(solid, Cylinder):
        yield _along(
            CYLINDER,
            np.array(solid.start, dtype=float),
            np.array(solid.end, dtype=float),
            solid.diameter / 2,
        )
    elif isinstance(solid, Ball):
        radius = solid.diameter / 2
        yield BALL, np.eye(3), np.array(solid.at), np.array([radius, 0.0, 0.0]), radius
    elif isinstance(solid, HalfSpace):
        frame = _frame(np.array(solid.normal, dtype=float))
        yield HALFSPACE, frame, np.array(solid.at), np.zeros(3), 1e9
    elif isinstance(solid, Rod):
        yield from _rod_rows(solid)
    else:
        yield from _mesh_rows(solid)


def _along(kind: int, start: Array, end: Array, radius: float) -> Row:
    half = float(norm(end - start)) / 2
    bound = half + radius if kind == CAPSULE else float(np.hypot(half, radius))
    size = np.array([radius, half, 0.0])
    return kind, _frame(end - start), (start + end) / 2, size, bound


def _frame(axis: Array) -> Array:
    z = unit(axis)
    x = any_perpendicular(z)
    return np.stack((x, cross(z, x), z), axis=1)


def _rod_rows(rod: Rod) -> Iterator[Row]:
    """Straights as capsules, arcs as short capsules widened by what their chords cut off."""
    line, radius = rod.line, rod.diameter / 2
    way = walk(line)
    for i in range(len(line.legs)):
        if line.legs[i] > 1e-6 or not line.angles:
            yield _along(CAPSULE, way.nodes[2 * i], way.nodes[2 * i + 1] + 1e-9, radius)
        if i < len(line.angles):
            parts = max(1, int(np.ceil(line.angles[i] / 15.0)))
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            axis, inward = way.axes[i], cross(way.axes[i], spoke)
            phi = np.radians(line.angles[i]) * np.linspace(0, 1, parts + 1)[:, None]
            points = way.centres[i] + np.cos(phi) * spoke + np.sin(phi) * inward
            assert axis.shape == (3,)
            sagitta = line.radii[i] * (1 - np.cos(np.radians(line.angles[i] / parts / 2)))
            for p in range(parts):
                yield _along(CAPSULE, points[p], points[p + 1], radius + float(sagitta) / 2)


def _mesh_rows(mesh: Mesh) -> Iterator[Row]:
    """A mesh as boxes around its triangles, halved until they are few and tight."""
    raise NotImplementedError


def _room(rows: list[Row], hinges: list[tuple[Hinge, ...]], need: Array) -> Room:
    solid, count = np.zeros((len(rows), 21)), np.zeros((len(rows), 8), dtype=np.int64)
    swings: list[Array] = []
    poses: list[Array] = []
    for b, (kind, frame, centre, size, bound) in enumerate(rows):
        own = list(hinge_rows(hinges[b]))
        grid = [*_grid(own, centre, bound), 1, 1, 1][:3]
        drawn = np.concatenate([frame.ravel(), centre, np.zeros(3)])
        placed = _poses(drawn, own, grid)
        solid[b, :CENTRE] = frame.ravel()
        solid[b, CENTRE:SIZE] = centre
        solid[b, SIZE:NEED] = size
        solid[b, NEED], solid[b, BOUND] = need[b], bound
        solid[b, SWEEP:] = _sweep(placed[:, 9:12], own, centre, grid, bound)
        count[b] = kind, len(swings), len(own), len(poses), len(placed), *grid
        swings += own
        poses += list(placed)
    return Room(solid, count, np.array(swings).reshape(-1, 8), np.array(poses).reshape(-1, 15))


def _poses(drawn: Array, own: list[Array], grid: list[int]) -> Array:
    """Rows of `Room.pose` of one solid over its grid, the last hinge running fastest."""
    steps = [_steps(own[j], grid[j]) if j < len(own) else [0.0] for j in range(3)]
    placed = []
    for at in product(*steps):
        row = drawn.copy()
        for hinge, angle in zip(own, at, strict=False):
            row = _turned(row, hinge, angle)
        row[AT:] = at
        placed.append(row)
    return np.array(placed)


def _turned(row: Array, hinge: Array, angle: float) -> Array:
    """Turn a frame and its centre about a hinge; radians."""
    vectors = np.concatenate([row[:9].reshape(3, 3).T, (row[9:12] - hinge[:3])[None]])
    vectors = turn(vectors, hinge[3:6], np.float64(angle))
    return np.concatenate([vectors[:3].T.ravel(), vectors[3] + hinge[:3], row[12:]])


def _grid(own: list[Array], centre: Array, bound: float) -> list[int]:
    counts = []
    for row in own:
        arm = float(norm(centre - row[:3])) + min(bound, 2000.0)
        count = int(np.ceil(arm * (row[7] - row[6]) / STEP_LENGTH)) + 1
        most = MOST_POSES[len(own) - 1]
        counts.append(1 if row[7] - row[6] < 1e-9 else min(max(count, 3), most))
    return counts


def _steps(row: Array, count: int) -> list[float]:
    if count == 1:
        return [float(row[6])]
    return [float(a) for a in np.linspace(row[6], row[7], count)]


def _sweep(centres: Array, own: list[Array], centre: Array, grid: list[int], bound: float) -> Array:
    """Give a ball that holds a solid of radius `bound` wherever its centre swings."""
    middle = (centres.min(axis=0) + centres.max(axis=0)) / 2
    slack = 0.0
    for row, count in zip(own, grid, strict=False):
        if count > 1:
            slack += float(norm(centre - row[:3])) * (row[7] - row[6]) / (count - 1)
    radius = float(norm(centres - middle).max()) + slack + bound
    return np.array([*middle, radius])
