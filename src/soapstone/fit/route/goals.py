"""Compiled: what a polyline should become: short, near where it was, or of very given angles."""

# ruff: noqa: C901

import math

from soapstone.fit.route.polyline import (
    ANGLE,
    ANY,
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
    move_leg,
    stretch_leg,
    take,
    tangent_rate,
    turn_corner,
    turn_leg,
)
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

HOME_ARM = 50.0
"""mm: a stray this long from home counts as much again as its own length."""

AIM_WEIGHT = 10.0
"""How many times the bend's radius an angle off its aim counts."""


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
    """Add eps times the squared distance of y from home, over twice `HOME_ARM`. Its cost."""
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
