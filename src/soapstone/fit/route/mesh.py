"""Compiled: least distance from a straight or an arc to a mesh, read from a grid of distances.

The grid is cubic, in the mesh's own frame and centred on its origin. It reaches so far beyond the
mesh that what lies outside is clear of it. Between nodes distances are interpolated, which is wrong
by a part of a step at sharp edges: the certificate has the last word.
"""

import math

import numpy as np
import numpy.typing as npt

from soapstone.fit.route.reach import STRAIGHT, Touch, TouchAt
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

Ints = npt.NDArray[np.int64]

START, SHAPE = 8, 9
"""Columns of `Room.table`: where a mesh's distances start in `Room.field`, and their numbers along
x, y and z."""


@compiled
def field_at(field: Array, count: Ints, b: int, step: float, x: float, y: float, z: float) -> Touch:
    """Distance at a point and its gradient: (d, gx, gy, gz); beyond the grid it grows steadily."""
    nx, ny, nz = count[b, SHAPE], count[b, SHAPE + 1], count[b, SHAPE + 2]
    u, v, w = x / step + 0.5 * (nx - 1), y / step + 0.5 * (ny - 1), z / step + 0.5 * (nz - 1)
    cu = min(max(u, 0.0), nx - 1.0001)
    cv = min(max(v, 0.0), ny - 1.0001)
    cw = min(max(w, 0.0), nz - 1.0001)
    i, j, k = int(cu), int(cv), int(cw)
    p, q, r = cu - i, cv - j, cw - k
    at = count[b, START] + (i * ny + j) * nz + k
    row, sheet = nz, ny * nz
    a000, a001 = field[at], field[at + 1]
    a010, a011 = field[at + row], field[at + row + 1]
    a100, a101 = field[at + sheet], field[at + sheet + 1]
    a110, a111 = field[at + sheet + row], field[at + sheet + row + 1]
    b00, b01 = a000 + p * (a100 - a000), a001 + p * (a101 - a001)
    b10, b11 = a010 + p * (a110 - a010), a011 + p * (a111 - a011)
    c0, c1 = b00 + q * (b10 - b00), b01 + q * (b11 - b01)
    d = c0 + r * (c1 - c0)
    d00, d01 = a100 - a000, a101 - a001
    d10, d11 = a110 - a010, a111 - a011
    e0, e1 = d00 + q * (d10 - d00), d01 + q * (d11 - d01)
    gx = e0 + r * (e1 - e0)
    gy = (b10 - b00) + r * ((b11 - b01) - (b10 - b00))
    gz = c1 - c0
    size = math.sqrt(gx * gx + gy * gy + gz * gz)
    if size > 1e-9:
        gx, gy, gz = gx / size, gy / size, gz / size
    beyond = (u - cu) * (u - cu) + (v - cv) * (v - cv) + (w - cw) * (w - cw)
    return d + step * math.sqrt(beyond), gx, gy, gz


@compiled
def mesh_distance(
    field: Array,
    count: Ints,
    b: int,
    step: float,
    piece: Array,
    ax: float,
    ay: float,
    az: float,
    ux: float,
    uy: float,
    uz: float,
    nx: float,
    ny: float,
    nz: float,
    enough: float,
) -> TouchAt:
    """Least distance along piece 0, given in the mesh's frame: (d, place, gx, gy, gz).

    Goes along it by steps as long as the distance exceeds the least yet (it cannot change faster),
    and then closes in on the least.
    """
    straight = piece[0, 0] == STRAIGHT
    low, high, radius = 0.0, 1.0, piece[0, 10]
    pace = math.sqrt(ux * ux + uy * uy + uz * uz)
    if not straight:
        low, high, pace = piece[0, 11], piece[0, 12], radius
    pace = max(pace, 1e-9)
    best, place = 1e30, low
    t = low
    while True:
        d = _along(field, count, b, step, straight, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, t)[
            0
        ]
        if d < best:
            best, place = d, t
        if t >= high:
            break
        t = min(t + max(d - min(best, enough), 0.7 * step) / pace, high)
    span = 0.7 * step / pace
    if best < enough + step:
        for _ in range(7):
            span *= 0.5
            for side in range(2):
                t = min(max(place + (span if side == 0 else -span), low), high)
                d = _along(
                    field, count, b, step, straight, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, t
                )[0]
                if d < best:
                    best, place = d, t
    d, gx, gy, gz = _along(
        field, count, b, step, straight, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, place
    )
    return d, place, gx, gy, gz


@compiled
def _along(
    field: Array,
    count: Ints,
    b: int,
    step: float,
    straight: bool,
    radius: float,
    ax: float,
    ay: float,
    az: float,
    ux: float,
    uy: float,
    uz: float,
    nx: float,
    ny: float,
    nz: float,
    t: float,
) -> Touch:
    s, c = t, 0.0
    if not straight:
        s, c = radius * math.sin(t), radius * (1.0 - math.cos(t))
    return field_at(
        field,
        count,
        b,
        step,
        ax + s * ux + c * nx,
        ay + s * uy + c * ny,
        az + s * uz + c * nz,
    )
