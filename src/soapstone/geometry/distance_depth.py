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
from soapstone.geometry.bvh_slabs import slab_distance
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
from soapstone.geometry.distance_walls import (
    MOST,
    Walls,
    cell_reach,
    depth_bound,
    no_walls,
    set_wall,
)
from soapstone.geometry.vectors import Array

CELLS = 200_000
KNOWN = 8
"""Triangles that a cell hands on to its halves."""

HALF = 0.5
"""Part of what a bound is too much that must be for want of walls, else no other is looked for."""

LITTLE = 0.1
"""Part of what a bound is above the depth at its deepest place that another wall must take off."""

HASTE, COARSER = 12, 4.0
"""After this part of its work a search is content with so many times its tolerance."""

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


@compiled
def deepest(
    pieces: Pieces,
    target: Target,
    slabs: Array,
    hinges: Array,
    tolerance: float,
    limit: float,
    start: Array,
) -> Array:
    """Least signed distance to a closed mesh; arguments and result as of `search`.

    `slabs` are those of the target's tree (see `bvh_slabs`).
    `start` is a result whose greater bound is not above the least distance to the surface.
    """
    progress = new_progress(hinges)
    view = new_view(hinges)
    progress.bounds[1] = start[1]
    for j in range(len(progress.at)):
        progress.at[j] = start[3 + j]
    _sample(pieces, target, slabs, hinges, view, progress)
    _descend(pieces, target, slabs, hinges, view, progress, tolerance, limit)
    return as_result(progress)


@compiled
def _near(
    target: Target, slabs: Array, progress: Progress, at: Array, within: float, enough: float
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
        near = max(near, slab_distance(slabs, left, x, y, z))
        far = bounds_distance(target.boxes, right, x, y, z)[0]
        far = max(far, slab_distance(slabs, right, x, y, z))
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
def _sample(
    pieces: Pieces, target: Target, slabs: Array, hinges: Array, view: View, progress: Progress
) -> None:
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
        d = _near(target, slabs, progress, at, inf, enough)[0]
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
    slabs: Array,
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
    walls, spot = no_walls(sides), new_view(hinges)
    pair = np.empty((2, sides, 2))
    set_whole(pieces, hinges, queue.cells[0])
    queue.keys[0], waiting, wide = -inf, 1, COARSER * tolerance
    while waiting > 0:
        low = queue.keys[0]
        if bounds[2] > limit / HASTE:
            tolerance = wide
        if low >= bounds[1] - tolerance or bounds[2] > limit or waiting + 2 >= CELLS:
            bounds[0] = min(bounds[0], low)
            return
        slot = _pop(queue, waiting)
        waiting -= 1
        for j in range(sides):
            pair[0, j, 0], pair[0, j, 1] = queue.cells[slot, j, 0], queue.cells[slot, j, 1]
        away, error = enter_cell(pieces, hinges, pair[0], view)
        reach = cell_reach(view, away, error)
        wanted = max(tolerance - bounds[1], 0.1 * reach, 1e-6)
        count, outside = _look(
            target, slabs, view, progress, queue, slot, walls, (reach, error), wanted
        )
        inner = queue.counts[slot, 1]
        bound = max(low, outside)
        if bound < bounds[1] - tolerance:
            count, part = _close_in(
                pieces,
                target,
                slabs,
                hinges,
                view,
                spot,
                progress,
                walls,
                count,
                inner,
                reach,
                error,
                tolerance,
            )
            bound = max(bound, part)
        if bound >= bounds[1] - tolerance:
            bounds[0] = min(bounds[0], bound)
            continue
        count = _forget(walls, count)
        split_cell(pieces, pair, 0, (_side(view, error), True), error)
        for half in range(2):
            away, error = enter_cell(pieces, hinges, pair[half], view)
            reach = cell_reach(view, away, error)
            for i in range(count):
                set_wall(target, view, walls, i, (reach, error), wanted)
            part = max(bound, -depth_bound(view, walls, count, reach, error))
            bounds[2] += CELL_WORK
            if part >= bounds[1] - tolerance:
                bounds[0] = min(bounds[0], part)
                continue
            _push(queue, waiting, part, pair[half], walls, count, inner)
            waiting += 1


@compiled
def _look(
    target: Target,
    slabs: Array,
    view: View,
    progress: Progress,
    queue: Queue,
    slot: int,
    walls: Walls,
    spread: tuple[float, float],
    wanted: float,
) -> tuple[int, float]:
    """Find the triangle nearest to a cell's centre, and on which side of the surface that is.

    Gives how many triangles are known now, and a bound of the cell from its centre being outside.
    """
    reach, error = spread
    at, count = view.frame[0], queue.counts[slot, 0]
    within = inf
    for i in range(count):
        walls.rows[i] = queue.known[slot, i]
        set_wall(target, view, walls, i, (reach, error), wanted)
        within = min(within, walls.near[i])
    if queue.counts[slot, 1] == 1 and count > 0:
        return count, -inf
    d, found = _near(target, slabs, progress, at, within, 0.0)
    if found >= 0:
        walls.rows[count] = found
        set_wall(target, view, walls, count, (reach, error), wanted)
        count += 1
    if not _within(target, progress, at):
        return count, d - reach
    if d > reach:
        queue.counts[slot, 1] = 1
    if -d < progress.bounds[1]:
        _keep(view, progress, d)
    return count, -inf


@compiled
def _close_in(
    pieces: Pieces,
    target: Target,
    slabs: Array,
    hinges: Array,
    view: View,
    spot: View,
    progress: Progress,
    walls: Walls,
    count: int,
    inner: int,
    reach: float,
    error: float,
    tolerance: float,
) -> tuple[int, float]:
    """Bound a cell by its walls, then by the walls nearest to where it may be deepest, and so on.

    Gives how many triangles are known now, and the bound of the signed distance.
    """
    bound, wanted = -inf, max(tolerance - progress.bounds[1], 0.1 * reach, 1e-6)
    while True:
        bound = max(bound, -depth_bound(view, walls, count, reach, error))
        progress.bounds[2] += CELL_WORK
        if bound >= progress.bounds[1] - tolerance or count >= MOST or error >= HUGE:
            break
        within = inf
        for j in range(len(view.half)):
            spot.middle[j] = view.middle[j] + walls.deepest[j]
        put_on_line(pieces, spot.middle[0], spot.frame)
        swing_back(hinges, spot.middle[1:], spot.frame, spot.sines)
        at = spot.frame[0]
        for i in range(count):
            d = triangle_distance(target.triangles, walls.rows[i], at[0], at[1], at[2])[0]
            within = min(within, d)
        # another wall can only help where the walls that are known leave room at that place
        needed = -bound - wanted
        if within < wanted + HALF * needed and within < -progress.bounds[1]:
            break
        d, found = _near(target, slabs, progress, at, within, 0.0)
        if -d < progress.bounds[1] and (inner == 1 or _within(target, progress, at)):
            _keep(spot, progress, d)
        if found < 0 or within - d < LITTLE * (-bound - d):
            break
        walls.rows[count] = found
        set_wall(target, view, walls, count, (reach, error), wanted)
        count += 1
    return count, bound


@compiled
def _forget(walls: Walls, count: int) -> int:
    """Drop the triangles that are furthest from bounding when there is no room for all."""
    while count > KNOWN:
        most = 0
        for i in range(1, count):
            if walls.slack[i] > walls.slack[most]:
                most = i
        count -= 1
        walls.rows[most], walls.slack[most] = walls.rows[count], walls.slack[count]
    return count


@compiled
def _side(view: View, error: float) -> int:
    """Side to halve: the one along which the line travels furthest."""
    best, side = -1.0, 0
    for j in range(len(view.half)):
        row = view.frame[1 + j]
        loose = sqrt(row[0] * row[0] + row[1] * row[1] + row[2] * row[2]) * view.half[j]
        if error >= HUGE:
            loose = view.travel[j]
        if loose > best:
            best, side = loose, j
    return side


@compiled
def _push(
    queue: Queue, waiting: int, key: float, cell: Array, walls: Walls, count: int, inner: int
) -> None:
    slot = queue.slots[waiting]
    for j in range(len(cell)):
        queue.cells[slot, j, 0], queue.cells[slot, j, 1] = cell[j, 0], cell[j, 1]
    for i in range(count):
        queue.known[slot, i] = walls.rows[i]
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
