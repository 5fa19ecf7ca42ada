"""Branch and bound for how deep a line runs inside a closed mesh, standing or swung; compiled.

Inside, the signed distance is minus the distance to the surface, so any triangles of it bound it:
`distance_walls` weighs those that a cell (see `distance_cells`) knows of, and says where in the
cell they leave most room. The triangle nearest to there is added while that helps, and the depth
there is kept when it is the greatest yet; then the cell is halved. Cells are taken deepest bound
first, and hand the triangles they know of on to their halves.

A search that is long is content with a coarser result, and one that is too long ends: what it says
then is as certain, but less exact.
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
        spread = _enter(pieces, hinges, pair[0], view)
        count, bound = _look(target, slabs, view, progress, queue, slot, walls, spread, tolerance)
        inner = queue.counts[slot, 1]
        bound = max(low, bound)
        if bound < bounds[1] - tolerance:
            count, part = _close_in(
                (pieces, target, slabs, hinges),
                (view, spot, progress, walls),
                (count, inner),
                spread,
                tolerance,
            )
            bound = max(bound, part)
        if bound >= bounds[1] - tolerance:
            bounds[0] = min(bounds[0], bound)
            continue
        count = _forget(walls, count)
        split_cell(pieces, pair, 0, (_side(view, spread[1]), True), spread[1])
        for half in range(2):
            spread = _enter(pieces, hinges, pair[half], view)
            part = max(bound, _at_once(target, view, progress, walls, count, spread, tolerance))
            if part >= bounds[1] - tolerance:
                bounds[0] = min(bounds[0], part)
                continue
            _push(queue, waiting, part, pair[half], walls, count, inner)
            waiting += 1


@compiled
def _enter(pieces: Pieces, hinges: Array, cell: Array, view: View) -> tuple[float, float]:
    """Set the view for a cell; give how far its points are from its centre, and its error."""
    away, error = enter_cell(pieces, hinges, cell, view)
    return cell_reach(view, away, error), error


@compiled
def _wanted(progress: Progress, reach: float, tolerance: float) -> float:
    """Depth that a cell is of no interest below, and always above 0."""
    return float(max(tolerance - progress.bounds[1], 0.1 * reach, 1e-6))


@compiled
def _at_once(
    target: Target,
    view: View,
    progress: Progress,
    walls: Walls,
    count: int,
    spread: tuple[float, float],
    tolerance: float,
) -> float:
    """Bound of the signed distance over a cell by the triangles that are known."""
    wanted = _wanted(progress, spread[0], tolerance)
    for i in range(count):
        set_wall(target, view, walls, i, spread, wanted)
    progress.bounds[2] += CELL_WORK
    return -depth_bound(view, walls, count, spread[0], spread[1])


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
    tolerance: float,
) -> tuple[int, float]:
    """Find the triangle nearest to a cell's centre, and on which side of the surface that is.

    Gives how many triangles are known now, and a bound of the cell from its centre being outside.
    A cell that is known to be inside, and some walls of it, is not looked at.
    """
    at, count = view.frame[0], queue.counts[slot, 0]
    wanted = _wanted(progress, spread[0], tolerance)
    within = inf
    for i in range(count):
        walls.rows[i] = queue.known[slot, i]
        set_wall(target, view, walls, i, spread, wanted)
        within = min(within, walls.near[i])
    if queue.counts[slot, 1] == 1 and count > 0:
        return count, -inf
    d, found = _near(target, slabs, progress, at, within, 0.0)
    if found >= 0:
        walls.rows[count] = found
        set_wall(target, view, walls, count, spread, wanted)
        count += 1
    if not _within(target, progress, at):
        return count, d - spread[0]
    if d > spread[0]:
        queue.counts[slot, 1] = 1
    if -d < progress.bounds[1]:
        _keep(view, progress, d)
    return count, -inf


@compiled
def _close_in(
    scene: tuple[Pieces, Target, Array, Array],
    known: tuple[View, View, Progress, Walls],
    counts: tuple[int, int],
    spread: tuple[float, float],
    tolerance: float,
) -> tuple[int, float]:
    """Bound a cell by its walls, then by the walls nearest to where it may be deepest, and so on.

    `counts` says how many triangles are known and whether all of the cell is inside. Gives how many
    are known now, and the bound of the signed distance.
    """
    pieces, target, slabs, hinges = scene
    view, spot, progress, walls = known
    count, inner = counts
    at, bounds, bound = spot.frame[0], progress.bounds, -inf
    wanted = _wanted(progress, spread[0], tolerance)
    while True:
        bound = max(bound, -depth_bound(view, walls, count, spread[0], spread[1]))
        bounds[2] += CELL_WORK
        if bound >= bounds[1] - tolerance or count >= MOST or spread[1] >= HUGE:
            break
        for j in range(len(view.half)):
            spot.middle[j] = view.middle[j] + walls.deepest[j]
        put_on_line(pieces, spot.middle[0], spot.frame)
        swing_back(hinges, spot.middle[1:], spot.frame, spot.sines)
        within = inf
        for i in range(count):
            d = triangle_distance(target.triangles, walls.rows[i], at[0], at[1], at[2])[0]
            within = min(within, d)
        # another wall can only help where those that are known leave room at that place
        if within < wanted + HALF * (-bound - wanted) and within < -bounds[1]:
            break
        d, found = _near(target, slabs, progress, at, within, 0.0)
        d = min(d, within)
        if -d < bounds[1] and (inner == 1 or _within(target, progress, at)):
            _keep(spot, progress, d)
        if found < 0 or within - d < LITTLE * (-bound - d):
            break
        walls.rows[count] = found
        set_wall(target, view, walls, count, spread, wanted)
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
