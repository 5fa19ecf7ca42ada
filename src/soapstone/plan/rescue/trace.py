"""Compiled: where a laid tube runs, what it lacks, and how both change with the unknowns.

Every change turns what follows about an axis, or shifts it: the straight before it shifts along
itself, a roll turns about that straight, a bend turns about the arc's axis through its centre, and
a wider radius opens the arc along its chord. So the derivatives are closed.
"""

from math import cos, pi, sin, sqrt
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

Ints: TypeAlias = npt.NDArray[np.int64]

DEGREE = pi / 180

START, ALONG, UP, VALUES = 0, 3, 6, 9
"""Where in a laid tube's numbers the A end, `along` and `up` of its centreline and the unknowns
stand."""

POSE = 6
"""Columns of a step before the unknowns: mm of shift, degrees of turn about the A end."""


class Task(NamedTuple):
    """One rescue as numbers, for n bends and m unknowns; mm and degrees.

    `legs` (n + 1, m + 1): straights, of (unknowns, 1). `number`: the die's radius, degrees on it
    for a degree after release, mm and degrees that may pass at an end. `bent`, `held` (n,): the
    facts' angles. `ends`, `ways` (2, 3), `middles` (n, 3): as in `Target`. `vias` (v, 4): point,
    within. `contacts` (c, 4): normal, least. `spots` (s, 2): piece and share of the places that
    count: both ends, the middles, one for each via, two for each contact, of which the second may
    be none, -1. `free` (f,): the columns of a step that may be used. `limits` (k, m), `least` (k,).
    """

    legs: Array
    number: Array
    bent: Array
    held: Array
    ends: Array
    ways: Array
    middles: Array
    vias: Array
    contacts: Array
    spots: Array
    free: Ints
    limits: Array
    least: Array


class Trace(NamedTuple):
    """A laid tube: straights and arcs as in `geometry.centreline.Walk`, and their measures."""

    legs: Array
    angles: Array
    radii: Array
    nodes: Array
    ways: Array
    axes: Array
    centres: Array


@compiled
def new_trace(count: int) -> Trace:
    """Room for a tube of so many bends."""
    return Trace(
        np.zeros(count + 1),
        np.zeros(count),
        np.zeros(count),
        np.zeros((2 * count + 2, 3)),
        np.zeros((count + 1, 3)),
        np.zeros((count, 3)),
        np.zeros((count, 3)),
    )


@compiled
def cross(a: Array, b: Array) -> tuple[float, float, float]:
    """Cross product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@compiled
def unit(a: Array) -> None:
    """Bring to length 1, in place."""
    size = sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])
    for c in range(3):
        a[c] /= size


@compiled
def square_up(a: Array, way: Array) -> None:
    """Bring to length 1 and square to a unit vector, in place."""
    along = a[0] * way[0] + a[1] * way[1] + a[2] * way[2]
    for c in range(3):
        a[c] -= along * way[c]
    unit(a)


@compiled
def lay(task: Task, state: Array, out: Trace) -> None:
    """Follow a laid tube through space."""
    n = task.bent.shape[0]
    _measure(task, state, out)
    at, way, axis = np.empty(3), np.empty(3), np.empty(3)
    for c in range(3):
        at[c], way[c], axis[c] = state[START + c], state[ALONG + c], state[UP + c]
        out.nodes[0, c], out.ways[0, c] = at[c], way[c]
    axis[0], axis[1], axis[2] = cross(way, axis)
    for i in range(n):
        planes = VALUES + 2 + 2 * n
        rolled = DEGREE * (state[planes + i] - state[planes + i - 1]) if i else 0.0
        co, si, aside = cos(rolled), sin(rolled), cross(way, axis)
        for c in range(3):
            axis[c] = co * axis[c] + si * aside[c]
        inward, radius = cross(axis, way), out.radii[i]
        co, si = cos(DEGREE * out.angles[i]), sin(DEGREE * out.angles[i])
        for c in range(3):
            at[c] += out.legs[i] * way[c]
            out.nodes[2 * i + 1, c], out.axes[i, c] = at[c], axis[c]
            out.centres[i, c] = at[c] + radius * inward[c]
            at[c] += radius * (si * way[c] + (1 - co) * inward[c])
            out.nodes[2 * i + 2, c] = at[c]
            way[c] = co * way[c] + si * inward[c]
        unit(way)
        square_up(axis, way)  # at every bend, or rounding doubles from bend to bend
        for c in range(3):
            out.ways[i + 1, c] = way[c]
    for c in range(3):
        out.nodes[2 * n + 1, c] = at[c] + out.legs[n] * way[c]


@compiled
def _measure(task: Task, state: Array, out: Trace) -> None:
    """Straights, angles and radii of a laid tube."""
    n, m = task.bent.shape[0], task.limits.shape[1]
    for i in range(n + 1):
        total = task.legs[i, m]
        for j in range(m):
            total += task.legs[i, j] * state[VALUES + j]
        out.legs[i] = total
    for i in range(n):
        angle = state[VALUES + 2 + n + i]
        held = task.held[i] + task.number[1] * (angle - task.bent[i])
        out.angles[i], out.radii[i] = angle, task.number[0] * held / angle


@compiled
def place(task: Task, trace: Trace, spot: int, point: Array, along: Array) -> None:
    """Point and direction of travel at a spot: pieces are even for straights, odd for arcs."""
    piece, share = int(task.spots[spot, 0]), task.spots[spot, 1]
    i = piece // 2
    if piece % 2 == 0:
        for c in range(3):
            along[c] = trace.ways[i, c]
            point[c] = trace.nodes[piece, c] + share * trace.legs[i] * along[c]
        return
    turned = share * trace.angles[i] * DEGREE
    inward = cross(trace.axes[i], trace.ways[i])
    for c in range(3):
        along[c] = cos(turned) * trace.ways[i, c] + sin(turned) * inward[c]
        point[c] = trace.centres[i, c] + trace.radii[i] * (
            sin(turned) * trace.ways[i, c] - cos(turned) * inward[c]
        )


@compiled
def place_rows(task: Task, state: Array, trace: Trace, spot: int, point: Array, out: Array) -> None:
    """Derivative (3, columns of a step) of the place of a spot, whose point is given.

    It is written to rows 3 `spot` and on.
    """
    m, row, arm = task.limits.shape[1], 3 * spot, np.empty(3)
    piece, share = int(task.spots[spot, 0]), task.spots[spot, 1]
    for c in range(3):
        arm[c] = point[c] - state[START + c]
    _turn_rows(arm, out, row)
    for c in range(3):
        out[row + c, c] = 1.0
    i, on_arc = piece // 2, piece % 2 == 1
    for j in range(i + 1):
        part = share if j == i and not on_arc else 1.0
        for u in range(m):
            by = part * task.legs[j, u]
            if by != 0.0:
                for c in range(3):
                    out[row + c, POSE + u] += by * trace.ways[j, c]
    for j in range(i + 1 if on_arc else i):
        _bend_rows(task, trace, j, share if j == i else 1.0, point, out, row)


@compiled
def _bend_rows(
    task: Task, trace: Trace, j: int, part: float, point: Array, out: Array, row: int
) -> None:
    """Add how a point moves with bend j, of which `part` lies before it."""
    n = task.bent.shape[0]
    inner, outer = np.empty(3), np.empty(3)
    for c in range(3):
        inner[c] = point[c] - trace.centres[j, c]
        outer[c] = point[c] - trace.nodes[2 * j + 1, c]
    by_angle, by_roll = cross(trace.axes[j], inner), cross(trace.ways[j], outer)
    grows = (task.number[0] * task.number[1] - trace.radii[j]) / trace.angles[j] / trace.radii[j]
    angle, plane = POSE + 2 + n + j, POSE + 2 + 2 * n + j
    for c in range(3):
        leaves = point[c] if part < 1.0 else trace.nodes[2 * j + 2, c]
        out[row + c, angle] += DEGREE * part * by_angle[c]
        out[row + c, angle] += grows * (leaves - trace.nodes[2 * j + 1, c])
        if j:  # the first bend's plane turns with the tube
            out[row + c, plane] += DEGREE * by_roll[c]
            out[row + c, plane - 1] -= DEGREE * by_roll[c]


@compiled
def _turn_rows(arm: Array, out: Array, row: int) -> None:
    """Clear three rows and write how a vector turns with the tube about its A end."""
    for c in range(3):
        for u in range(out.shape[1]):
            out[row + c, u] = 0.0
    x, y, z = DEGREE * arm[0], DEGREE * arm[1], DEGREE * arm[2]
    out[row + 1, 3], out[row + 2, 3] = -z, y
    out[row, 4], out[row + 2, 4] = z, -x
    out[row, 5], out[row + 1, 5] = -y, x


@compiled
def way_rows(task: Task, trace: Trace, end: int, out: Array, row: int) -> None:
    """Write the derivative of the direction at the A end (0) or the B end (1)."""
    n = task.bent.shape[0]
    way = trace.ways[end * n]
    _turn_rows(way, out, row)
    for j in range(end * n):
        by_angle, by_roll = cross(trace.axes[j], way), cross(trace.ways[j], way)
        for c in range(3):
            out[row + c, POSE + 2 + n + j] += DEGREE * by_angle[c]
            if j:
                out[row + c, POSE + 2 + 2 * n + j] += DEGREE * by_roll[c]
                out[row + c, POSE + 1 + 2 * n + j] -= DEGREE * by_roll[c]
