"""Compiled: Levenberg-Marquardt descents on the hinge residuals, singly and in batches."""

import math

import numpy as np

from soapstone.fit.route.contact import Room
from soapstone.fit.route.goals import tube_length
from soapstone.fit.route.polyline import Task, Work, lay_out, make_work
from soapstone.fit.route.rows import all_rows
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

SOLVED = 1e-6
"""mm2: a cost below this breaks nothing by more than a micrometre or so."""


@compiled
def solve_step(normal: Array, damping: float, factor: Array, step: Array) -> bool:
    """Solve (matrix + damping) step = -gradient by Cholesky. False: not positive definite."""
    n = step.shape[0]
    for i in range(n):
        for j in range(i + 1):
            total = normal[i, j]
            for m in range(j):
                total -= factor[i, m] * factor[j, m]
            if i == j:
                total += damping
                if total <= 1e-14:
                    return False
                factor[i, i] = math.sqrt(total)
            else:
                factor[i, j] = total / factor[j, j]
    for i in range(n):
        total = -normal[n, i]
        for m in range(i):
            total -= factor[i, m] * step[m]
        step[i] = total / factor[i, i]
    for i in range(n - 1, -1, -1):
        total = step[i]
        for m in range(i + 1, n):
            total -= factor[m, i] * step[m]
        step[i] = total / factor[i, i]
    return True


@compiled
def descend(
    work: Work, task: Task, room: Room, y: Array, eps: float, iterations: int, damping: float
) -> tuple[float, float]:
    """Improve y in place, by at most `iterations` steps: (cost, damping to go on with)."""
    n = y.shape[0]
    normals = np.zeros((2, n + 1, n))
    factor, steps = np.zeros((n, n)), np.zeros((2, n))
    now = 0
    cost = all_rows(work, task, room, y, eps, normals[0])
    growth = 2.0
    stalled = 0
    for _ in range(iterations):
        if eps == 0.0 and cost < SOLVED:
            break
        if not solve_step(normals[now], damping, factor, steps[0]):
            damping = max(damping * 10.0, 1e-8)
            continue
        expected, size = 0.0, 0.0
        for v in range(n):
            step = steps[0, v]
            steps[1, v] = y[v] + step
            expected += 0.5 * step * (damping * step - normals[now, n, v])
            size += step * step
        if size < 1e-14:
            break
        new = all_rows(work, task, room, steps[1], eps, normals[1 - now])
        ratio = (cost - new) / max(expected, 1e-30)
        if new < cost:
            stalled = stalled + 1 if cost - new < 1e-4 * (cost if eps == 0.0 else eps) else 0
            cost = new
            now = 1 - now
            for v in range(n):
                y[v] = steps[1, v]
            damping = max(damping * max(1.0 / 3.0, 1.0 - (2.0 * ratio - 1.0) ** 3), 1e-9)
            growth = 2.0
            if stalled > 3:
                break
        else:
            damping = max(damping, 1e-9) * growth
            growth *= 2.0
            if damping > 1e9:
                break
    return cost, damping


@compiled
def batch_round(
    task: Task, room: Room, starts: Array, iterations: int, kept: float, state: Array
) -> int:
    """Descend from many starts (m, n), in place, and drop the worse part of those still open.

    `kept`: the part of the open starts that goes on. `state` (3, m): cost, damping to go on with,
    and 1 for what is solved or dropped. Gives the number still open.
    """
    m = starts.shape[0]
    work = make_work(task, room)
    open_ = 0
    for i in range(m):
        if state[2, i] == 0.0:
            state[0, i], state[1, i] = descend(
                work, task, room, starts[i], 0.0, iterations, state[1, i]
            )
            if state[0, i] < SOLVED:
                state[2, i] = 1.0
            else:
                open_ += 1
    surplus = open_ - max(int(kept * open_), 1)
    for _ in range(surplus):
        worst = -1
        for i in range(m):
            if state[2, i] == 0.0 and (worst < 0 or state[0, i] > state[0, worst]):
                worst = i
        state[2, worst] = 1.0
    return open_ - max(surplus, 0)


@compiled
def shorten(
    task: Task, room: Room, y: Array, eps: float, iterations: int, damping: float
) -> tuple[float, float]:
    """Go on from y, in place, with the length weighing `eps` against what it must keep.

    Gives (cost, damping to go on with); without a weight the cost is that of what is still broken.
    """
    return descend(make_work(task, room), task, room, y, eps, iterations, damping)


@compiled
def measure(task: Task, room: Room, y: Array) -> float:
    """Length in mm of the tube that y stands for."""
    work = make_work(task, room)
    lay_out(work, task, y)
    return tube_length(work.chain, task.number[0])
