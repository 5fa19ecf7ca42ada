"""Keep-outs as the arrays that the compiled search reads."""

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import hinge_rows
from soapstone.fit.route.boxes import boxes_of, tree_order
from soapstone.fit.route.contact import AT, BOUND, CENTRE, GROUP, NEED, SIZE, SWEEP, Room
from soapstone.fit.route.reach import BALL, BOX, CAPSULE, CYLINDER, HALFSPACE
from soapstone.geometry.chain import walk
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, Solid, turn_matrix
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, turn, unit

Ints = npt.NDArray[np.int64]

STEP_LENGTH = 70.0
"""mm that the far side of a swinging solid moves between two poses of its grid, about."""

MOST_POSES = (25, 11, 5)
"""Most poses about each hinge of a solid on one, two or three hinges."""

MOST_HINGES = 3
"""Hinges that the search moves; the certificate moves all."""

CELLS, SWINGING_CELLS = 28, 14
"""Cells along the longest side of a mesh that stands, and of one that swings."""

FINE = 5
"""Parts that cells near a route are cut into, along each side, when it is made to fit closely."""


class Rows(NamedTuple):
    """Convex solids of one keep-out: kind, frame, centre, size, bounding radius, rows to skip."""

    kind: Ints
    frame: Array
    centre: Array
    size: Array
    bound: Array
    skip: Ints


def build_room(
    keepouts: Sequence[KeepOut], od: float, extra: Sequence[float], near: Array | None = None
) -> Room:
    """Arrays for the compiled search.

    `extra` mm are kept beyond the gap of each keep-out. Meshes are followed more closely within
    reach of the points `near` (m, 3).
    """
    solid, count = [np.zeros((0, 21))], [np.zeros((0, 9), dtype=np.int64)]
    hinges, poses = [np.zeros((0, 8))], [np.zeros((0, 15))]
    posed = swung = 0
    for keepout, more in zip(keepouts, extra, strict=True):
        need = od / 2 + keepout.gap + more
        own = hinge_rows(keepout.hinges[:MOST_HINGES])
        rows = _rows(keepout.solid, len(own) > 0, None if near is None else (near, need))
        grid = _grid(own, rows)
        placed = _poses(rows, own, grid)
        solid.append(_solid_rows(rows, need, _sweep(placed, own, rows, grid)))
        number = np.arange(len(rows.kind))
        each = int(np.prod(grid))
        part = np.empty((len(number), 9), dtype=np.int64)
        part[:, 0], part[:, 1], part[:, 2] = rows.kind, swung, len(own)
        part[:, 3], part[:, 4], part[:, 5:8] = posed + each * number, each, grid
        part[:, 8] = rows.skip
        count.append(part)
        hinges.append(own)
        poses.append(placed.reshape(-1, 15))
        posed += each * len(number)
        swung += len(own)
    return Room(*(np.concatenate(parts) for parts in (solid, count, hinges, poses)))


def _solid_rows(rows: Rows, need: float, sweep: Array) -> Array:
    solid = np.empty((len(rows.kind), 21))
    solid[:, :CENTRE] = rows.frame.reshape(-1, 9)
    solid[:, CENTRE:SIZE], solid[:, SIZE:NEED] = rows.centre, rows.size
    solid[:, NEED], solid[:, BOUND], solid[:, SWEEP:] = need, rows.bound, sweep
    return solid


def _one(kind: int, frame: Array, centre: Array, size: Array, bound: float) -> Rows:
    return Rows(
        np.array([kind]), frame[None], centre[None], size[None], np.array([bound]), np.array([0])
    )


def _rows(solid: Solid, swings: bool, near: tuple[Array, float] | None) -> Rows:
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
    return _mesh_rows(solid, swings, near)


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
            for a, b in zip(points[:-1], points[1:], strict=True):
                made.append(_along(CAPSULE, a, b, radius + float(sagitta)))
    return Rows(*(np.concatenate(parts) for parts in zip(*made, strict=True)))


def _mesh_rows(mesh: Mesh, swings: bool, near: tuple[Array, float] | None) -> Rows:
    """Boxes that cover a mesh, in groups that can be skipped as a whole."""
    cells = SWINGING_CELLS if swings else CELLS
    refine = None if near is None or swings else (near[0], near[1], FINE)
    boxes = boxes_of(mesh, cells, refine)
    order, groups = tree_order(boxes)
    low, high = boxes.low[order], boxes.high[order]
    kinds, centres, sizes, bounds, skips = [], [], [], [], []
    # walked in order: groups that begin at a box stand before it, outer ones first
    waiting = sorted(enumerate(groups), key=lambda item: (item[1][0], -item[1][1], item[0]))
    at = 0
    begun = np.array([first for _, (first, _) in waiting])
    for box in range(len(order)):
        while at < len(waiting) and waiting[at][1][0] == box:
            first, held = waiting[at][1]
            last = first + held
            inner = int(np.sum((begun >= first) & (begun < last))) - _before(waiting, at)
            middle = (low[first:last].min(axis=0) + high[first:last].max(axis=0)) / 2
            corner = np.maximum(high[first:last] - middle, middle - low[first:last])
            kinds.append(GROUP)
            centres.append(middle)
            sizes.append(np.zeros(3))
            bounds.append(float(norm(corner).max()))
            skips.append(held + inner)
            at += 1
        kinds.append(BOX)
        centres.append((low[box] + high[box]) / 2)
        sizes.append((high[box] - low[box]) / 2)
        bounds.append(float(norm(sizes[-1])))
        skips.append(0)
    frames = np.tile(np.eye(3), (len(kinds), 1, 1))
    return Rows(
        np.array(kinds),
        frames,
        np.array(centres),
        np.array(sizes),
        np.array(bounds),
        np.array(skips),
    )


def _before(waiting: list[tuple[int, tuple[int, int]]], at: int) -> int:
    """How many groups, this one included, begin at its box and stand before what it holds."""
    first = waiting[at][1][0]
    begin = at
    while begin > 0 and waiting[begin - 1][1][0] == first:
        begin -= 1
    return at - begin + 1


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
