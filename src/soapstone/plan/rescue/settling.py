"""Compiled: steps from a laid tube to the one that lands and is changed least.

Each step solves the linear problem within its limits (Gauss, Newton; damped by Levenberg and
Marquardt).
"""

from math import cos, sin, sqrt

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array
from soapstone.plan.rescue.limits import least_squares_within
from soapstone.plan.rescue.trace import (
    ALONG,
    DEGREE,
    POSE,
    START,
    UP,
    VALUES,
    Ints,
    Task,
    Trace,
    lay,
    new_trace,
    place,
    place_rows,
    square_up,
    unit,
    way_rows,
)

SETTLED = 1e-7
ENDS = 12
"""Residuals of the ends, before all others."""


@compiled
def settle(task: Task, state: Array, weight: float, short: float, steps: int) -> float:
    """Step, in place, until nothing more is gained; gives the sum of squares of what is lacking.

    `weight` says how much a mm off the drawn shape counts beside a missed end.
    """
    n, m, free = task.bent.shape[0], task.limits.shape[1], task.free
    size = ENDS + 3 * n + 3 * task.vias.shape[0] + task.contacts.shape[0]
    trace, trial = new_trace(n), state.copy()
    places = np.zeros((3 * task.spots.shape[0], POSE + m))
    rows, part = np.zeros((size, POSE + m)), np.zeros((size, free.shape[0]))
    limits = _free_limits(task)
    lacks, after = np.zeros(size), np.zeros(size)
    lay(task, state, trace)
    residual(task, trace, weight, lacks)
    worth, damping = _worth(task, state, lacks, short), 1e-6
    change, step = np.zeros(POSE + m), np.zeros(free.shape[0])
    for _ in range(steps):
        residual_rows(task, state, trace, weight, places, rows)
        _free_columns(rows, free, part)
        least = _least(task, state, short)
        gained = -1.0
        while gained < 0 and damping <= 1e6:
            if not _step(part, lacks, limits, least, damping, step):
                return worth
            for j in range(free.shape[0]):
                change[free[j]] = step[j]
            moved(state, change, trial)
            lay(task, trial, trace)
            residual(task, trace, weight, after)
            gained = worth - _worth(task, trial, after, short)
            damping = damping * 10 if gained < 0 else max(damping / 10, 1e-9)
        if gained < 0:
            return worth
        _copy(trial, state)
        _copy(after, lacks)
        worth -= gained
        if _largest(step) < SETTLED or gained < SETTLED * 1e-3 * worth:
            return worth
    return worth


@compiled
def _free_columns(rows: Array, free: Ints, out: Array) -> None:
    """Take the columns of a step that may be used."""
    for j in range(free.shape[0]):
        for i in range(rows.shape[0]):
            out[i, j] = rows[i, free[j]]


@compiled
def _copy(values: Array, out: Array) -> None:
    for j in range(values.shape[0]):
        out[j] = values[j]


@compiled
def _largest(values: Array) -> float:
    largest = 0.0
    for j in range(values.shape[0]):
        largest = max(largest, abs(values[j]))
    return largest


@compiled
def moved(state: Array, change: Array, out: Array) -> None:
    """Take a step: three mm of shift, three degrees of turn about the A end, then the unknowns."""
    _copy(state, out)
    for c in range(3):
        out[START + c] += change[c]
    for j in range(POSE, change.shape[0]):
        out[VALUES + j - POSE] += change[j]
    by = sqrt(change[3] ** 2 + change[4] ** 2 + change[5] ** 2)
    along, up, axis = out[ALONG:UP], out[UP:VALUES], np.empty(3)
    if by > 0:
        for c in range(3):
            axis[c] = change[3 + c] / by
        _turn(along, axis, DEGREE * by)
        _turn(up, axis, DEGREE * by)
    unit(along)
    square_up(up, along)


@compiled
def _turn(vector: Array, axis: Array, by_rad: float) -> None:
    """Rotate a vector right-handed about a unit axis, in place (Rodrigues' formula)."""
    c, s = cos(by_rad), sin(by_rad)
    x, y, z = vector[0], vector[1], vector[2]
    along = (1 - c) * (axis[0] * x + axis[1] * y + axis[2] * z)
    vector[0] = c * x + s * (axis[1] * z - axis[2] * y) + along * axis[0]
    vector[1] = c * y + s * (axis[2] * x - axis[0] * z) + along * axis[1]
    vector[2] = c * z + s * (axis[0] * y - axis[1] * x) + along * axis[2]


@compiled
def _free_limits(task: Task) -> Array:
    """Limits (k, f) on the columns of a step that may be used."""
    limits = np.zeros((task.limits.shape[0], task.free.shape[0]))
    for j in range(task.free.shape[0]):
        for i in range(limits.shape[0] if task.free[j] >= POSE else 0):
            limits[i, j] = task.limits[i, task.free[j] - POSE]
    return limits


@compiled
def _least(task: Task, state: Array, short: float) -> Array:
    """What the limits still ask of a step from here, (k,)."""
    least = task.least.copy()
    for i in range(least.shape[0]):
        for j in range(task.limits.shape[1]):
            least[i] -= task.limits[i, j] * state[VALUES + j]
        least[i] -= short
    return least


@compiled
def _worth(task: Task, state: Array, lacks: Array, short: float) -> float:
    """Sum of squares; where limits are broken still, that counts above all."""
    total, broken = 0.0, 0.0
    for i in range(lacks.shape[0]):
        total += lacks[i] * lacks[i]
    least = _least(task, state, short)
    for i in range(least.shape[0]):
        broken = max(broken, least[i])
    return total + (1e9 * broken if broken > 1e-6 else 0.0)


@compiled
def _step(
    rows: Array, lacks: Array, limits: Array, least: Array, damping: float, step: Array
) -> bool:
    """Find the damped step within its limits; False when there is none."""
    size, free = rows.shape
    system, wanted = np.zeros((size + free, free)), np.zeros(size + free)
    for i in range(size):
        wanted[i] = -lacks[i]
        for j in range(free):
            system[i, j] = rows[i, j]
    for j in range(free):
        total = 0.0
        for i in range(size):
            total += rows[i, j] * rows[i, j]
        system[size + j, j] = sqrt(damping * max(total, 1e-6))
    return least_squares_within(system, wanted, limits, least, step)


@compiled
def residual(task: Task, trace: Trace, weight: float, out: Array) -> None:
    """What is to be brought to nothing: ends, directions, the drawn shape, points, what is near."""
    n, off, askew = task.bent.shape[0], task.number[2], DEGREE * task.number[3]
    points, along = np.empty((task.spots.shape[0], 3)), np.empty(3)
    at, vias = ENDS + 3 * n, task.vias.shape[0]
    for i in range(points.shape[0]):
        if task.spots[i, 0] >= 0:
            place(task, trace, i, points[i], along)
        if 2 + n <= i < 2 + n + vias:
            far, beyond = _aside(points[i], task.vias[i - 2 - n], along), 1.0
            if task.vias[i - 2 - n, 3] > 0:
                beyond = max(0.0, 1.0 - task.vias[i - 2 - n, 3] / far) if far > 0 else 0.0
            for c in range(3):
                out[at + 3 * (i - 2 - n) + c] = beyond * points[i, c] / off
    for c in range(3):
        for end in range(2):
            out[3 * end + c] = (points[end, c] - task.ends[end, c]) / off
            out[6 + 3 * end + c] = (trace.ways[end * n, c] - task.ways[end, c]) / askew
        for i in range(n):
            out[ENDS + 3 * i + c] = weight * (points[2 + i, c] - task.middles[i, c])
    for i in range(task.contacts.shape[0]):
        out[at + 3 * vias + i] = max(0.0, _short_of(task, points, i)) / off


@compiled
def _aside(point: Array, via: Array, along: Array) -> float:
    """Make of a place on the tube how far it passes beside a point, square to its travel."""
    slides = 0.0
    for c in range(3):
        point[c] -= via[c]
        slides += point[c] * along[c]
    for c in range(3):
        point[c] -= slides * along[c]
    return sqrt(point[0] ** 2 + point[1] ** 2 + point[2] ** 2)


@compiled
def _short_of(task: Task, points: Array, contact: int) -> float:
    """Give the mm by which a place lacks what a contact asks for; negative: it has more."""
    first = task.spots.shape[0] - 2 * task.contacts.shape[0] + 2 * contact
    gap = 0.0
    for c in range(3):
        seen_from = points[first + 1, c] if task.spots[first + 1, 0] >= 0 else 0.0
        gap += task.contacts[contact, c] * (points[first, c] - seen_from)
    lacks: float = task.contacts[contact, 3] - gap
    return lacks


@compiled
def residual_rows(
    task: Task, state: Array, trace: Trace, weight: float, places: Array, out: Array
) -> None:
    """Derivative of the residual by the columns of a step; `places` (3 spots, columns) is room."""
    n, off, askew = task.bent.shape[0], task.number[2], DEGREE * task.number[3]
    points, along = np.zeros((task.spots.shape[0], 3)), np.empty(3)
    for i in range(points.shape[0]):
        if task.spots[i, 0] < 0:
            continue
        place(task, trace, i, points[i], along)
        place_rows(task, state, trace, i, points[i], places)
        if 2 + n <= i < 2 + n + task.vias.shape[0]:
            _via_rows(task, places, points[i], i - 2 - n, along, out)
    for end in range(2):
        way_rows(task, trace, end, out, 6 + 3 * end)
    for u in range(out.shape[1]):
        for i in range(6):
            out[i, u] = places[i, u] / off
            out[6 + i, u] /= askew
        for i in range(3 * n):
            out[ENDS + i, u] = weight * places[6 + i, u]
    for i in range(task.contacts.shape[0]):
        _contact_row(task, places, points, i, out)


@compiled
def _via_rows(task: Task, places: Array, point: Array, via: int, along: Array, out: Array) -> None:
    """How the way that a tube passes beside a point changes."""
    n, within = task.bent.shape[0], task.vias[via, 3]
    first, row = 3 * (2 + n + via), ENDS + 3 * n + 3 * via
    far = _aside(point, task.vias[via], along)
    beyond = far > within > 0
    keeps = 1.0 - within / far if beyond else 0.0 if within > 0 else 1.0
    for u in range(out.shape[1]):
        slides, leaves = 0.0, 0.0
        for c in range(3):
            slides += places[first + c, u] * along[c]
            leaves += places[first + c, u] * point[c] / far if beyond else 0.0
        for c in range(3):
            away = point[c] / far if beyond else 0.0
            square = places[first + c, u] - slides * along[c]
            out[row + c, u] = (keeps * square + (1.0 - keeps) * leaves * away) / task.number[2]


@compiled
def _contact_row(task: Task, places: Array, points: Array, contact: int, out: Array) -> None:
    """How what is missing between a place of the tube and what it is kept off changes."""
    contacts = task.contacts.shape[0]
    row, first = out.shape[0] - contacts + contact, task.spots.shape[0] - 2 * contacts
    counts = _short_of(task, points, contact) > 0
    for u in range(out.shape[1]):
        out[row, u] = 0.0
    for side in range(2):
        spot = first + 2 * contact + side
        if not counts or task.spots[spot, 0] < 0:
            continue
        for c in range(3):
            by = (2 * side - 1) * task.contacts[contact, c] / task.number[2]
            for u in range(out.shape[1]):
                out[row, u] += by * places[3 * spot + c, u]
