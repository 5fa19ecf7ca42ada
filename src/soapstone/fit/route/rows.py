"""Compiled: what a corner polyline breaks, as hinge residuals with their gradients.

The unknowns y give the inner corners by C = base + y @ spread, so fixed directions, planes and
symmetries are one matrix. Residuals are all in mm: distance missing, straight missing, angle beyond its
limit times the bend's radius. Each adds w r^2 / 2 to the cost (w < 1 for a large r, after Huber).
"""
# ruff: noqa: PLR0917, C901, PLR0912, PLR0915

import math
from typing import NamedTuple

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.fit.route.contact import (
    ARC,
    NEED,
    POSES,
    STRAIGHT,
    Desk,
    Room,
    contacts,
    place_on,
)
from soapstone.geometry.vectors import Array

FREE, FIXED, CONE = 0, 1, 2
HUBER = 60.0
"""mm: beyond this a residual pulls with constant force."""

LEAN_ARM = 200.0
"""mm: what an end leans too much is counted as its sideways miss at this distance."""

ARC_PART = 0.8
"""Radians: an arc is looked at in parts no longer than this."""

SHORT = 5.0
"""mm: a leg shorter than this is taken as this long where its direction is differentiated."""


X, U, LENGTH, ANGLE, TANGENT, INWARD, OUTWARD, G = 0, 3, 6, 7, 8, 9, 12, 15
"""Columns of `Work.chain`: corner; direction and length of the leg after it; angle and tangent
length of its bend; in its plane, perpendicular to the leg before and toward the leg after, and the
way its angle grows when the leg after turns; gradient by its coordinates."""


class Task(NamedTuple):
    """What the tube must be, as numbers: mm and radians.

    `number`: radius, least first, middle and last straight, least and most angle, distance between
    the centrelines of legs that do not follow each other. `ends` (2, 8): mode, direction of travel
    (3), half angle of the cone, the end's point (3). `via` (m, 4): point, within. `spread` (n + 1,
    3k): inner corners = last row + y @ the rows before.
    """

    number: Array
    ends: Array
    via: Array
    spread: Array


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
    for b in range(room.count.shape[0]):
        most = max(most, room.count[b, POSES])
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
        if _is_fixed(task, i, k):
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
def _is_fixed(task: Task, i: int, k: int) -> bool:
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
def _direction(c: Array, task: Task, i: int, gx: float, gy: float, gz: float) -> None:
    """Add to the gradient that of (gx, gy, gz) . d(direction of leg i)."""
    if _is_fixed(task, i, c.shape[0] - 2):
        return
    ux, uy, uz = c[i, U], c[i, U + 1], c[i, U + 2]
    along = gx * ux + gy * uy + gz * uz
    scale = 1.0 / max(c[i, LENGTH], SHORT)
    _move_leg(
        c,
        i,
        -1.0,
        1.0,
        (gx - along * ux) * scale,
        (gy - along * uy) * scale,
        (gz - along * uz) * scale,
    )


@compiled
def _move_leg(c: Array, i: int, p: float, q: float, gx: float, gy: float, gz: float) -> None:
    """Add p (gx, gy, gz) to the gradient by the first corner of leg i, q times it by the second."""
    c[i, G] += p * gx
    c[i, G + 1] += p * gy
    c[i, G + 2] += p * gz
    c[i + 1, G] += q * gx
    c[i + 1, G + 1] += q * gy
    c[i + 1, G + 2] += q * gz


@compiled
def _leg(c: Array, i: int, weight: float) -> None:
    """Add to the gradient that of weight * (length of leg i)."""
    _move_leg(c, i, -weight, weight, c[i, U], c[i, U + 1], c[i, U + 2])


@compiled
def _turn(c: Array, task: Task, i: int, weight: float) -> None:
    """Add to the gradient that of weight * (angle of corner i)."""
    n, m = -weight, weight
    _direction(c, task, i - 1, n * c[i, INWARD], n * c[i, INWARD + 1], n * c[i, INWARD + 2])
    _direction(c, task, i, m * c[i, OUTWARD], m * c[i, OUTWARD + 1], m * c[i, OUTWARD + 2])


@compiled
def _tangent_rate(c: Array, radius: float, i: int) -> float:
    """Rate of the tangent length of corner i with its angle."""
    cosine = math.cos(0.5 * min(c[i, ANGLE], 3.05))
    return 0.5 * radius / (cosine * cosine)


@compiled
def _take(work: Work, task: Task, r: float, weight: float, normal: Array) -> float:
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
def _move_arc(c: Array, task: Task, i: int, phi: float, x: float, y: float, z: float) -> None:
    """Add to the gradient that of (x, y, z) . d(point at phi on the arc of corner i)."""
    radius, theta = task.number[0], c[i, ANGLE]
    cosine, sine = math.cos(theta), max(math.sin(theta), 1e-3)
    k = radius * (1.0 - math.cos(phi)) / sine
    ux, uy, uz = c[i - 1, U], c[i - 1, U + 1], c[i - 1, U + 2]
    gu = x * ux + y * uy + z * uz
    gn = x * c[i, INWARD] + y * c[i, INWARD + 1] + z * c[i, INWARD + 2]
    # the part that goes with the cosine of the angle: the tangent length, and the turned normal
    d = gu * _tangent_rate(c, radius, i) / sine - k * gu + k * gn * cosine / sine
    along = radius * math.sin(phi) - c[i, TANGENT] - k * cosine
    c[i, G] += x
    c[i, G + 1] += y
    c[i, G + 2] += z
    _direction(
        c,
        task,
        i - 1,
        along * x + d * c[i, U],
        along * y + d * c[i, U + 1],
        along * z + d * c[i, U + 2],
    )
    _direction(c, task, i, k * x + d * ux, k * y + d * uy, k * z + d * uz)


@compiled
def set_straight(c: Array, i: int, piece: Array, row: int) -> tuple[float, float]:
    """Describe the straight of leg i in a row of `piece`: where on the leg it starts and ends, 0 to 1."""
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


@compiled
def shape_rows(work: Work, task: Task, normal: Array) -> float:
    """Add straights too short, and angles and ends beyond their limits. Their cost."""
    c, number = work.chain, task.number
    k = c.shape[0] - 2
    cost = 0.0
    for i in range(k + 1):
        least = number[1] if i == 0 else (number[3] if i == k else number[2])
        r = least - (c[i, LENGTH] - c[i, TANGENT] - c[i + 1, TANGENT])
        if r > 0.0:
            _leg(c, i, -1.0)
            for j in range(max(i, 1), min(i + 1, k) + 1):
                _turn(c, task, j, _tangent_rate(c, number[0], j))
            cost += _take(work, task, r, 1.0, normal)
    for i in range(1, k + 1):
        over, under = c[i, ANGLE] - number[5], number[4] - c[i, ANGLE]
        if over > 0.0 or under > 0.0:
            _turn(c, task, i, number[0] if over > 0.0 else -number[0])
            cost += _take(work, task, max(over, under) * number[0], 1.0, normal)
    for end in range(2):
        if task.ends[end, 0] == CONE:
            cost += _cone_row(work, task, end, normal)
    return cost


@compiled
def _cone_row(work: Work, task: Task, end: int, normal: Array) -> float:
    """Add an end that leans more than it may, in mm at `LEAN_ARM`."""
    c, ends = work.chain, task.ends
    i = 0 if end == 0 else c.shape[0] - 2
    cosine = ends[end, 1] * c[i, U] + ends[end, 2] * c[i, U + 1] + ends[end, 3] * c[i, U + 2]
    x = ends[end, 1] - cosine * c[i, U]
    y = ends[end, 2] - cosine * c[i, U + 1]
    z = ends[end, 3] - cosine * c[i, U + 2]
    sine = math.sqrt(x * x + y * y + z * z)
    over = math.atan2(sine, cosine) - ends[end, 4]
    if over <= 0.0 or sine < 1e-9:
        return 0.0
    scale = -LEAN_ARM / sine
    _direction(c, task, i, scale * x, scale * y, scale * z)
    return _take(work, task, LEAN_ARM * over, 1.0, normal)


@compiled
def clearance_rows(work: Work, task: Task, room: Room, normal: Array) -> float:
    """Add every place where a straight or an arc is too near a solid. Their cost."""
    c, desk, radius = work.chain, work.desk, task.number[0]
    k = c.shape[0] - 2
    cost = 0.0
    for leg in range(2 * k + 1):
        i = leg // 2 if leg % 2 == 0 else leg // 2 + 1
        arc = leg % 2 == 1
        parts = 1 + int(c[i, ANGLE] / ARC_PART) if arc else 1
        step = c[i, ANGLE] / parts
        for part in range(parts):
            low, high = 0.0, 1.0
            if arc:
                set_arc(c, i, radius, part * step, (part + 1) * step, desk.piece)
            else:
                low, high = set_straight(c, i, desk.piece, 0)
            for b in range(room.count.shape[0]):
                for m in range(contacts(room, b, desk)):
                    t = desk.found[m, 1]
                    x, y, z = -desk.found[m, 2], -desk.found[m, 3], -desk.found[m, 4]
                    if arc:
                        _move_arc(c, task, i, t, x, y, z)
                    else:
                        t = low + (high - low) * t
                        _move_leg(c, i, 1.0 - t, t, x, y, z)
                    r = room.solid[b, NEED] - desk.found[m, 0]
                    cost += _take(work, task, r, 1.0, normal)
    return cost


@compiled
def via_rows(work: Work, task: Task, normal: Array) -> float:
    """Add points that the tube does not pass within their distance. Their cost."""
    c, via, radius = work.chain, task.via, task.number[0]
    k = c.shape[0] - 2
    cost = 0.0
    for p in range(via.shape[0]):
        qx, qy, qz = via[p, 0], via[p, 1], via[p, 2]
        best, at, place, arc = 1e30, 0, 0.0, False
        vx, vy, vz = 0.0, 0.0, 0.0
        for leg in range(2 * k + 1):
            on_arc = leg % 2 == 1
            i = leg // 2 + 1 if on_arc else leg // 2
            if on_arc:
                set_arc(c, i, radius, 0.0, c[i, ANGLE], work.desk.piece)
                t = _nearest_on_arc(work.desk.piece, qx, qy, qz)
                low, high = 0.0, 1.0
            else:
                low, high = set_straight(c, i, work.desk.piece, 0)
                t = _nearest_on_straight(work.desk.piece, qx, qy, qz)
            x, y, z = place_on(work.desk.piece, t)
            x, y, z = x - qx, y - qy, z - qz
            d = math.sqrt(x * x + y * y + z * z)
            if d < best:
                best, at, arc, vx, vy, vz = d, i, on_arc, x, y, z
                place = t if on_arc else low + (high - low) * t
        if best <= via[p, 3] or best < 1e-9:
            continue
        if arc:
            _move_arc(c, task, at, place, vx / best, vy / best, vz / best)
        else:
            _move_leg(c, at, 1.0 - place, place, vx / best, vy / best, vz / best)
        cost += _take(work, task, best - via[p, 3], 1.0, normal)
    return cost


@compiled
def _nearest_on_straight(p: Array, x: float, y: float, z: float) -> float:
    """Place (0 to 1) on the straight in row 0 nearest to a point."""
    size = p[0, 4] * p[0, 4] + p[0, 5] * p[0, 5] + p[0, 6] * p[0, 6] + 1e-12
    along = (x - p[0, 1]) * p[0, 4] + (y - p[0, 2]) * p[0, 5] + (z - p[0, 3]) * p[0, 6]
    return min(max(along / size, 0.0), 1.0)


@compiled
def _nearest_on_arc(p: Array, x: float, y: float, z: float) -> float:
    """Place (radians) on the arc in row 0 nearest to a point."""
    x, y, z = x - p[0, 1], y - p[0, 2], z - p[0, 3]
    along = x * p[0, 4] + y * p[0, 5] + z * p[0, 6]
    across = x * p[0, 7] + y * p[0, 8] + z * p[0, 9]
    return min(max(math.atan2(along, p[0, 10] - across), p[0, 11]), p[0, 12])


@compiled
def self_rows(work: Work, task: Task, normal: Array) -> float:
    """Add straights that come too near each other, of legs that do not follow each other."""
    c, p, need = work.chain, work.desk.piece, task.number[6]
    k = c.shape[0] - 2
    cost = 0.0
    for i in range(k - 1):
        low_i, high_i = set_straight(c, i, p, 0)
        for j in range(i + 2, k + 1):
            low_j, high_j = set_straight(c, j, p, 1)
            reach = p[0, 16] + p[1, 16] + need
            x, y, z = p[0, 13] - p[1, 13], p[0, 14] - p[1, 14], p[0, 15] - p[1, 15]
            if x * x + y * y + z * z > reach * reach:
                continue
            s, t = _closest(p)
            x = p[0, 1] + s * p[0, 4] - p[1, 1] - t * p[1, 4]
            y = p[0, 2] + s * p[0, 5] - p[1, 2] - t * p[1, 5]
            z = p[0, 3] + s * p[0, 6] - p[1, 3] - t * p[1, 6]
            d = math.sqrt(x * x + y * y + z * z)
            if d >= need or d < 1e-6:
                continue
            s, t = low_i + (high_i - low_i) * s, low_j + (high_j - low_j) * t
            _move_leg(c, i, s - 1.0, -s, x / d, y / d, z / d)
            _move_leg(c, j, 1.0 - t, t, x / d, y / d, z / d)
            cost += _take(work, task, need - d, 1.0, normal)
    return cost


@compiled
def _closest(p: Array) -> tuple[float, float]:
    """Places (0 to 1) where the straights in rows 0 and 1 come nearest to each other."""
    rx, ry, rz = p[0, 1] - p[1, 1], p[0, 2] - p[1, 2], p[0, 3] - p[1, 3]
    a = p[0, 4] * p[0, 4] + p[0, 5] * p[0, 5] + p[0, 6] * p[0, 6] + 1e-12
    e = p[1, 4] * p[1, 4] + p[1, 5] * p[1, 5] + p[1, 6] * p[1, 6] + 1e-12
    b = p[0, 4] * p[1, 4] + p[0, 5] * p[1, 5] + p[0, 6] * p[1, 6]
    c = p[0, 4] * rx + p[0, 5] * ry + p[0, 6] * rz
    f = p[1, 4] * rx + p[1, 5] * ry + p[1, 6] * rz
    det = a * e - b * b
    s = 0.0
    if det > 1e-9 * a * e:
        s = min(max((b * f - c * e) / det, 0.0), 1.0)
    t = (b * s + f) / e
    if t < 0.0:
        t, s = 0.0, min(max(-c / a, 0.0), 1.0)
    elif t > 1.0:
        t, s = 1.0, min(max((b - c) / a, 0.0), 1.0)
    return s, t


@compiled
def tube_length(c: Array, radius: float) -> float:
    """Length along the centreline: legs between corners, less what the arcs cut off."""
    total = 0.0
    for i in range(c.shape[0] - 1):
        total += c[i, LENGTH]
        if i > 0:
            total += radius * c[i, ANGLE] - 2.0 * c[i, TANGENT]
    return total


@compiled
def length_rows(work: Work, task: Task, eps: float, normal: Array) -> float:
    """Add eps times the tube's length, with the curvature of the legs' lengths. Its cost."""
    c, spread, radius = work.chain, task.spread, task.number[0]
    k, n = c.shape[0] - 2, work.row.shape[0]
    for i in range(k + 1):
        _leg(c, i, 1.0)
        if i > 0:
            _turn(c, task, i, radius - 2.0 * _tangent_rate(c, radius, i))
    for i in range(1, k + 1):
        for a in range(3):
            value = eps * c[i, G + a]
            for v in range(n):
                normal[n, v] += value * spread[v, 3 * (i - 1) + a]
    for i in range(k + 2):
        for a in range(3):
            c[i, G + a] = 0.0
    for i in range(k + 1):
        if _is_fixed(task, i, k):
            continue
        # rows of (1 - u u') / sqrt(length): their squares sum to the curvature of the length
        root = math.sqrt(max(c[i, LENGTH], SHORT))
        for a in range(3):
            along = c[i, U + a]
            x, y, z = -along * c[i, U], -along * c[i, U + 1], -along * c[i, U + 2]
            x, y, z = x + (a == 0), y + (a == 1), z + (a == 2)
            _move_leg(c, i, -1.0, 1.0, x / root, y / root, z / root)
            _take(work, task, 0.0, eps, normal)
    return eps * tube_length(c, radius)


@compiled
def all_rows(work: Work, task: Task, room: Room, y: Array, eps: float, normal: Array) -> float:
    """Cost of y. `normal` (n + 1, n) gets the Gauss-Newton matrix (lower triangle) and the gradient."""
    n = y.shape[0]
    for v in range(n + 1):
        for q in range(n):
            normal[v, q] = 0.0
    lay_out(work, task, y)
    cost = shape_rows(work, task, normal)
    cost += via_rows(work, task, normal)
    cost += self_rows(work, task, normal)
    cost += clearance_rows(work, task, room, normal)
    if eps > 0.0:
        cost += length_rows(work, task, eps, normal)
    return cost
