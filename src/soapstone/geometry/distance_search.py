"""Branch and bound for the least distance from a line to a solid that stands or swings; compiled.

Cells (see `distance_cells`) are taken depth first, the nearer half first. Each carries the list
of what it may still be nearest to: nodes of the solid's tree, and triangles. A node is opened when
it is large beside what its bound over the cell gives away; else the cell is split first. What
cannot come below the best distance found so far, less the tolerance, is dropped, and the least
bound among all that was dropped is the certificate.
"""

from math import inf
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.bvh import STACK
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_cells import (
    HUGE,
    Pieces,
    Target,
    View,
    element_distance,
    joint_between,
    least_over_cell,
    measure_cell,
    put_on_line,
    side_to_split,
    swing_back,
    target_distance,
)
from soapstone.geometry.distance_kernels import TRIANGLES, Distance, bounds_distance
from soapstone.geometry.vectors import Array

Items: TypeAlias = npt.NDArray[np.int32]

CELLS = 1024
ITEMS = 2_000_000
OPEN_ABOVE = 3.5
"""A node is opened when its diagonal is more than this times what its bound gives away."""


class Progress(NamedTuple):
    """What is known so far: `bounds` [low, high, work], `at` (k + 1,) where high was found."""

    bounds: Array
    at: Array


@compiled
def new_view(hinges: Array) -> View:
    """Room for one cell."""
    k = len(hinges)
    return View(
        np.empty(k + 1),
        np.empty((k + 2, 3)),
        np.empty(k),
        np.empty(k + 1),
        np.empty(k + 1),
        np.empty(k + 1),
    )


@compiled
def new_progress(hinges: Array) -> Progress:
    """Nothing known yet."""
    bounds = np.empty(3)
    bounds[0], bounds[1], bounds[2] = inf, inf, 0.0
    return Progress(bounds, np.zeros(len(hinges) + 1))


@compiled
def as_result(progress: Progress) -> Array:
    """Give [low, high, work, s, a1..ak]."""
    bounds, at = progress.bounds, progress.at
    out = np.empty(3 + len(at))
    out[0], out[1], out[2] = min(bounds[0], bounds[1]), bounds[1], bounds[2]
    for j in range(len(at)):
        out[3 + j] = at[j]
    return out


@compiled
def _copy(into: Array, values: Array) -> None:
    # compiles much faster than an assignment of slices
    for j in range(len(values)):
        into[j] = values[j]


@compiled
def search(
    pieces: Pieces,
    target: Target,
    hinges: Array,
    tolerance: float,
    ceiling: float,
    floor: float,
    limit: float,
) -> Array:
    """Least distance over the line and all angles.

    Parameters
    ----------
    tolerance
        How far, in mm, the lower bound may stay below the distance found.
    ceiling
        Distances above this need not be told apart.
    floor
        No distance to the solid is less: minus its greatest depth; 0 with triangles.
    limit
        How many distances to work out at most; then the lower bound is what is certain by then.

    Returns
    -------
    Array
        [low, high, work, s, a1..ak]: the least distance is within low..high; high is the
        distance at s and the angles. Negative inside a convex solid; 0 at the least with triangles.
    """
    progress = new_progress(hinges)
    view = new_view(hinges)
    sample(pieces, target, hinges, view, progress)
    _descend(pieces, target, hinges, view, progress, (tolerance, ceiling, floor), limit)
    return as_result(progress)


@compiled
def sample(pieces: Pieces, target: Target, hinges: Array, view: View, progress: Progress) -> None:
    """Look at a grid of points and angles, and slide downhill from the best of them."""
    k = len(hinges)
    along = min(64 if k > 0 else 24, max(16, 3 * (len(pieces.starts) - 1)))
    around = (1, 13, 7, 4, 3)[k] if k < 5 else 2
    step = np.empty(k + 1)
    step[0] = pieces.starts[-1] / along
    for j in range(k):
        step[1 + j] = (hinges[j, 7] - hinges[j, 6]) / around
    trial = np.empty(k + 1)
    for index in range(along * around**k):
        rest = index
        trial[0] = (rest % along + 0.5) * step[0]
        rest //= along
        for j in range(k):
            trial[1 + j] = hinges[j, 6] + (rest % around + 0.5) * step[1 + j]
            rest //= around
        _try(pieces, target, hinges, view, progress, trial)
    for _ in range(80):
        if not _slide(pieces, target, hinges, view, progress, step):
            widest = 0.0
            for j in range(k + 1):
                step[j] /= 2
                widest = max(widest, step[j])
            if widest < 1e-5:
                break


@compiled
def _slide(
    pieces: Pieces, target: Target, hinges: Array, view: View, progress: Progress, step: Array
) -> bool:
    """Try one step either way along each side from the best point; tell whether one was better."""
    trial = np.empty(len(step))
    better = False
    for j in range(len(step)):
        least = 0.0 if j == 0 else hinges[j - 1, 6]
        greatest = pieces.starts[-1] if j == 0 else hinges[j - 1, 7]
        for way in (-1.0, 1.0):
            _copy(trial, progress.at)
            trial[j] = min(max(trial[j] + way * step[j], least), greatest)
            if _try(pieces, target, hinges, view, progress, trial):
                better = True
                break
    return better


@compiled
def _try(
    pieces: Pieces, target: Target, hinges: Array, view: View, progress: Progress, trial: Array
) -> bool:
    """Work out the distance at one point and angles; keep it if it is the least yet."""
    put_on_line(pieces, trial[0], view.frame)
    swing_back(hinges, trial[1:], view.frame, view.sines)
    d = target_distance(target, view.frame, progress.bounds[1])
    progress.bounds[2] += 1
    if d < progress.bounds[1]:
        progress.bounds[1] = d
        _copy(progress.at, trial)
        return True
    return False


@compiled
def _descend(
    pieces: Pieces,
    target: Target,
    hinges: Array,
    view: View,
    progress: Progress,
    goal: tuple[float, float, float],
    limit: float,
) -> None:
    """Go through all cells; see `search`."""
    cells = np.empty((CELLS, len(view.half), 2))
    lists = np.zeros((CELLS, 2), np.int64)
    least = np.empty(CELLS)
    items = np.empty(ITEMS if target.kind == TRIANGLES else 4 * CELLS, np.int32)
    stack = np.empty(STACK, np.int32)
    set_whole(pieces, hinges, cells[0])
    items[0] = 0 if target.kind == TRIANGLES else -1
    lists[0, 1], least[0], waiting = 1, -inf, 1
    bounds = progress.bounds
    while waiting > 0:
        waiting -= 1
        if least[waiting] >= min(bounds[1] - goal[0], goal[1]):
            bounds[0] = min(bounds[0], least[waiting])
            continue
        cell, first, count = cells[waiting], lists[waiting, 0], lists[waiting, 1]
        top = first + count
        away, error = enter_cell(pieces, hinges, cell, view)
        kept, low, found = _sift(
            target, view, progress, (away, error), goal, items, stack, first, top
        )
        if kept == 0:
            continue
        if kept < 0 or bounds[2] > limit or waiting + 2 >= CELLS:
            for i in range(waiting + 1):
                bounds[0] = min(bounds[0], least[i])
            return
        split_cell(pieces, cells, waiting, side_to_split(view, found, error, False), error)
        for child in range(waiting, waiting + 2):
            lists[child, 0], lists[child, 1] = top, kept
            least[child] = max(low, least[waiting])
        waiting += 2


@compiled
def set_whole(pieces: Pieces, hinges: Array, cell: Array) -> None:
    """Write the cell that holds the whole line and all angles."""
    cell[0, 0], cell[0, 1] = 0.0, pieces.starts[-1]
    for j in range(len(hinges)):
        cell[1 + j, 0], cell[1 + j, 1] = hinges[j, 6], hinges[j, 7]


@compiled
def enter_cell(pieces: Pieces, hinges: Array, cell: Array, view: View) -> tuple[float, float]:
    """Set the view for a cell (k + 1, 2) and give its reach and error; HUGE over several pieces."""
    middle = view.middle
    for j in range(len(cell)):
        middle[j] = (cell[j, 0] + cell[j, 1]) / 2
        view.half[j] = (cell[j, 1] - cell[j, 0]) / 2
    i = put_on_line(pieces, middle[0], view.frame)
    swing_back(hinges, middle[1:], view.frame, view.sines)
    away, error = measure_cell(view, pieces.rows[i, 0])
    if cell[0, 0] < pieces.starts[i] or cell[0, 1] > pieces.starts[i + 1]:
        error = HUGE
    return away, error


@compiled
def split_cell(
    pieces: Pieces, cells: Array, at: int, choice: tuple[int, bool], error: float
) -> None:
    """Replace the cell at `at` by its halves at `at` and `at + 1`, the nearer one last.

    A cell over several pieces is cut between two of them.
    """
    side, upper = choice
    low, high = cells[at, side, 0], cells[at, side, 1]
    cut = (low + high) / 2
    if side == 0 and error >= HUGE:
        cut = joint_between(pieces.starts, low, high)
    for j in range(cells.shape[1]):
        cells[at + 1, j, 0], cells[at + 1, j, 1] = cells[at, j, 0], cells[at, j, 1]
    near, far = at + 1, at
    cells[near, side, 0 if upper else 1] = cut
    cells[far, side, 1 if upper else 0] = cut


@compiled
def _sift(
    target: Target,
    view: View,
    progress: Progress,
    spread: tuple[float, float],
    goal: tuple[float, float, float],
    items: Items,
    stack: Items,
    first: int,
    top: int,
) -> tuple[int, float, Distance]:
    """Write those of a cell's items that it may still be nearest to at `top`.

    Gives how many (-1: no room), the least bound among them, and the distance that bound is from.
    """
    away, error = spread
    kept, least, chosen = 0, inf, (0.0, 0.0, 0.0, 0.0)
    bounds, frame = progress.bounds, view.frame
    x, y, z = frame[0, 0], frame[0, 1], frame[0, 2]
    for index in range(first, top):
        stack[0], waiting = items[index], 1
        while waiting > 0:
            waiting -= 1
            item = stack[waiting]
            if item < 0:
                found = element_distance(target, -1 - item, frame)
                if found[0] < bounds[1]:
                    _record(progress, view, found[0])
            else:
                found = bounds_distance(target.boxes, item, x, y, z)
            bounds[2] += 1
            low, enough = max(found[0] - away, goal[2]), min(bounds[1] - goal[0], goal[1])
            if low < enough and error < HUGE:
                low = max(least_over_cell(view, found, away, error), goal[2])
            if low >= enough:
                bounds[0] = min(bounds[0], low)
                continue
            if item >= 0 and _is_large(target.boxes, item, found[0] - low):
                waiting = _open(target, item, stack, waiting)
                continue
            if top + kept >= len(items):
                return -1, least, chosen
            items[top + kept] = item
            kept += 1
            if low < least:
                least, chosen = low, found
    return kept, least, chosen


@compiled
def _record(progress: Progress, view: View, d: float) -> None:
    progress.bounds[1] = d
    _copy(progress.at, view.middle)


@compiled
def _is_large(boxes: Array, node: int, loose: float) -> bool:
    x = boxes[node, 3] - boxes[node, 0]
    y = boxes[node, 4] - boxes[node, 1]
    z = boxes[node, 5] - boxes[node, 2]
    return bool(x * x + y * y + z * z > (OPEN_ABOVE * loose) ** 2)


@compiled
def _open(target: Target, node: int, stack: Items, waiting: int) -> int:
    """Put what is in a node on the stack; give the stack's new height."""
    left, right = target.links[node]
    if left >= 0:
        stack[waiting], stack[waiting + 1] = left, right
        return waiting + 2
    for i in range(right):
        stack[waiting + i] = left - i
    return waiting + int(right)
