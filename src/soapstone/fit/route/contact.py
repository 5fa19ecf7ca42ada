"""Compiled: solids and pieces of tube as arrays, and the distance from one to the other.

Arrays are few and wide, and rows are named by number: each array that a compiled function is given,
and each view it makes, costs compile time on a fresh machine.
"""

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapstone.fit.route.mesh import mesh_distance
from soapstone.fit.route.reach import (
    ARC,
    MESH,
    STRAIGHT,
    arc_distance,
    straight_distance,
)
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

Ints = npt.NDArray[np.int64]

CENTRE, SIZE, NEED, BOUND, SWEEP = 9, 12, 15, 16, 17
"""Columns of `Room.solid`."""

KIND, HINGE, HINGES, POSE, POSES, GRID = 0, 1, 2, 3, 4, 5
"""Columns of `Room.table`."""

AT = 12
"""Column of `Room.pose` where its hinge angles start."""


class Room(NamedTuple):
    """Solids as arrays.

    Attributes
    ----------
    solid
        (n, 21): frame as drawn (3 x 3, columns are the solid's own axes), centre (3), size (3, as
        in `point_distance`), distance to keep from the tube's centreline, radius of a ball around
        it, ball (centre, radius) that holds it wherever it swings.
    table
        (n, 13): kind, first hinge and number of hinges, first pose and number of poses, poses
        about each of up to three hinges; for a mesh, its part of `field`; number of the keep-out.
    hinge
        (m, 8): point, unit axis, from and to in radians.
    pose
        (p, 15): frame, centre and hinge angles of every place on the grid of each solid.
    field
        Signed distances of meshes at the nodes of cubic grids about their centres, one mesh after
        another; `size` is then the step of the grid.
    """

    solid: Array
    table: Ints
    hinge: Array
    pose: Array
    field: Array


class Desk(NamedTuple):
    """Scratch arrays of one descent.

    `piece` (2, 17): kind, a (3), w or u (3), n (3), radius, low, high as `straight_distance` and
    `arc_distance` take them; middle (3), half length. `found` (8, 5): distance, place on the piece,
    gradient (3). `pose` (3, 15): as in `Room`. `near`: distance at each pose of a grid.
    """

    piece: Array
    found: Array
    pose: Array
    near: Array


@compiled
def turned(poses: Array, row: int, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Bring a direction into the frame of a solid in one of its poses."""
    return (
        poses[row, 0] * x + poses[row, 3] * y + poses[row, 6] * z,
        poses[row, 1] * x + poses[row, 4] * y + poses[row, 7] * z,
        poses[row, 2] * x + poses[row, 5] * y + poses[row, 8] * z,
    )


@compiled
def touch(
    room: Room, b: int, poses: Array, row: int, desk: Desk, enough: float, into: int
) -> float:
    """Distance of piece 0 from solid `b` in a pose; row `into` of `found` gets place and way.

    Once it is clear that the distance exceeds `enough`, a larger value than it is may be given.
    """
    p, found = desk.piece, desk.found
    ax, ay, az = p[0, 1] - poses[row, 9], p[0, 2] - poses[row, 10], p[0, 3] - poses[row, 11]
    lx, ly, lz = turned(poses, row, ax, ay, az)
    ux, uy, uz = turned(poses, row, p[0, 4], p[0, 5], p[0, 6])
    kind = room.table[b, KIND]
    h0, h1, h2 = room.solid[b, SIZE], room.solid[b, SIZE + 1], room.solid[b, SIZE + 2]
    nx, ny, nz = 0.0, 0.0, 0.0
    if p[0, 0] == ARC:
        nx, ny, nz = turned(poses, row, p[0, 7], p[0, 8], p[0, 9])
    if kind == MESH:
        d, t, gx, gy, gz = mesh_distance(
            room.field, room.table, b, h0, p, lx, ly, lz, ux, uy, uz, nx, ny, nz, enough
        )
    elif p[0, 0] == STRAIGHT:
        d, t, gx, gy, gz = straight_distance(kind, h0, h1, h2, lx, ly, lz, ux, uy, uz, enough)
    else:
        d, t, gx, gy, gz = arc_distance(
            kind,
            h0,
            h1,
            h2,
            p[0, 10],
            lx,
            ly,
            lz,
            ux,
            uy,
            uz,
            nx,
            ny,
            nz,
            p[0, 11],
            p[0, 12],
        )
    found[into, 0], found[into, 1] = d, t
    for i in range(3):
        at = 3 * i
        found[into, 2 + i] = poses[row, at] * gx + poses[row, at + 1] * gy + poses[row, at + 2] * gz
    return d


@compiled
def far(piece: Array, x: float, y: float, z: float, reach: float) -> bool:
    """Tell whether the balls around piece 0 and around a solid are further than `reach` apart."""
    dx, dy, dz = piece[0, 13] - x, piece[0, 14] - y, piece[0, 15] - z
    reach += piece[0, 16]
    far: bool = dx * dx + dy * dy + dz * dz > reach * reach
    return far


@compiled
def out_of_reach(room: Room, b: int, desk: Desk) -> bool:
    """Tell by balls around both whether piece 0 keeps clear of solid `b` wherever it swings."""
    s = room.solid
    x, y, z = s[b, SWEEP], s[b, SWEEP + 1], s[b, SWEEP + 2]
    return far(desk.piece, x, y, z, s[b, SWEEP + 3] + s[b, NEED])


@compiled
def place_on(p: Array, t: float) -> tuple[float, float, float]:
    """Give the point at place `t` of piece 0."""
    if p[0, 0] == STRAIGHT:
        return p[0, 1] + t * p[0, 4], p[0, 2] + t * p[0, 5], p[0, 3] + t * p[0, 6]
    s, c = p[0, 10] * math.sin(t), p[0, 10] * (1.0 - math.cos(t))
    return (
        p[0, 1] + s * p[0, 4] + c * p[0, 7],
        p[0, 2] + s * p[0, 5] + c * p[0, 8],
        p[0, 3] + s * p[0, 6] + c * p[0, 9],
    )
