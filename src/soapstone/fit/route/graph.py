"""Compiled: points clear of the solids, which of them see each other, and ways with few corners."""

import math
from typing import NamedTuple

import numpy as np

from soapstone.fit.route.contact import NEED, Desk, Ints, Room
from soapstone.fit.route.polyline import Task, make_work
from soapstone.fit.route.reach import STRAIGHT
from soapstone.fit.route.swing import contacts
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

NO_WAY = 1e12
"""Cost of what cannot be."""

MISSING = 4.0
"""Cost in mm of tube of each mm that a clearance or a straight is short of."""

OVERTURN = 300.0
"""Cost in mm of tube of each radian that a bend is beyond its limits."""

SHARPEST = 2.8
"""Radians: no seed turns sharper than this."""

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
            for b in range(room.table.shape[0]):
                if contacts(room, b, desk) > 0:
                    push = room.solid[b, NEED] - desk.found[0, 0] + 1.0
                    for a in range(3):
                        points[i, a] += push * desk.found[0, 2 + a]
                    moved = True
                    set_between(desk, points, i, i)
            if not moved:
                break


@compiled
def missing_between(room: Room, desk: Desk, points: Array, i: int, j: int, most: float) -> float:
    """How many mm of clearance the straight between two points is short of; `most` at most."""
    set_between(desk, points, i, j)
    worst = 0.0
    for b in range(room.table.shape[0]):
        for m in range(contacts(room, b, desk)):
            worst = max(worst, room.solid[b, NEED] - desk.found[m, 0])
        if worst >= most:
            return most
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


class Sights(NamedTuple):
    """Points (m, 3; row 0 the start, row 1 the end) and the straights between them.

    `missing` (m, m): mm of clearance that each is short of. `size` (m, m), `unit` (m, m, 3): length
    and direction. `noise` (m, m): what lengths are multiplied with. `roles` (m,): bit 1: may be the
    first corner, bit 2: may be the last.
    """

    missing: Array
    size: Array
    unit: Array
    noise: Array
    roles: Ints


@compiled
def ways(task: Task, graph: Sights, bends: int, most: float, found: Ints, costs: Array) -> int:
    """Cheapest ways over the points from start to end with 2 to `bends` corners.

    Every level keeps the cheapest way into each straight i -> j. Fills `found` (w, bends) with the
    corners, -1 beyond them, and `costs`; gives their number: for each number of corners the
    cheapest for every last corner.
    """
    m = graph.size.shape[0]
    cost = np.full((bends + 1, m, m), NO_WAY)
    tangent = np.zeros((bends + 1, m, m))
    before = np.full((bends + 1, m, m), -1)
    count = 0
    for j in range(2, m):
        if graph.roles[j] & 1 and graph.missing[0, j] < most:
            cost[0, 0, j] = MISSING * graph.missing[0, j] + graph.size[0, j] * graph.noise[0, j]
    for level in range(1, bends + 1):
        for j in range(2, m):
            for i in range(m):
                if cost[level - 1, i, j] < NO_WAY:
                    _go_on(task, graph, level, i, j, most, cost, tangent, before)
        if level >= 2:
            for j in range(2, m):
                if cost[level, j, 1] < NO_WAY and count < found.shape[0]:
                    costs[count] = cost[level, j, 1]
                    _trace(before, level, j, found, count)
                    count += 1
    return count


@compiled
def _go_on(
    task: Task,
    graph: Sights,
    level: int,
    i: int,
    j: int,
    most: float,
    cost: Array,
    tangent: Array,
    before: Ints,
) -> None:
    """Go on from the straight i -> j with corner `level` at j to every point it sees."""
    number = task.number
    least = number[1] if level == 1 else number[2]
    so_far, turned = cost[level - 1, i, j], tangent[level - 1, i, j]
    for k in range(1, graph.size.shape[0]):
        if k in (i, j) or graph.missing[j, k] >= most:
            continue
        if k == 1 and ((graph.roles[j] & 2) == 0 or level < 2):
            continue
        ahead = graph.size[j, k] * graph.noise[j, k] + MISSING * graph.missing[j, k]
        if so_far + ahead >= cost[level, j, k]:
            continue
        u, v = graph.unit[i, j], graph.unit[j, k]
        angle = math.acos(min(max(u[0] * v[0] + u[1] * v[1] + u[2] * v[2], -1.0), 1.0))
        if angle > SHARPEST:
            continue
        reach = number[0] * math.tan(0.5 * angle)
        short = max(least + turned + reach - graph.size[i, j], 0.0)
        if k == 1:
            short += max(number[3] + reach - graph.size[j, k], 0.0)
        if short > MOST_MISSING:
            continue
        over = max(angle - number[5], number[4] - angle, 0.0)
        total = so_far + ahead + MISSING * short + OVERTURN * over
        total += number[0] * angle - 2.0 * reach
        if total < cost[level, j, k]:
            cost[level, j, k], tangent[level, j, k], before[level, j, k] = total, reach, i


@compiled
def _trace(before: Ints, level: int, last: int, found: Ints, row: int) -> None:
    """Write down the corners of the way whose last corner, `level`, is at `last`."""
    at, to = last, 1
    for q in range(level - 1, -1, -1):
        found[row, q] = at
        at, to = before[q + 1, at, to], at
