"""Compiled: points clear of the solids, which of them see each other, and ways with few corners."""
# ruff: noqa: PLR0917, C901, PLR0912

import math

import numpy as np

from soapstone.fit.route.contact import NEED, STRAIGHT, Desk, Ints, Room, contacts, next_solid
from soapstone.fit.route.polyline import Task, make_work
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

NO_WAY = 1e12
"""Cost of what cannot be."""

MISSING = 4.0
"""Cost in mm of tube of each mm that a clearance or a straight is short of."""

OVERTURN = 300.0
"""Cost in mm of tube of each radian that a bend is beyond its limits."""

MOST_MISSING = 150.0
"""mm: a straight that is shorter than this by more is no seed."""


@compiled
def set_between(desk: Desk, points: Array, i: int, j: int) -> None:
    """Make the straight between two points the piece that `contacts` looks at."""
    p = desk.piece
    half = 0.0
    p[0, 0] = STRAIGHT
    for a in range(3):
        p[0, 1 + a] = points[i, a]
        p[0, 4 + a] = points[j, a] - points[i, a]
        p[0, 13 + a] = 0.5 * (points[j, a] + points[i, a])
        half += p[0, 4 + a] * p[0, 4 + a]
    p[0, 16] = 0.5 * math.sqrt(half)


@compiled
def push_out(task: Task, room: Room, points: Array, rounds: int) -> None:
    """Move points (m, 3), in place, out of whatever they are too near to."""
    desk = make_work(task, room).desk
    for i in range(points.shape[0]):
        for _ in range(rounds):
            moved = False
            set_between(desk, points, i, i)
            b = next_solid(room, 0, desk)
            while b < room.count.shape[0]:
                if contacts(room, b, desk) > 0:
                    push = room.solid[b, NEED] - desk.found[0, 0] + 1.0
                    for a in range(3):
                        points[i, a] += push * desk.found[0, 2 + a]
                    moved = True
                    set_between(desk, points, i, i)
                b = next_solid(room, b + 1, desk)
            if not moved:
                break


@compiled
def missing_between(room: Room, desk: Desk, points: Array, i: int, j: int, most: float) -> float:
    """How many mm of clearance the straight between two points is short of; `most` at most."""
    set_between(desk, points, i, j)
    worst = 0.0
    b = next_solid(room, 0, desk)
    while b < room.count.shape[0]:
        for m in range(contacts(room, b, desk)):
            worst = max(worst, room.solid[b, NEED] - desk.found[m, 0])
        if worst >= most:
            return most
        b = next_solid(room, b + 1, desk)
    return worst


@compiled
def sights(task: Task, room: Room, points: Array, known: int, most: float, missing: Array) -> None:
    """Fill `missing` (m, m), symmetric: mm that each straight is short of; `most` = no sight.

    Points before `known` have been looked at among themselves before.
    """
    desk = make_work(task, room).desk
    for j in range(known, points.shape[0]):
        missing[j, j] = most
        for i in range(j):
            value = missing_between(room, desk, points, i, j, most)
            missing[i, j], missing[j, i] = value, value


@compiled
def ways(
    task: Task,
    points: Array,
    missing: Array,
    roles: Ints,
    noise: Array,
    bends: int,
    most: float,
    found: Ints,
    costs: Array,
) -> int:
    """Cheapest ways over the points from start (row 0) to end (row 1) with 2..`bends` corners.

    `roles` (m,): bit 1: may be the first corner, bit 2: may be the last. `noise` (m, m) multiplies
    lengths. Every level keeps the cheapest way into each straight i -> j. Fills `found` (w, bends)
    with the corners, -1 beyond them, and `costs`; gives their number: for each number of corners
    the cheapest for every last corner.
    """
    m = points.shape[0]
    radius = task.number[0]
    size, unit = np.zeros((m, m)), np.zeros((m, m, 3))
    for i in range(m):
        for j in range(m):
            x, y, z = (
                points[j, 0] - points[i, 0],
                points[j, 1] - points[i, 1],
                points[j, 2] - points[i, 2],
            )
            size[i, j] = math.sqrt(x * x + y * y + z * z)
            scale = 1.0 / max(size[i, j], 1e-9)
            unit[i, j, 0], unit[i, j, 1], unit[i, j, 2] = x * scale, y * scale, z * scale
    cost = np.full((bends + 1, m, m), NO_WAY)
    tangent = np.zeros((bends + 1, m, m))
    before = np.full((bends + 1, m, m), -1)
    count = 0
    for level in range(1, bends + 1):
        for j in range(2, m):
            if level == 1 and (roles[j] & 1) == 0:
                continue
            for i in range(m):
                if level == 1:
                    if i != 0 or missing[0, j] >= most:
                        continue
                    so_far, turned = MISSING * missing[0, j] + size[0, j] * noise[0, j], 0.0
                    least = task.number[1]
                else:
                    so_far, turned = cost[level - 1, i, j], tangent[level - 1, i, j]
                    least = task.number[2]
                    if so_far >= NO_WAY:
                        continue
                for k in range(1, m):
                    if k == i or k == j or missing[j, k] >= most or k == 0:
                        continue
                    if k == 1 and ((roles[j] & 2) == 0 or level < 2):
                        continue
                    ahead = size[j, k] * noise[j, k] + MISSING * missing[j, k]
                    if so_far + ahead >= cost[level, j, k]:
                        continue
                    c = (
                        unit[i, j, 0] * unit[j, k, 0]
                        + unit[i, j, 1] * unit[j, k, 1]
                        + unit[i, j, 2] * unit[j, k, 2]
                    )
                    angle = math.acos(min(max(c, -1.0), 1.0))
                    if angle > 2.8:
                        continue
                    reach = radius * math.tan(0.5 * angle)
                    short = max(least + turned + reach - size[i, j], 0.0)
                    if k == 1:
                        short += max(task.number[3] + reach - size[j, k], 0.0)
                    if short > MOST_MISSING:
                        continue
                    over = max(angle - task.number[5], task.number[4] - angle)
                    total = so_far + ahead + MISSING * short + OVERTURN * max(over, 0.0)
                    total += radius * angle - 2.0 * reach
                    if total < cost[level, j, k]:
                        cost[level, j, k] = total
                        tangent[level, j, k] = reach
                        before[level, j, k] = i
        if level >= 2:
            for j in range(2, m):
                if cost[level, j, 1] < NO_WAY and count < found.shape[0]:
                    costs[count] = cost[level, j, 1]
                    for q in range(bends):
                        found[count, q] = -1
                    at, to = j, 1
                    for q in range(level - 1, -1, -1):
                        found[count, q] = at
                        at, to = before[q + 1, at, to], at
                    count += 1
    return count
