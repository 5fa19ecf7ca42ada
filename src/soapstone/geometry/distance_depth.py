"""Branch and bound for how deep a line runs inside a closed mesh, standing or swung; compiled.

Inside, the signed distance is minus the distance to the surface, so any triangles of it bound it.
In a cell (see `distance_cells`) of centre c and reach r let p_i be the point of triangle i nearest
to c, v_i = c - p_i of length d_i, n_i its direction, and m_i how far p_i is from the triangle's
edges. A point q = c + u is no deeper than the nearest triangle is from it, which for any weights
w_i that sum to 1 is at most either of

    sqrt(sum w_i |q - p_i|^2)  <=  sqrt(sum w_i v_i^2 + 2 V.u + r^2)           V = sum w_i v_i
    sum w_i distance_i         <=  sum w_i (d_i + t_i) + N.u                   N = sum w_i n_i

with t_i = max(0, r - m_i)^2 / (2 (d_i - r)), as u takes q at most r along the triangle's plane; and
V.u is at most min(sum |V.dq/dx_j| h_j + |V| e, |V| r). Between walls V and N can be made 0: the
bounds are of second order about a deepest point, and the last is exact midway between plain walls.
Cells are taken deepest bound first, and hand the triangles they know of on to their halves.
"""

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapstone.geometry.bvh import STACK
from soapstone.geometry.bvh_rays import is_inside
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_cells import (
    HUGE,
    Pieces,
    Target,
    View,
    put_on_line,
    swing_back,
)
from soapstone.geometry.distance_kernels import bounds_distance, triangle_distance
from soapstone.geometry.distance_search import (
    Progress,
    as_result,
    enter_cell,
    new_progress,
    new_view,
    set_whole,
    split_cell,
)
from soapstone.geometry.vectors import Array

CELLS = 200_000
KNOWN = 6
"""Triangles that a cell remembers."""

SWEEPS = 3
PROGRESS = 0.1
"""Part of a cell's reach along a side that counts even where the bound does not depend on it."""

CELL_WORK = 60
RAY_WORK = 200


class Queue(NamedTuple):
    """Cells that wait, as a heap.

    `keys` (n,) their bounds and `slots` (n,) where they are; by slot `cells` (n, k + 1, 2) and
    `known` (n, KNOWN) triangles, of which `counts` (n, 2) says how many, and whether all is inside.
    """

    keys: Array
    slots: npt.NDArray[np.int64]
    cells: Array
    known: npt.NDArray[np.int64]
    counts: npt.NDArray[np.int64]


class Known(NamedTuple):
    """Triangles known of in one cell, KNOWN + 1 at most.

    `rows` (n,) which; `arms` (n, 3) v_i; `sizes` (n, 2) d_i and m_i. What the bound is made of:
    `vectors` (n, 3), v_i or n_i; `costs` (n,) what stands beside them; `weights` (n,); `pull` (4,)
    V or N, and what reach squared counts beside it.
    """

    rows: npt.NDArray[np.int64]
    arms: Array
    sizes: Array
    vectors: Array
    costs: Array
    weights: Array
    pull: Array


@compiled
def deepest(
    pieces: Pieces, target: Target, hinges: Array, tolerance: float, limit: float, start: Array
) -> Array:
    """Least signed distance to a closed mesh; arguments and result as of `search`.

    `start` is a result whose greater bound is not above the least distance to the surface.
    """
    progress = new_progress(hinges)
    view = new_view(hinges)
    progress.bounds[1] = start[1]
    for j in range(len(progress.at)):
        progress.at[j] = start[3 + j]
    _sample(pieces, target, hinges, view, progress)
    _descend(pieces, target, hinges, view, progress, tolerance, limit)
    return as_result(progress)


@compiled
def _near(
    target: Target, progress: Progress, at: Array, within: float, enough: float
) -> tuple[float, int]:
    """As `bvh.nearest`, but content with anything no further off than `enough`; counts work."""
    x, y, z = at[0], at[1], at[2]
    stack = np.empty(STACK, np.int32)
    reach = np.empty(STACK)
    stack[0], reach[0] = 0, bounds_distance(target.boxes, 0, x, y, z)[0]
    waiting, best, found, work = 1, within, -1, 1
    while waiting > 0 and best > enough:
        waiting -= 1
        if reach[waiting] >= best:
            continue
        work += 2
        left, right = target.links[stack[waiting]]
        if left < 0:
            for i in range(-1 - left, -1 - left + right):
                d = triangle_distance(target.triangles, i, x, y, z)[0]
                if d < best:
                    best, found = d, i
            continue
        near = bounds_distance(target.boxes, left, x, y, z)[0]
        far = bounds_distance(target.boxes, right, x, y, z)[0]
        if near > far:
            left, right, near, far = right, left, far, near
        stack[waiting], reach[waiting] = right, far
        stack[waiting + 1], reach[waiting + 1] = left, near
        waiting += 2
    progress.bounds[2] += work
    return best, found


@compiled
def _within(target: Target, progress: Progress, at: Array) -> bool:
    progress.bounds[2] += RAY_WORK
    return is_inside(target.triangles, target.boxes, target.links, at[0], at[1], at[2])


@compiled
def _sample(pieces: Pieces, target: Target, hinges: Array, view: View, progress: Progress) -> None:
    """Look at a grid of points and angles."""
    along = min(64, max(16, 3 * (len(pieces.starts) - 1)))
    around = (1, 13, 7, 4, 3)[len(hinges)] if len(hinges) < 5 else 2
    for index in range(along * around ** len(hinges)):
        rest = index
        view.middle[0] = (rest % along + 0.5) * pieces.starts[-1] / along
        rest //= along
        for j in range(len(hinges)):
            part = (rest % around + 0.5) / around
            view.middle[1 + j] = hinges[j, 6] + part * (hinges[j, 7] - hinges[j, 6])
            rest //= around
        put_on_line(pieces, view.middle[0], view.frame)
        swing_back(hinges, view.middle[1:], view.frame, view.sines)
        at, enough = view.frame[0], -progress.bounds[1]
        if bounds_distance(target.boxes, 0, at[0], at[1], at[2])[0] > 0:
            continue
        d = _near(target, progress, at, inf, enough)[0]
        if d > enough and _within(target, progress, at):
            _keep(view, progress, d)


@compiled
def _keep(view: View, progress: Progress, depth: float) -> None:
    progress.bounds[1] = -depth
    for j in range(len(view.middle)):
        progress.at[j] = view.middle[j]


@compiled
def _descend(
    pieces: Pieces,
    target: Target,
    hinges: Array,
    view: View,
    progress: Progress,
    tolerance: float,
    limit: float,
) -> None:
    """Go through the cells, the deepest bound first, until none is deeper than what was found."""
    sides, bounds = len(view.half), progress.bounds
    queue = Queue(
        np.empty(CELLS),
        np.arange(CELLS),
        np.empty((CELLS, sides, 2)),
        np.empty((CELLS, KNOWN), np.int64),
        np.zeros((CELLS, 2), np.int64),
    )
    known = _none_known()
    pair = np.empty((2, sides, 2))
    set_whole(pieces, hinges, queue.cells[0])
    queue.keys[0], waiting = -inf, 1
    while waiting > 0:
        low = queue.keys[0]
        if low >= bounds[1] - tolerance or bounds[2] > limit or waiting + 2 >= CELLS:
            bounds[0] = min(bounds[0], low)
            return
        slot = _pop(queue, waiting)
        waiting -= 1
        for j in range(sides):
            pair[0, j, 0], pair[0, j, 1] = queue.cells[slot, j, 0], queue.cells[slot, j, 1]
        away, error = enter_cell(pieces, hinges, pair[0], view)
        count, outside = _look(target, view, progress, queue, slot, known, away)
        wanted = bounds[1] - tolerance
        bound = max(low, outside, _bound(view, known, count, away, error, wanted))
        if bound >= wanted:
            bounds[0] = min(bounds[0], bound)
            continue
        inner = queue.counts[slot, 1]
        count = _forget(known, count)
        split_cell(pieces, pair, 0, (_side(view, known, away, error), True), error)
        for half in range(2):
            away, error = enter_cell(pieces, hinges, pair[half], view)
            _set_arms(target, view, known, count)
            part = max(bound, _bound(view, known, count, away, error, wanted))
            bounds[2] += CELL_WORK
            if part >= wanted:
                bounds[0] = min(bounds[0], part)
                continue
            _push(queue, waiting, part, pair[half], known, count, inner)
            waiting += 1


@compiled
def _look(
    target: Target,
    view: View,
    progress: Progress,
    queue: Queue,
    slot: int,
    known: Known,
    away: float,
) -> tuple[int, float]:
    """Find the triangle nearest to a cell's centre, and on which side of the surface that is.

    Gives how many triangles are known now, and a bound of the cell from its centre being outside.
    """
    at, count = view.frame[0], queue.counts[slot, 0]
    for i in range(count):
        known.rows[i] = queue.known[slot, i]
    _set_arms(target, view, known, count)
    within = inf
    for i in range(count):
        within = min(within, known.sizes[i, 0])
    d, found = _near(target, progress, at, within, 0.0)
    if found >= 0:
        known.rows[count] = found
        count += 1
        _set_arms(target, view, known, count)
    inner = queue.counts[slot, 1] == 1 or _within(target, progress, at)
    if not inner:
        return count, d - away
    if d > away:
        queue.counts[slot, 1] = 1
    if -d < progress.bounds[1]:
        _keep(view, progress, d)
    return count, -inf


@compiled
def _none_known() -> Known:
    most = KNOWN + 1
    return Known(
        np.empty(most, np.int64),
        np.empty((most, 3)),
        np.empty((most, 2)),
        np.empty((most, 3)),
        np.empty(most),
        np.empty(most),
        np.empty(4),
    )


@compiled
def _set_arms(target: Target, view: View, known: Known, count: int) -> None:
    """Measure the cell's centre from the triangles known of."""
    x, y, z = view.frame[0, 0], view.frame[0, 1], view.frame[0, 2]
    for i in range(count):
        d, gx, gy, gz = triangle_distance(target.triangles, known.rows[i], x, y, z)
        known.arms[i, 0], known.arms[i, 1], known.arms[i, 2] = d * gx, d * gy, d * gz
        row = target.triangles[known.rows[i]]
        px, py, pz = x - d * gx - row[0], y - d * gy - row[1], z - d * gz - row[2]
        bx, by, bz, cx, cy, cz = row[3], row[4], row[5], row[6], row[7], row[8]
        margin = min(_off(px, py, pz, bx, by, bz), _off(px, py, pz, cx, cy, cz))
        margin = min(margin, _off(px - bx, py - by, pz - bz, cx - bx, cy - by, cz - bz))
        known.sizes[i, 0], known.sizes[i, 1] = d, margin


@compiled
def _off(px: float, py: float, pz: float, bx: float, by: float, bz: float) -> float:
    """How far a point is from a line through the origin; 0 when that has no direction."""
    square = bx * bx + by * by + bz * bz
    if square == 0:
        return 0.0
    x, y, z = py * bz - pz * by, pz * bx - px * bz, px * by - py * bx
    return sqrt((x * x + y * y + z * z) / square)


@compiled
def _bound(view: View, known: Known, count: int, away: float, error: float, wanted: float) -> float:
    """Lower bound of the signed distance over a cell; leaves the weights and V or N in `known`.

    It is not made any better once it is `wanted`.
    """
    if count == 0:
        known.pull[:] = 0.0
        known.pull[3] = 1.0
        return -inf
    curved = 0.0
    for i in range(count):
        d = known.sizes[i, 0]
        for k in range(3):
            known.vectors[i, k] = known.arms[i, k] / max(d, 1e-300)
        if d <= away:
            known.costs[i] = d + 2 * away
            curved = max(curved, 1 / max(away, 1e-300))
        else:
            beyond = max(0.0, away - known.sizes[i, 1])
            known.costs[i] = d + beyond * beyond / (2 * (d - away))
            if beyond > 0:
                curved = max(curved, 1 / (2 * (d - away)))
    straight = -_balance(view, known, count, away, error)
    if curved == 0 or straight >= wanted:
        known.pull[3] = curved
        return straight
    x, y, z, n = known.pull[0], known.pull[1], known.pull[2], known.weights.copy()
    for i in range(count):
        d = known.sizes[i, 0]
        known.costs[i] = d * d / 2
        for k in range(3):
            known.vectors[i, k] = known.arms[i, k]
    round_ = -sqrt(2 * _balance(view, known, count, away, error) + away * away)
    known.pull[3] = 0.5
    if straight > round_:
        known.pull[0], known.pull[1], known.pull[2], known.pull[3] = x, y, z, curved
        known.weights[:] = n
    return max(straight, round_)


@compiled
def _balance(view: View, known: Known, count: int, away: float, error: float) -> float:
    """Weigh the triangles so that costs and what V.u can be over the cell are least together."""
    weights, pull, costs = known.weights, known.pull, known.costs
    trial = np.empty(3)
    best, first = inf, 0
    for i in range(count):
        weights[i] = 0.0
        value = costs[i] + _spread(view, known.vectors[i], away, error)
        if value < best:
            best, first = value, i
    weights[first] = 1.0
    mean = costs[first]
    for k in range(3):
        pull[k] = known.vectors[first, k]
    for _ in range(SWEEPS):
        before = best
        for i in range(count):
            best, mean = _shift(view, known, count, i, (best, mean), (away, error), trial)
        if best > before - 1e-9 * before:
            break
    return best


@compiled
def _shift(
    view: View,
    known: Known,
    count: int,
    i: int,
    now: tuple[float, float],
    spread: tuple[float, float],
    trial: Array,
) -> tuple[float, float]:
    """Move weight from all points to point i where that lowers the bound; give it and the mean."""
    best, mean = now
    away, error = spread
    pull, v, cost = known.pull, known.vectors[i], known.costs[i]
    chosen = 0.0
    for j in range(-1, len(view.half)):
        # the bound is least, but for its curved part, where V is square to a side or shortest
        a, b = 0.0, 0.0
        for k in range(3):
            row = view.frame[1 + j, k] if j >= 0 else v[k] - pull[k]
            a += pull[k] * row
            b += (v[k] - pull[k]) * row
        if b == 0:
            continue
        t = -a / b
        if not 0 < t < 1:
            continue
        for k in range(3):
            trial[k] = pull[k] + t * (v[k] - pull[k])
        value = mean + t * (cost - mean) + _spread(view, trial, away, error)
        if value < best:
            best, chosen = value, t
    if chosen > 0:
        mean += chosen * (cost - mean)
        for k in range(3):
            pull[k] += chosen * (v[k] - pull[k])
        for m in range(count):
            known.weights[m] *= 1 - chosen
        known.weights[i] += chosen
    return best, mean


@compiled
def _spread(view: View, pull: Array, away: float, error: float) -> float:
    """Most that V.u can be over a cell."""
    size = sqrt(pull[0] * pull[0] + pull[1] * pull[1] + pull[2] * pull[2])
    if error >= HUGE:
        return size * away
    slope = size * error
    for j in range(len(view.half)):
        row = view.frame[1 + j]
        slope += abs(pull[0] * row[0] + pull[1] * row[1] + pull[2] * row[2]) * view.half[j]
    return min(slope, size * away)


@compiled
def _forget(known: Known, count: int) -> int:
    """Drop the triangle that weighs least when there is no room for all, never the newest."""
    if count <= KNOWN:
        return count
    least = 0
    for i in range(1, KNOWN):
        if known.weights[i] <= known.weights[least]:
            least = i
    known.rows[least] = known.rows[KNOWN]
    return KNOWN


@compiled
def _side(view: View, known: Known, away: float, error: float) -> int:
    """Which side of a cell loosens its bound most, or keeps its centre from where it is deepest."""
    pull = known.pull
    size = sqrt(pull[0] * pull[0] + pull[1] * pull[1] + pull[2] * pull[2])
    best, side = -1.0, 0
    for j in range(len(view.half)):
        row = view.frame[1 + j]
        loose = view.travel[j] * (away * pull[3] + PROGRESS * (size + 1e-9))
        if error < HUGE:
            along = abs(pull[0] * row[0] + pull[1] * row[1] + pull[2] * row[2]) * view.half[j]
            loose += min(along + size * view.share[j], size * view.travel[j])
        if loose > best:
            best, side = loose, j
    return side


@compiled
def _push(
    queue: Queue, waiting: int, key: float, cell: Array, known: Known, count: int, inner: int
) -> None:
    slot = queue.slots[waiting]
    for j in range(len(cell)):
        queue.cells[slot, j, 0], queue.cells[slot, j, 1] = cell[j, 0], cell[j, 1]
    for i in range(count):
        queue.known[slot, i] = known.rows[i]
    queue.counts[slot, 0], queue.counts[slot, 1] = count, inner
    i = waiting
    while i > 0 and queue.keys[(i - 1) // 2] > key:
        above = (i - 1) // 2
        queue.keys[i], queue.slots[i] = queue.keys[above], queue.slots[above]
        i = above
    queue.keys[i], queue.slots[i] = key, slot


@compiled
def _pop(queue: Queue, waiting: int) -> int:
    """Take the first of `waiting` cells off the heap; its slot is kept for the next to come."""
    slot, last = queue.slots[0], waiting - 1
    key, moved = queue.keys[last], queue.slots[last]
    i = 0
    while 2 * i + 1 < last:
        below = 2 * i + 1
        if below + 1 < last and queue.keys[below + 1] < queue.keys[below]:
            below += 1
        if queue.keys[below] >= key:
            break
        queue.keys[i], queue.slots[i] = queue.keys[below], queue.slots[below]
        i = below
    queue.keys[i], queue.slots[i] = key, moved
    queue.slots[last] = slot
    return int(slot)
