"""Compiled: what a corner polyline breaks, as hinge residuals with their gradients.

Residuals are all in mm: distance missing, straight missing, angle beyond its limit times the
bend's radius. Each adds w r^2 / 2 to the cost (w < 1 for a large r, after Huber).
"""
# ruff: noqa: PLR0917, C901, PLR0912, PLR0915

import math

from soapstone.fit.route.contact import NEED, Room, contacts, next_solid, place_on
from soapstone.fit.route.polyline import (
    ANGLE,
    ANY,
    CONE,
    INWARD,
    LENGTH,
    OUTWARD,
    SHORT,
    TANGENT,
    G,
    Task,
    U,
    Work,
    is_fixed,
    lay_out,
    move_arc,
    move_leg,
    set_arc,
    set_straight,
    stretch_leg,
    take,
    tangent_rate,
    turn_corner,
    turn_leg,
)
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

LEAN_ARM = 200.0
"""mm: what an end leans too much is counted as its sideways miss at this distance."""

ARC_PART = 0.8
"""Radians: an arc is looked at in parts no longer than this."""

HOME_ARM = 50.0
"""mm: a stray this long from home counts as much again as its own length."""

AIM_WEIGHT = 10.0
"""How many times the bend's radius an angle off its aim counts."""


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
            stretch_leg(c, i, -1.0)
            for j in range(max(i, 1), min(i + 1, k) + 1):
                turn_corner(c, task, j, tangent_rate(c, number[0], j))
            cost += take(work, task, r, 1.0, normal)
    for i in range(1, k + 1):
        over, under = c[i, ANGLE] - number[5], number[4] - c[i, ANGLE]
        if over > 0.0 or under > 0.0:
            turn_corner(c, task, i, number[0] if over > 0.0 else -number[0])
            cost += take(work, task, max(over, under) * number[0], 1.0, normal)
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
    turn_leg(c, task, i, scale * x, scale * y, scale * z)
    return take(work, task, LEAN_ARM * over, 1.0, normal)


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
            b = next_solid(room, 0, desk)
            while b < room.count.shape[0]:
                for m in range(contacts(room, b, desk)):
                    t = desk.found[m, 1]
                    x, y, z = -desk.found[m, 2], -desk.found[m, 3], -desk.found[m, 4]
                    if arc:
                        move_arc(c, task, i, t, x, y, z)
                    else:
                        t = low + (high - low) * t
                        move_leg(c, i, 1.0 - t, t, x, y, z)
                    r = room.solid[b, NEED] - desk.found[m, 0]
                    cost += take(work, task, r, 1.0, normal)
                b = next_solid(room, b + 1, desk)
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
            move_arc(c, task, at, place, vx / best, vy / best, vz / best)
        else:
            move_leg(c, at, 1.0 - place, place, vx / best, vy / best, vz / best)
        cost += take(work, task, best - via[p, 3], 1.0, normal)
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
            move_leg(c, i, s - 1.0, -s, x / d, y / d, z / d)
            move_leg(c, j, 1.0 - t, t, x / d, y / d, z / d)
            cost += take(work, task, need - d, 1.0, normal)
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
        stretch_leg(c, i, 1.0)
        if i > 0:
            turn_corner(c, task, i, radius - 2.0 * tangent_rate(c, radius, i))
    for i in range(1, k + 1):
        for a in range(3):
            value = eps * c[i, G + a]
            for v in range(n):
                normal[n, v] += value * spread[v, 3 * (i - 1) + a]
    for i in range(k + 2):
        for a in range(3):
            c[i, G + a] = 0.0
    for i in range(k + 1):
        if is_fixed(task, i, k):
            continue
        # rows of (1 - u u') / sqrt(length): their squares sum to the curvature of the length
        root = math.sqrt(max(c[i, LENGTH], SHORT))
        for a in range(3):
            along = c[i, U + a]
            x, y, z = -along * c[i, U], -along * c[i, U + 1], -along * c[i, U + 2]
            x, y, z = x + (a == 0), y + (a == 1), z + (a == 2)
            move_leg(c, i, -1.0, 1.0, x / root, y / root, z / root)
            take(work, task, 0.0, eps, normal)
    return eps * tube_length(c, radius)


@compiled
def home_rows(task: Task, y: Array, eps: float, normal: Array) -> float:
    """Add eps times the squared distance (in mm, over twice `HOME_ARM`) of y from home. Its cost."""
    cost = 0.0
    n = y.shape[0]
    for v in range(n):
        off = y[v] - task.home[v]
        weight = eps / HOME_ARM
        normal[n, v] += weight * off
        normal[v, v] += weight
        cost += 0.5 * weight * off * off
    return cost


@compiled
def aim_rows(work: Work, task: Task, normal: Array) -> float:
    """Add angles and rotations that are not the very ones aimed at. Their cost."""
    c, aim = work.chain, task.aim
    arm = AIM_WEIGHT * task.number[0]
    cost = 0.0
    for i in range(1, aim.shape[0] + 1):
        if aim[i - 1, 0] < ANY:
            off = c[i, ANGLE] - aim[i - 1, 0]
            stretch = arm if off >= 0.0 else -arm
            turn_corner(c, task, i, stretch)
            cost += take(work, task, abs(off) * arm, 1.0, normal)
        if i > 1 and aim[i - 1, 1] < ANY:
            off = _rotation(c, i) - aim[i - 1, 1]
            off -= 2.0 * math.pi * round(off / (2.0 * math.pi))
            _rotate(c, task, i, arm if off >= 0.0 else -arm)
            cost += take(work, task, abs(off) * arm, 1.0, normal)
    return cost


@compiled
def _rotation(c: Array, i: int) -> float:
    """Right-handed angle about leg i - 1 from the plane of corner i - 1 to that of corner i."""
    px, py, pz = c[i - 1, OUTWARD], c[i - 1, OUTWARD + 1], c[i - 1, OUTWARD + 2]
    qx, qy, qz = c[i, INWARD], c[i, INWARD + 1], c[i, INWARD + 2]
    x, y, z = py * qz - pz * qy, pz * qx - px * qz, px * qy - py * qx
    sine = x * c[i - 1, U] + y * c[i - 1, U + 1] + z * c[i - 1, U + 2]
    return math.atan2(sine, px * qx + py * qy + pz * qz)


@compiled
def _rotate(c: Array, task: Task, i: int, weight: float) -> None:
    """Add to the gradient that of weight * (rotation of corner i since the one before)."""
    for j in (i, i - 1):
        ux, uy, uz = c[j - 1, U], c[j - 1, U + 1], c[j - 1, U + 2]
        nx, ny, nz = c[j, INWARD], c[j, INWARD + 1], c[j, INWARD + 2]
        scale = weight / max(math.sin(c[j, ANGLE]), 0.02)
        x, y, z = (
            scale * (uy * nz - uz * ny),
            scale * (uz * nx - ux * nz),
            scale * (ux * ny - uy * nx),
        )
        cosine = math.cos(c[j, ANGLE])
        if j == i:
            turn_leg(c, task, j, x, y, z)
            turn_leg(c, task, j - 1, -cosine * x, -cosine * y, -cosine * z)
        else:
            turn_leg(c, task, j, -cosine * x, -cosine * y, -cosine * z)
            turn_leg(c, task, j - 1, x, y, z)


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
    cost += aim_rows(work, task, normal)
    if eps > 0.0 and task.number[7] > 0.0:
        cost += home_rows(task, y, eps, normal)
    elif eps > 0.0:
        cost += length_rows(work, task, eps, normal)
    return cost
