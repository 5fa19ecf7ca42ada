"""Branch and bound for the least distance between far-off parts of one line; compiled."""

from math import inf, sqrt

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_cells import Pieces, joint_between, put_on_line
from soapstone.geometry.vectors import Array

CELLS = 1024
SAMPLES = 64


@compiled
def least_self_distance(pieces: Pieces, apart: float, tolerance: float, limit: float) -> Array:
    """Least distance between points of a line at least `apart` mm from each other along it.

    Cells are boxes of two distances s < t along the line, bounded as in `distance_cells`, the
    distance being a convex function of the vector between the two points.

    Returns
    -------
    Array
        [low, high, work, s, t]: the least distance is within low..high, and high is that between
        the points at s and t. All infinite when the line is too short to have such points.
    """
    best = np.full(5, inf)
    best[2] = 0.0
    length = pieces.starts[-1]
    if length < apart:
        return best
    frames = np.empty((2, 2, 3))
    step = (length - apart) / SAMPLES
    for i in range(SAMPLES + 1):
        for j in range(i, SAMPLES + 1):
            _look(pieces, i * step, j * step + apart, frames, best)
    _descend(pieces, apart, tolerance, limit, frames, best)
    best[0] = min(best[0], best[1])
    return best


@compiled
def _look(pieces: Pieces, s: float, t: float, frames: Array, best: Array) -> tuple[int, int, float]:
    """Set the frames at s and t; give their pieces and distance, and keep the least."""
    i, j = put_on_line(pieces, s, frames[0]), put_on_line(pieces, t, frames[1])
    d = _between(frames)
    best[2] += 1
    if d < best[1]:
        best[1], best[3], best[4] = d, s, t
    return i, j, d


@compiled
def _descend(
    pieces: Pieces, apart: float, tolerance: float, limit: float, frames: Array, best: Array
) -> None:
    cells, least = np.empty((CELLS, 4)), np.empty(CELLS)
    cells[0, 0], cells[0, 1] = 0.0, pieces.starts[-1] - apart
    cells[0, 2], cells[0, 3] = apart, pieces.starts[-1]
    least[0], waiting = 0.0, 1
    while waiting > 0:
        waiting -= 1
        cell = cells[waiting]
        if cell[3] - cell[0] < apart:
            continue
        if least[waiting] >= best[1] - tolerance:
            best[0] = min(best[0], least[waiting])
            continue
        if best[2] > limit or waiting + 2 >= CELLS:
            for i in range(waiting + 1):
                best[0] = min(best[0], least[i])
            return
        _look(pieces, cell[0], cell[3], frames, best)
        low, side, cut = _measure(pieces, cell, frames, best, apart)
        for k in range(4):
            cells[waiting + 1, k] = cell[k]
        cells[waiting, 2 * side + 1] = cut
        cells[waiting + 1, 2 * side] = cut
        least[waiting] = max(least[waiting], low)
        least[waiting + 1] = least[waiting]
        waiting += 2


@compiled
def _measure(
    pieces: Pieces, cell: Array, frames: Array, best: Array, apart: float
) -> tuple[float, int, float]:
    """Lower bound over a cell, the side to cut it on (0: s, 1: t) and where."""
    s, t = (cell[0] + cell[1]) / 2, (cell[2] + cell[3]) / 2
    hs, ht = (cell[1] - cell[0]) / 2, (cell[3] - cell[2]) / 2
    if t - s >= apart:
        i, j, d = _look(pieces, s, t, frames, best)
    else:
        i, j = put_on_line(pieces, s, frames[0]), put_on_line(pieces, t, frames[1])
        d = _between(frames)
    low = d - hs - ht
    several = (
        cell[0] < pieces.starts[i] or cell[1] > pieces.starts[i + 1],
        cell[2] < pieces.starts[j] or cell[3] > pieces.starts[j + 1],
    )
    if several[0] or several[1]:
        side = 0 if several[0] and (hs >= ht or not several[1]) else 1
        return low, side, joint_between(pieces.starts, cell[2 * side], cell[2 * side + 1])
    over_s = _slope(frames, 0, d) * hs + pieces.rows[i, 0] * hs * hs / 2
    over_t = _slope(frames, 1, d) * ht + pieces.rows[j, 0] * ht * ht / 2
    fine = d - over_s - over_t
    first = over_s >= over_t if fine > low else hs >= ht
    return max(low, fine), 0 if first else 1, s if first else t


@compiled
def _between(frames: Array) -> float:
    x = frames[0, 0, 0] - frames[1, 0, 0]
    y = frames[0, 0, 1] - frames[1, 0, 1]
    z = frames[0, 0, 2] - frames[1, 0, 2]
    return sqrt(x * x + y * y + z * z)


@compiled
def _slope(frames: Array, side: int, d: float) -> float:
    """How fast the distance d changes at most as one of the two points goes along the line."""
    if d == 0:
        return 0.0
    along = 0.0
    for k in range(3):
        along += (frames[0, 0, k] - frames[1, 0, k]) * frames[side, 1, k]
    return abs(along) / d
