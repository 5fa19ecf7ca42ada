"""Compiled: a corner polyline as numbers, and the gradients of its lengths, angles and places.

The unknowns y give the inner corners by a matrix, so fixed directions, planes and symmetries are
all one thing. Gradients are gathered by corners and turned into rows over y by `take`.
"""

import math
from typing import NamedTuple

import numpy as np

from soapstone.fit.route.contact import POSES, Desk, Room
from soapstone.fit.route.reach import ARC, STRAIGHT
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

FREE, FIXED, CONE = 0, 1, 2
HUBER = 60.0
"""mm: beyond this a residual pulls with constant force."""

SHORT = 5.0
"""mm: a leg shorter than this is taken as this long where its direction is differentiated."""


X, U, LENGTH, ANGLE, TANGENT, INWARD, OUTWARD, G = 0, 3, 6, 7, 8, 9, 12, 15
"""Columns of `Work.chain`: corner; direction and length of the leg after it; angle and tangent
length of its bend; in its plane, perpendicular to the leg before and toward the leg after, and the
way its angle grows when the leg after turns; gradient by its coordinates."""


JOINED = 8
"""In `Task.number`: the most angle, in radians, of the two corners of a tube that are one bend."""

ANY = 100.0
"""In `Task.aim`: no value is aimed at."""


class Task(NamedTuple):
    """What the tube must be, as numbers: mm and radians.

    `number`: radius, least first, middle and last straight, least and most angle, distance between
    the centrelines of legs that do not follow each other, 1 to stay near `home` instead of becoming
    short, and `JOINED`, or 0 where each corner is a bend of its own. `ends` (2, 8): mode,
    direction of travel (3), half angle of the cone, the end's point (3). `via` (m, 4): point,
    within. `spread` (n + 1, 3k): inner corners = last row + y @ the rows before. `aim` (k, 2):
    the very angle and rotation (since the bend before) of each bend, or `ANY`. `home` (n,):
    unknowns to stay near.
    """

    number: Array
    ends: Array
    via: Array
    spread: Array
    aim: Array
    home: Array


class Work(NamedTuple):
    """Room to work in, for k bends and n unknowns; made once a descent.

    `chain` (k + 2, 18), a row a corner, ends included; `row` (n,), one residual's gradient.
    """

    chain: Array
    row: Array
    desk: Desk


@compiled
def make_work(task: Task, room: Room) -> Work:
    """Allocate for one task."""
    n, k = task.spread.shape[0] - 1, task.spread.shape[1] // 3
    most = 1
    for b in range(room.table.shape[0]):
        most = max(most, room.table[b, POSES])
    desk = Desk(np.zeros((2, 17)), np.zeros((8, 5)), np.zeros((3, 15)), np.zeros(most))
    return Work(np.zeros((k + 2, 18)), np.zeros(n), desk)


@compiled
def lay_out(work: Work, task: Task, y: Array) -> None:
    """Corners, directions, angles and tangents of the polyline that y stands for."""
    c, spread, ends = work.chain, task.spread, task.ends
    k, n = c.shape[0] - 2, y.shape[0]
    for a in range(3):
        c[0, a], c[k + 1, a] = ends[0, 5 + a], ends[1, 5 + a]
    for i in range(3 * k):
        value = spread[n, i]
        for v in range(n):
            value += y[v] * spread[v, i]
        c[1 + i // 3, i % 3] = value
    for i in range(k + 1):
        x, yy, z = c[i + 1, 0] - c[i, 0], c[i + 1, 1] - c[i, 1], c[i + 1, 2] - c[i, 2]
        if is_fixed(task, i, k):
            end = 0 if i == 0 else 1
            for a in range(3):
                c[i, U + a] = ends[end, 1 + a]
            c[i, LENGTH] = x * c[i, U] + yy * c[i, U + 1] + z * c[i, U + 2]
        else:
            length = math.sqrt(x * x + yy * yy + z * z)
            scale = 1.0 / max(length, 1e-9)
            c[i, LENGTH] = length
            c[i, U], c[i, U + 1], c[i, U + 2] = x * scale, yy * scale, z * scale
    for i in range(1, k + 1):
        _corner(c, i, task.number[0])


@compiled
def is_fixed(task: Task, i: int, k: int) -> bool:
    """Tell whether leg i is an end whose direction is fixed."""
    return (i == 0 and task.ends[0, 0] == FIXED) or (i == k and task.ends[1, 0] == FIXED)


@compiled
def _corner(c: Array, i: int, radius: float) -> None:
    """Angle, tangent and in-plane normals of corner i."""
    ux, uy, uz = c[i - 1, U], c[i - 1, U + 1], c[i - 1, U + 2]
    cosine = ux * c[i, U] + uy * c[i, U + 1] + uz * c[i, U + 2]
    x, y, z = c[i, U] - cosine * ux, c[i, U + 1] - cosine * uy, c[i, U + 2] - cosine * uz
    sine = math.sqrt(x * x + y * y + z * z)
    size = sine
    if sine < 1e-7:
        if abs(ux) < 0.8:
            x, y, z = 1.0 - ux * ux, -ux * uy, -ux * uz
        else:
            x, y, z = -uy * ux, 1.0 - uy * uy, -uy * uz
        size = math.sqrt(x * x + y * y + z * z)
    c[i, INWARD], c[i, INWARD + 1], c[i, INWARD + 2] = x / size, y / size, z / size
    for a in range(3):
        c[i, OUTWARD + a] = cosine * c[i, INWARD + a] - sine * c[i - 1, U + a]
    c[i, ANGLE] = math.atan2(sine, cosine)
    c[i, TANGENT] = radius * math.tan(0.5 * min(c[i, ANGLE], 3.05))


@compiled
def turn_leg(c: Array, task: Task, i: int, gx: float, gy: float, gz: float) -> None:
    """Add to the gradient that of (gx, gy, gz) . d(direction of leg i)."""
    if is_fixed(task, i, c.shape[0] - 2):
        return
    ux, uy, uz = c[i, U], c[i, U + 1], c[i, U + 2]
    along = gx * ux + gy * uy + gz * uz
    scale = 1.0 / max(c[i, LENGTH], SHORT)
    move_leg(
        c,
        i,
        -1.0,
        1.0,
        (gx - along * ux) * scale,
        (gy - along * uy) * scale,
        (gz - along * uz) * scale,
    )


@compiled
def move_leg(c: Array, i: int, p: float, q: float, gx: float, gy: float, gz: float) -> None:
    """Add p (gx, gy, gz) to the gradient by the first corner of leg i, q times it by the second."""
    c[i, G] += p * gx
    c[i, G + 1] += p * gy
    c[i, G + 2] += p * gz
    c[i + 1, G] += q * gx
    c[i + 1, G + 1] += q * gy
    c[i + 1, G + 2] += q * gz


@compiled
def stretch_leg(c: Array, i: int, weight: float) -> None:
    """Add to the gradient that of weight * (length of leg i)."""
    move_leg(c, i, -weight, weight, c[i, U], c[i, U + 1], c[i, U + 2])


@compiled
def turn_corner(c: Array, task: Task, i: int, weight: float) -> None:
    """Add to the gradient that of weight * (angle of corner i)."""
    n, m = -weight, weight
    turn_leg(c, task, i - 1, n * c[i, INWARD], n * c[i, INWARD + 1], n * c[i, INWARD + 2])
    turn_leg(c, task, i, m * c[i, OUTWARD], m * c[i, OUTWARD + 1], m * c[i, OUTWARD + 2])


@compiled
def tangent_rate(c: Array, radius: float, i: int) -> float:
    """Rate of the tangent length of corner i with its angle."""
    cosine = math.cos(0.5 * min(c[i, ANGLE], 3.05))
    return 0.5 * radius / (cosine * cosine)


@compiled
def take(work: Work, task: Task, r: float, weight: float, normal: Array) -> float:
    """Add one residual, whose gradient by corners is in the chain, and clear that. Its cost."""
    c, row, spread = work.chain, work.row, task.spread
    n = row.shape[0]
    for v in range(n):
        row[v] = 0.0
    for i in range(c.shape[0]):
        for a in range(3):
            value = c[i, G + a]
            c[i, G + a] = 0.0
            if value != 0.0 and 0 < i < c.shape[0] - 1:
                for v in range(n):
                    row[v] += value * spread[v, 3 * (i - 1) + a]
    w = weight
    cost = 0.5 * w * r * r
    if r > HUBER:
        w *= HUBER / r
        cost = weight * HUBER * (r - 0.5 * HUBER)
    for v in range(n):
        if row[v] != 0.0:
            value = w * row[v]
            normal[n, v] += value * r
            for q in range(v + 1):
                normal[v, q] += value * row[q]
    return cost


@compiled
def move_arc(c: Array, task: Task, i: int, phi: float, x: float, y: float, z: float) -> None:
    """Add to the gradient that of (x, y, z) . d(point at phi on the arc of corner i)."""
    radius, theta = task.number[0], c[i, ANGLE]
    cosine, sine = math.cos(theta), max(math.sin(theta), 1e-3)
    k = radius * (1.0 - math.cos(phi)) / sine
    ux, uy, uz = c[i - 1, U], c[i - 1, U + 1], c[i - 1, U + 2]
    gu = x * ux + y * uy + z * uz
    gn = x * c[i, INWARD] + y * c[i, INWARD + 1] + z * c[i, INWARD + 2]
    # the part that goes with the cosine of the angle: the tangent length, and the turned normal
    d = gu * tangent_rate(c, radius, i) / sine - k * gu + k * gn * cosine / sine
    along = radius * math.sin(phi) - c[i, TANGENT] - k * cosine
    c[i, G] += x
    c[i, G + 1] += y
    c[i, G + 2] += z
    turn_leg(
        c,
        task,
        i - 1,
        along * x + d * c[i, U],
        along * y + d * c[i, U + 1],
        along * z + d * c[i, U + 2],
    )
    turn_leg(c, task, i, k * x + d * ux, k * y + d * uy, k * z + d * uz)


@compiled
def set_straight(c: Array, i: int, piece: Array, row: int) -> tuple[float, float]:
    """Describe the straight of leg i in a row of `piece`; where on the leg (0 to 1) it lies."""
    length = c[i, LENGTH]
    low, high = c[i, TANGENT], length - c[i + 1, TANGENT]
    if high < low:
        low = high = 0.5 * (low + high)
    piece[row, 0] = STRAIGHT
    for a in range(3):
        piece[row, 1 + a] = c[i, a] + low * c[i, U + a]
        piece[row, 4 + a] = (high - low) * c[i, U + a]
        piece[row, 13 + a] = piece[row, 1 + a] + 0.5 * piece[row, 4 + a]
    piece[row, 16] = 0.5 * (high - low)
    size = length if abs(length) > 1e-6 else 1e-6
    return low / size, high / size


@compiled
def set_arc(c: Array, i: int, radius: float, low: float, high: float, piece: Array) -> None:
    """Describe the part low..high (radians) of the arc of corner i in row 0 of `piece`."""
    piece[0, 0] = ARC
    mid = 0.5 * (low + high)
    s, t = radius * math.sin(mid), radius * (1.0 - math.cos(mid))
    for a in range(3):
        u, n = c[i - 1, U + a], c[i, INWARD + a]
        start = c[i, a] - c[i, TANGENT] * u
        piece[0, 1 + a], piece[0, 4 + a], piece[0, 7 + a] = start, u, n
        piece[0, 13 + a] = start + s * u + t * n
    piece[0, 10], piece[0, 11], piece[0, 12] = radius, low, high
    piece[0, 16] = 0.5 * radius * (high - low)
