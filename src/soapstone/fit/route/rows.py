"""Compiled: what a corner polyline breaks, as hinge residuals with their gradients.

Residuals are all in mm: distance missing, straight missing, angle beyond its limit times the
bend's radius. Each adds w r^2 / 2 to the cost (w < 1 for a large r, after Huber).
"""

import math

from soapstone.fit.route.contact import NEED, Room, place_on
from soapstone.fit.route.goals import aim_rows, home_rows, length_rows
from soapstone.fit.route.polyline import (
    ANGLE,
    CONE,
    JOINED,
    LENGTH,
    TANGENT,
    Task,
    U,
    Work,
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
from soapstone.fit.route.swing import contacts
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

LEAN_ARM = 200.0
"""mm: what an end leans too much is counted as its sideways miss at this distance."""

ARC_PART = 0.8
"""Radians: an arc is looked at in parts no longer than this."""


@compiled
def shape_rows(work: Work, task: Task, normal: Array) -> float:
    """Add straights too short, and angles and ends beyond their limits. Their cost."""
    c, number = work.chain, task.number
    k = c.shape[0] - 2
    cost = 0.0
    joined = number[JOINED] > 0.0
    if joined:
        cost += _joined_rows(work, task, normal)
    for i in range(k + 1):
        if joined and i == 1:
            continue
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
def _joined_rows(work: Work, task: Task, normal: Array) -> float:
    """Add what two corners lack to be one bend: nothing between them, like angles, not too wide."""
    c, number = work.chain, task.number
    straight = c[1, LENGTH] - c[1, TANGENT] - c[2, TANGENT]
    sign = 1.0 if straight >= 0.0 else -1.0
    stretch_leg(c, 1, sign)
    for j in range(1, 3):
        turn_corner(c, task, j, -sign * tangent_rate(c, number[0], j))
    cost = take(work, task, abs(straight), 1.0, normal)
    uneven = c[1, ANGLE] - c[2, ANGLE]
    sign = number[0] if uneven >= 0.0 else -number[0]
    turn_corner(c, task, 1, sign)
    turn_corner(c, task, 2, -sign)
    cost += take(work, task, abs(uneven) * number[0], 1.0, normal)
    over = c[1, ANGLE] + c[2, ANGLE] - number[JOINED]
    if over > 0.0:
        turn_corner(c, task, 1, number[0])
        turn_corner(c, task, 2, number[0])
        cost += take(work, task, over * number[0], 1.0, normal)
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
            for b in range(room.table.shape[0]):
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
    place: float = min(max(along / size, 0.0), 1.0)
    return place


@compiled
def _nearest_on_arc(p: Array, x: float, y: float, z: float) -> float:
    """Place (radians) on the arc in row 0 nearest to a point."""
    x, y, z = x - p[0, 1], y - p[0, 2], z - p[0, 3]
    along = x * p[0, 4] + y * p[0, 5] + z * p[0, 6]
    across = x * p[0, 7] + y * p[0, 8] + z * p[0, 9]
    place: float = min(max(math.atan2(along, p[0, 10] - across), p[0, 11]), p[0, 12])
    return place


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
def all_rows(work: Work, task: Task, room: Room, y: Array, eps: float, normal: Array) -> float:
    """Cost of y. `normal` (n + 1, n): Gauss-Newton matrix (lower triangle), then the gradient."""
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
