"""How deep inside a closed surface a cell can be at most, from a few triangles of it; compiled.

In a cell (see `distance_cells`) of centre c and reach r let p_i be the point of triangle i nearest
to c, d_i how far it is, n_i the unit vector from it to c, and m_i how far it is from the triangle's
edges. Inside, the depth of a point q = c + u is its distance to the nearest triangle, so it is at
most that to any of them, and

    distance_i(q) <= d_i + t_i + n_i.u        t_i = max(0, across_i - m_i)^2 / (2 (d_i - r))

with across_i the most that u can be square to n_i; or, where that is less at the centre, at most

    distance_i(q) <= D / 2 + (d_i^2 + r^2 + 2 d_i n_i.u) / (2 D)    for any D > 0,

best for distances near D, for which the depth that is asked about is taken; n_i then stands for
d_i n_i / D. With u = sum J_j x_j + w, |x_j| <= h_j and |w| <= e, the cell is no deeper than

    max over x of min over i of (cost_i + sum n_i.J_j x_j), and |N| e more    N = sum y_i n_i

a linear programme of k + 2 rows whose dual weights y_i >= 0, of sum 1, certify the bound; any such
weights do, so nothing rests on the solver. Its x is where the cell may be deepest: the triangle
nearest to there is the one that the bound lacks most (column generation).

The programme is solved by the revised simplex method (G. Dantzig, Linear Programming and
Extensions, 1963, chapters 9 and 18).
"""

from math import sqrt
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_cells import HUGE, Target, View
from soapstone.geometry.distance_kernels import triangle_distance
from soapstone.geometry.vectors import Array

Rows: TypeAlias = npt.NDArray[np.int64]

MOST = 16
"""Triangles that are weighed at once."""

PIVOTS = 40
ZERO = 1e-12


class Walls(NamedTuple):
    """The triangles that bound one cell.

    `rows` (MOST,) which; `normals` (MOST, 3) n_i; `near` (MOST,) d_i; `costs` (MOST,) cost_i, what
    stands beside n_i.u; `slopes` (MOST, k + 1) n_i.J_j; `weights` (MOST,) y_i; `slack` (MOST,) how
    far each is from bounding; `deepest` (k + 1,) x; `inverse` (k + 2, k + 2), `basis` (k + 2,) and
    `column` (k + 2,) are the simplex method's.
    """

    rows: Rows
    normals: Array
    near: Array
    costs: Array
    slopes: Array
    weights: Array
    slack: Array
    deepest: Array
    inverse: Array
    basis: Rows
    column: Array


@compiled
def no_walls(sides: int) -> Walls:
    """Room for cells of so many sides."""
    return Walls(
        np.empty(MOST, np.int64),
        np.empty((MOST, 3)),
        np.empty(MOST),
        np.empty(MOST),
        np.empty((MOST, sides)),
        np.empty(MOST),
        np.empty(MOST),
        np.zeros(sides),
        np.empty((sides + 1, sides + 1)),
        np.empty(sides + 1, np.int64),
        np.empty(sides + 1),
    )


@compiled
def cell_reach(view: View, away: float, error: float) -> float:
    """How far a point of a cell can be from its centre at most."""
    if error >= HUGE:
        return away
    return min(away, sqrt(_across(view, 0.0, 0.0, 0.0)) + error)


@compiled
def _across(view: View, nx: float, ny: float, nz: float) -> float:
    """Bound of the square of J x over a cell, without its part along the unit vector n (or 0)."""
    total, frame = 0.0, view.frame
    for i in range(len(view.half)):
        a = frame[1 + i, 0] * nx + frame[1 + i, 1] * ny + frame[1 + i, 2] * nz
        for j in range(i + 1):
            b = frame[1 + j, 0] * nx + frame[1 + j, 1] * ny + frame[1 + j, 2] * nz
            both = -a * b
            for k in range(3):
                both += frame[1 + i, k] * frame[1 + j, k]
            total += (1.0 if i == j else 2.0) * abs(both) * view.half[i] * view.half[j]
    return max(total, 0.0)


@compiled
def set_wall(
    target: Target,
    view: View,
    walls: Walls,
    i: int,
    spread: tuple[float, float],
    wanted: float,
) -> None:
    """Measure a cell of reach and error `spread` from triangle `walls.rows[i]`."""
    reach, error = spread
    x, y, z = view.frame[0, 0], view.frame[0, 1], view.frame[0, 2]
    d, nx, ny, nz = triangle_distance(target.triangles, walls.rows[i], x, y, z)
    row = target.triangles[walls.rows[i]]
    walls.near[i] = d
    walls.normals[i, 0], walls.normals[i, 1], walls.normals[i, 2] = nx, ny, nz
    for j in range(len(view.half)):
        frame = view.frame[1 + j]
        walls.slopes[i, j] = nx * frame[0] + ny * frame[1] + nz * frame[2]
    walls.costs[i] = HUGE
    if error >= HUGE:
        return
    if d > reach:
        px, py, pz = x - d * nx - row[0], y - d * ny - row[1], z - d * nz - row[2]
        beyond = min(reach, sqrt(_across(view, nx, ny, nz)) + error) - _margin(row, px, py, pz)
        walls.costs[i] = d + max(beyond, 0.0) ** 2 / (2 * (d - reach))
    other = (wanted + (d * d + reach * reach) / wanted) / 2
    if other < walls.costs[i]:
        walls.costs[i] = other
        for k in range(3):
            walls.normals[i, k] *= d / wanted
        for j in range(len(view.half)):
            walls.slopes[i, j] *= d / wanted


@compiled
def _margin(row: Array, px: float, py: float, pz: float) -> float:
    """How far a point of a triangle, given from its first corner, is from its edges."""
    bx, by, bz, cx, cy, cz = row[3], row[4], row[5], row[6], row[7], row[8]
    margin = min(_off(px, py, pz, bx, by, bz), _off(px, py, pz, cx, cy, cz))
    return float(min(margin, _off(px - bx, py - by, pz - bz, cx - bx, cy - by, cz - bz)))


@compiled
def _off(px: float, py: float, pz: float, bx: float, by: float, bz: float) -> float:
    """How far a point is from a line through the origin; 0 when that has no direction."""
    square = bx * bx + by * by + bz * bz
    if square == 0:
        return 0.0
    x, y, z = py * bz - pz * by, pz * bx - px * bz, px * by - py * bx
    return sqrt((x * x + y * y + z * z) / square)


@compiled
def depth_bound(view: View, walls: Walls, count: int, reach: float, error: float) -> float:
    """Most that a cell can be deep; leaves weights, slack and the deepest x in `walls`."""
    least = walls.near[0]
    for i in range(1, count):
        least = min(least, walls.near[i])
    if error >= HUGE:
        walls.deepest[:] = 0.0
        walls.slack[:] = 0.0
        return float(least + reach)
    _solve(view, walls, count)
    total = 0.0
    for i in range(count):
        total += walls.weights[i]
    bound, nx, ny, nz = 0.0, 0.0, 0.0, 0.0
    for i in range(count):
        w = walls.weights[i] / total
        bound += w * walls.costs[i]
        nx += w * walls.normals[i, 0]
        ny += w * walls.normals[i, 1]
        nz += w * walls.normals[i, 2]
    for j in range(len(view.half)):
        row = view.frame[1 + j]
        bound += abs(nx * row[0] + ny * row[1] + nz * row[2]) * view.half[j]
    return float(min(bound + sqrt(nx * nx + ny * ny + nz * nz) * error, least + reach))


@compiled
def _solve(view: View, walls: Walls, count: int) -> None:
    """Least of sum y_i cost_i + sum h_j |sum y_i slope_ij|; columns count + j, then + sides + j."""
    sides = len(view.half)
    _start(view, walls, count)
    price = np.empty(sides + 1)
    for _ in range(PIVOTS):
        _set_price(view, walls, count, price)
        entering = _entering(view, walls, count, price)
        if entering < 0 or not _pivot(walls, count, sides, entering):
            break
    for i in range(count):
        walls.weights[i] = 0.0
    for m in range(sides + 1):
        if walls.basis[m] < count:
            walls.weights[walls.basis[m]] = max(walls.inverse[m, sides], 0.0)
    for j in range(sides):
        walls.deepest[j] = min(max(-price[j], -view.half[j]), view.half[j])


@compiled
def _set_price(view: View, walls: Walls, count: int, price: Array) -> None:
    for m in range(len(price)):
        price[m] = 0.0
        for n in range(len(price)):
            price[m] += _cost(view, walls, count, walls.basis[n]) * walls.inverse[n, m]


@compiled
def _pivot(walls: Walls, count: int, sides: int, entering: int) -> bool:
    """Bring a column into the basis in place of the one that runs out first, if one does."""
    inverse, column = walls.inverse, walls.column
    leaving, least = -1, HUGE
    for m in range(sides + 1):
        column[m] = 0.0
        for n in range(sides + 1):
            column[m] += inverse[m, n] * _entry(walls, count, sides, entering, n)
        if column[m] > ZERO and inverse[m, sides] / column[m] < least:
            leaving, least = m, inverse[m, sides] / column[m]
    if leaving < 0:
        return False
    for n in range(sides + 1):
        inverse[leaving, n] /= column[leaving]
    for m in range(sides + 1):
        if m != leaving:
            for n in range(sides + 1):
                inverse[m, n] -= column[m] * inverse[leaving, n]
    walls.basis[leaving] = entering
    return True


@compiled
def _start(view: View, walls: Walls, count: int) -> None:
    """All weight on the triangle that bounds best alone."""
    sides, best, first = len(view.half), HUGE, 0
    for i in range(count):
        value = walls.costs[i]
        for j in range(sides):
            value += abs(walls.slopes[i, j]) * view.half[j]
        if value < best:
            best, first = value, i
    walls.inverse[:] = 0.0
    for j in range(sides):
        slope = walls.slopes[first, j]
        sign = -1.0 if slope > 0 else 1.0
        walls.inverse[j, j], walls.inverse[j, sides] = sign, -sign * slope
        walls.basis[j] = count + j if slope > 0 else count + sides + j
    walls.inverse[sides, sides], walls.basis[sides] = 1.0, first


@compiled
def _cost(view: View, walls: Walls, count: int, c: int) -> float:
    return float(walls.costs[c] if c < count else view.half[(c - count) % len(view.half)])


@compiled
def _entry(walls: Walls, count: int, sides: int, c: int, row: int) -> float:
    """Row of a column of the programme."""
    if c < count:
        return float(walls.slopes[c, row]) if row < sides else 1.0
    if (c - count) % sides != row:
        return 0.0
    return -1.0 if c < count + sides else 1.0


@compiled
def _entering(view: View, walls: Walls, count: int, price: Array) -> int:
    """Column that lowers the sum most; -1 when none does. Leaves the slack of the triangles."""
    sides, least, chosen = len(view.half), -1e-9, -1
    for i in range(count):
        reduced = walls.costs[i] - price[sides]
        for j in range(sides):
            reduced -= walls.slopes[i, j] * price[j]
        walls.slack[i] = reduced
        if reduced < least:
            least, chosen = reduced, i
    for j in range(sides):
        if view.half[j] + price[j] < least:
            least, chosen = view.half[j] + price[j], count + j
        if view.half[j] - price[j] < least:
            least, chosen = view.half[j] - price[j], count + sides + j
    return chosen
