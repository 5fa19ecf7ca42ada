"""Keep-outs as the arrays that the compiled search reads."""

from collections.abc import Callable, Sequence
from itertools import pairwise, product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import hinge_rows, poses
from soapstone.fit.route.contact import AT, BOUND, CENTRE, NEED, SIZE, SWEEP, Room
from soapstone.fit.route.reach import BALL, BOX, CAPSULE, CYLINDER, HALFSPACE, MESH
from soapstone.geometry.chain import walk
from soapstone.geometry.distance import field_of
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, turn_matrix
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, turn, unit

Ints = npt.NDArray[np.int64]

STEP_LENGTH = 70.0
"""mm that the far side of a swinging solid moves between two poses of its grid, about."""

MOST_POSES = (25, 11, 5)
"""Most poses about each hinge of a solid on one, two or three hinges."""

MOST_HINGES = 3
"""Hinges that the search moves; the certificate moves all."""

NODES = 60_000
"""Distances that a mesh's grid holds, about."""

LEAST_STEP = 2.0
"""mm: a mesh's grid is no finer."""

PARTS = 16
"""A mesh's grid is filled in so many parts."""

SPARE = 50.0
"""mm that a mesh's grid reaches further than is needed, for when more clearance is asked for."""

OWNER = 12
"""Column of `Room.table`: number of the keep-out."""


class Rows(NamedTuple):
    """Convex solids of one keep-out, or one mesh: kind, frame, centre, size, bounding radius.

    `shape` (3,) and `field` are the grid of a mesh.
    """

    kind: Ints
    frame: Array
    centre: Array
    size: Array
    bound: Array
    shape: Ints
    field: Array


Fields = dict[int, tuple[float, Rows]]
"""Rows of meshes, and how many mm their grids reach beyond them, by the mesh's id."""


def widened(room: Room, extra: Array) -> Room:
    """Ask for more distance: mm by keep-out."""
    solid = room.solid.copy()
    solid[:, NEED] += extra[room.table[:, OWNER]]
    return room._replace(solid=solid)


def build_room(
    keepouts: Sequence[KeepOut],
    od: float,
    extra: float,
    fields: Fields | None = None,
    check: Callable[[], None] = lambda: None,
) -> Room:
    """Arrays for the compiled search; `extra` mm are kept beyond each gap.

    `fields` keeps the grids of meshes from one call to the next. `check` is called every now and
    then while a grid is filled, and may raise to stop.
    """
    fields = {} if fields is None else fields
    solid, count = [np.zeros((0, 21))], [np.zeros((0, 13), dtype=np.int64)]
    hinges, placed, field = [np.zeros((0, 8))], [np.zeros((0, 15))], [np.zeros(0)]
    posed = swung = filled = 0
    for owner, keepout in enumerate(keepouts):
        need = od / 2 + keepout.gap + extra
        own = hinge_rows(keepout.hinges[:MOST_HINGES])
        rows = _rows(keepout, need, fields, check)
        grid = _grid(own, rows)
        where = _poses(rows, own, grid)
        solid.append(_solid_rows(rows, need, _sweep(where, own, rows, grid)))
        number = np.arange(len(rows.kind))
        each = int(np.prod(grid))
        part = np.empty((len(number), 13), dtype=np.int64)
        part[:, 0], part[:, 1], part[:, 2] = rows.kind, swung, len(own)
        part[:, 3], part[:, 4], part[:, 5:8] = posed + each * number, each, grid
        part[:, 8], part[:, 9:12], part[:, OWNER] = filled, rows.shape, owner
        count.append(part)
        hinges.append(own)
        placed.append(where.reshape(-1, 15))
        field.append(rows.field)
        posed += each * len(number)
        swung += len(own)
        filled += len(rows.field)
    return Room(
        np.concatenate(solid),
        np.concatenate(count),
        np.concatenate(hinges),
        np.concatenate(placed),
        np.concatenate(field),
    )


def _solid_rows(rows: Rows, need: float, sweep: Array) -> Array:
    solid = np.empty((len(rows.kind), 21))
    solid[:, :CENTRE] = rows.frame.reshape(-1, 9)
    solid[:, CENTRE:SIZE], solid[:, SIZE:NEED] = rows.centre, rows.size
    solid[:, NEED], solid[:, BOUND], solid[:, SWEEP:] = need, rows.bound, sweep
    return solid


def _one(kind: int, frame: Array, centre: Array, size: Array, bound: float) -> Rows:
    return Rows(
        np.array([kind]),
        frame[None],
        centre[None],
        size[None],
        np.array([bound]),
        np.zeros(3, dtype=np.int64),
        np.zeros(0),
    )


def _rows(keepout: KeepOut, need: float, fields: Fields, check: Callable[[], None]) -> Rows:
    solid = keepout.solid
    if isinstance(solid, Box):
        half = np.array(solid.size, dtype=float) / 2
        at = np.array(solid.at, dtype=float)
        return _one(BOX, turn_matrix(solid.turn), at, half, float(norm(half)))
    if isinstance(solid, Cylinder):
        start, end = np.array(solid.start, dtype=float), np.array(solid.end, dtype=float)
        return _along(CYLINDER, start, end, solid.diameter / 2)
    if isinstance(solid, Ball):
        radius = solid.diameter / 2
        size = np.array([radius, 0.0, 0.0])
        return _one(BALL, np.eye(3), np.array(solid.at, dtype=float), size, radius)
    if isinstance(solid, HalfSpace):
        frame = _frame(np.array(solid.normal, dtype=float))
        return _one(HALFSPACE, frame, np.array(solid.at, dtype=float), np.zeros(3), 1e9)
    if isinstance(solid, Rod):
        return _rod_rows(solid)
    known = fields.get(id(solid))
    if known is None or known[0] < need:
        known = fields[id(solid)] = need + SPARE, _mesh_rows(keepout, need + SPARE, check)
    return known[1]


def _along(kind: int, start: Array, end: Array, radius: float) -> Rows:
    half = float(norm(end - start)) / 2
    bound = half + radius if kind == CAPSULE else float(np.hypot(half, radius))
    size = np.array([radius, half, 0.0])
    return _one(kind, _frame(end - start), (start + end) / 2, size, bound)


def _frame(axis: Array) -> Array:
    z = unit(axis)
    x = any_perpendicular(z)
    return np.stack((x, cross(z, x), z), axis=1)


def _rod_rows(rod: Rod) -> Rows:
    """Straights as capsules, arcs as short capsules widened by what their chords cut off."""
    line, radius = rod.line, rod.diameter / 2
    way = walk(line)
    made = []
    for i, leg in enumerate(line.legs):
        if leg > 1e-6:
            made.append(_along(CAPSULE, way.nodes[2 * i], way.nodes[2 * i + 1], radius))
        if i < len(line.angles):
            parts = max(1, int(np.ceil(line.angles[i] / 15.0)))
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            phi = np.radians(line.angles[i]) * np.linspace(0, 1, parts + 1)
            points = way.centres[i] + turn(spoke, way.axes[i], phi)
            sagitta = line.radii[i] * (1 - np.cos(np.radians(line.angles[i] / parts / 2)))
            for a, b in pairwise(points):
                made.append(_along(CAPSULE, a, b, radius + float(sagitta)))
    return Rows(
        np.concatenate([row.kind for row in made]),
        np.concatenate([row.frame for row in made]),
        np.concatenate([row.centre for row in made]),
        np.concatenate([row.size for row in made]),
        np.concatenate([row.bound for row in made]),
        made[0].shape,
        made[0].field,
    )


def _mesh_rows(keepout: KeepOut, reach: float, check: Callable[[], None]) -> Rows:
    """One row, and signed distances on a grid that goes `reach` mm beyond the mesh."""
    from soapstone.geometry.distance_field import field_distances

    assert isinstance(keepout.solid, Mesh)
    check()
    triangles = keepout.solid.triangles()
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    side = high - low + 2 * reach
    step = max(float(np.cbrt(np.prod(side) / NODES)), LEAST_STEP)
    shape = np.ceil(side / step).astype(np.int64) + 1
    middle = (low + high) / 2
    axes = [step * (np.arange(n) - (n - 1) / 2) for n in shape]
    points = middle + np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    standing = np.zeros((1, 0))
    room = field_of([keepout.packed], [poses((), standing)], [standing])
    parts = []
    for part in np.array_split(points, PARTS):
        check()
        parts.append(field_distances(room, part, np.inf)[0][:, 0])
    field = np.concatenate(parts)
    bound = float(norm(high - low)) / 2
    size = np.array([[step, 0.0, 0.0]])
    frame = np.eye(3)[None]
    return Rows(np.array([MESH]), frame, middle[None], size, np.array([bound]), shape, field)


def _poses(rows: Rows, own: Array, grid: list[int]) -> Array:
    """Rows of `Room.pose` (r, p, 15) over the grid, the last hinge running fastest."""
    steps = [_steps(own[j], grid[j]) if j < len(own) else [0.0] for j in range(MOST_HINGES)]
    placed = np.empty((len(rows.kind), int(np.prod(grid)), 15))
    for p, at in enumerate(product(*steps)):
        axes, centre = np.swapaxes(rows.frame, 1, 2), rows.centre
        for hinge, angle in zip(own, at, strict=False):
            turned = np.float64(angle)
            axes = turn(axes, hinge[3:6], turned)
            centre = hinge[:3] + turn(centre - hinge[:3], hinge[3:6], turned)
        placed[:, p, :9] = np.swapaxes(axes, 1, 2).reshape(-1, 9)
        placed[:, p, 9:AT], placed[:, p, AT:] = centre, at
    return placed


def _grid(own: Array, rows: Rows) -> list[int]:
    """Poses about each of three hinges."""
    counts = [1, 1, 1]
    for j, row in enumerate(own):
        arm = float((norm(rows.centre - row[:3]) + np.minimum(rows.bound, 2000.0)).max())
        count = int(np.ceil(arm * (row[7] - row[6]) / STEP_LENGTH)) + 1
        if row[7] - row[6] > 1e-9:
            counts[j] = min(max(count, 3), MOST_POSES[len(own) - 1])
    return counts


def _steps(row: Array, count: int) -> list[float]:
    if count == 1:
        return [float(row[6])]
    return [float(a) for a in np.linspace(row[6], row[7], count)]


def _sweep(placed: Array, own: Array, rows: Rows, grid: list[int]) -> Array:
    """Balls (r, 4) that hold each solid wherever it swings."""
    centres = placed[:, :, 9:12]
    middle = (centres.min(axis=1) + centres.max(axis=1)) / 2
    radius = norm(centres - middle[:, None]).max(axis=1) + rows.bound
    for hinge, count in zip(own, grid, strict=False):
        if count > 1:
            arm = norm(rows.centre - hinge[:3])
            if len(own) > 1:
                arm = arm + norm(own[:, :3] - hinge[:3]).max()
            radius = radius + arm * (hinge[7] - hinge[6]) / (count - 1)
    return np.concatenate([middle, radius[:, None]], axis=1)
