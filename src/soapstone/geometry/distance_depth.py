"""Branch and bound for how deep a line runs inside a closed mesh, standing or swung; compiled.

Inside, the signed distance is minus the distance d to the surface. It is bounded over a cell (see
`distance_cells`) by r as everywhere, and by the surface's point c nearest to the cell's centre:
nowhere in the cell is the surface further off than c, so the depth is at most

    |q - c| <= sqrt((d + sum |g.dq/dx_j| h_j + e)^2 + r^2)
"""

from math import inf, sqrt

import numpy as np

from soapstone.geometry.bvh import nearest
from soapstone.geometry.bvh_rays import is_inside
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_cells import (
    HUGE,
    Pieces,
    Target,
    View,
    put_on_line,
    side_to_split,
    swing_back,
)
from soapstone.geometry.distance_kernels import Distance, triangle_distance
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

CELLS = 1024


@compiled
def deepest(pieces: Pieces, target: Target, hinges: Array, tolerance: float, limit: float) -> Array:
    """Least signed distance to a closed mesh; arguments and result as of `search`."""
    progress = new_progress(hinges)
    view = new_view(hinges)
    _sample(pieces, target, hinges, view, progress)
    _descend(pieces, target, hinges, view, progress, tolerance, limit)
    return as_result(progress)


@compiled
def signed_distance(target: Target, x: float, y: float, z: float) -> Distance:
    """Distance of a point to a closed mesh, negative inside, and its gradient."""
    i = nearest(target.triangles, target.boxes, target.links, x, y, z, inf)[1]
    d, gx, gy, gz = triangle_distance(target.triangles, i, x, y, z)
    if is_inside(target.triangles, target.boxes, target.links, x, y, z):
        return -d, -gx, -gy, -gz
    return d, gx, gy, gz


@compiled
def _look(target: Target, view: View, progress: Progress) -> Distance:
    found = signed_distance(target, view.frame[0, 0], view.frame[0, 1], view.frame[0, 2])
    progress.bounds[2] += 1
    if found[0] < progress.bounds[1]:
        progress.bounds[1] = found[0]
        for j in range(len(view.middle)):
            progress.at[j] = view.middle[j]
    return found


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
        _look(target, view, progress)


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
    """Go through all cells, the deeper half first."""
    cells = np.empty((CELLS, len(view.half), 2))
    least = np.empty(CELLS)
    set_whole(pieces, hinges, cells[0])
    least[0], waiting, bounds = -inf, 1, progress.bounds
    while waiting > 0:
        waiting -= 1
        if least[waiting] >= bounds[1] - tolerance:
            bounds[0] = min(bounds[0], least[waiting])
            continue
        if bounds[2] > limit or waiting + 2 >= CELLS:
            for i in range(waiting + 1):
                bounds[0] = min(bounds[0], least[i])
            return
        away, error = enter_cell(pieces, hinges, cells[waiting], view)
        found = _look(target, view, progress)
        low, coarse = _least(view, found, away, error)
        split_cell(pieces, cells, waiting, side_to_split(view, found, error, coarse), error)
        least[waiting] = max(low, least[waiting])
        least[waiting + 1] = least[waiting]
        waiting += 2


@compiled
def _least(view: View, found: Distance, away: float, error: float) -> tuple[float, bool]:
    """Lower bound over a cell, and whether it is r that loosens it most."""
    low = found[0] - away
    if found[0] >= 0 or error >= HUGE:
        return low, True
    slope = error
    for j in range(len(view.half)):
        row = view.frame[1 + j]
        slope += abs(found[1] * row[0] + found[2] * row[1] + found[3] * row[2]) * view.half[j]
    second = -sqrt((slope - found[0]) ** 2 + away * away)
    return max(low, second), low > second or away * away > -2 * found[0] * slope
