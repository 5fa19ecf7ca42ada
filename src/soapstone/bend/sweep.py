"""Whether a line stays clear while it turns, slides or opens: certain, yes or no; compiled.

A cell is a part of one straight or arc during a part of the travel. Its middle is looked at. From
there no point of it is further than it can travel; and to a convex solid, whose distance is nowhere
below its tangent, it comes no nearer than along that tangent, less what the way bends from it. A
cell that may still come too near is halved, until a place is found that is too near or no cell is
left.
"""

from math import atan2, cos, inf, pi, sin, sqrt
from typing import TypeAlias

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import Distance, solid_distance
from soapstone.geometry.vectors import Array

DEPTH = 200
"""Cells that can wait; each halving puts off one."""

MOST_CELLS = 400_000
"""Cells looked at in one search; what is not certain by then counts as too near."""

ROD = -1
"""Stands for a kind of solid: the thin line of the tube's own tail."""

Seen: TypeAlias = tuple[bool, float, float]
"""Whether it is clear; the least distance met in mm, and at what part of the travel, 0 to 1."""


@compiled
def stays_clear(
    rows: Array, starts: Array, course: Array, kind: int, shape: Array, rod: Array, keep: Array
) -> Seen:
    """Tell whether a line stays `keep[0]` mm from a solid, `keep[1]` mm more or less.

    Parameters
    ----------
    rows, starts
        The line, as in `distance_cells.Pieces`.
    course
        (14,): the axis it turns about; the way to the axis, as a unit vector; how far that is in
        mm, from the origin; the angles at the start and at the end of the travel, in radians; how
        far it is shifted along x at the start and at the end, in mm; the angle at which an arc
        that opens lay on the die, in radians, 0 when none opens; then unused.
    kind, shape
        A convex solid, as in `distance_kernels`; `ROD` for what `rod` has.
    rod
        (m, 12): pieces of a thin line, each with its length and one place unused after it.
    """
    cells = np.empty((DEPTH, 4))
    spot = np.empty((3, 3))
    least, at, looked = inf, 0.0, 0
    for piece in range(len(rows)):
        length = starts[piece + 1] - starts[piece]
        for thin in range(max(1, len(rod))):
            cells[0, 0], cells[0, 1], cells[0, 2], cells[0, 3] = 0.0, length, 0.0, 1.0
            waiting = 1
            while waiting > 0:
                waiting -= 1
                s, t = (
                    (cells[waiting, 0] + cells[waiting, 1]) / 2,
                    (cells[waiting, 2] + cells[waiting, 3]) / 2,
                )
                hs, ht = cells[waiting, 1] - s, cells[waiting, 3] - t
                along, turning, error = _place(rows[piece], course, s, t, hs, ht, spot)
                x, y, z = spot[0, 0], spot[0, 1], spot[0, 2]
                curved = False
                if kind == ROD:
                    found = _rod_distance(rod[thin], x, y, z)
                    curved = rod[thin, 0] != 0
                else:
                    found = solid_distance(kind, shape, x, y, z)
                looked += 1
                if found[0] < least:
                    least, at = found[0], t
                if least < keep[0] - keep[1] / 2 or looked > MOST_CELLS or waiting + 2 > DEPTH:
                    return False, least, at
                bound = found[0] - along - turning
                if not curved:
                    bound = max(bound, _tangent_bound(found, spot, hs, ht, error))
                if bound >= keep[0] - keep[1]:
                    continue
                _halve(cells, waiting, along >= turning)
                waiting += 2
    return True, least, at


@compiled
def _halve(cells: Array, place: int, by_length: bool) -> None:
    side = 0 if by_length else 2
    low, high = cells[place, side], cells[place, side + 1]
    for k in range(4):
        cells[place + 1, k] = cells[place, k]
    cells[place, side + 1] = (low + high) / 2
    cells[place + 1, side] = (low + high) / 2


@compiled
def _tangent_bound(found: Distance, spot: Array, hs: float, ht: float, error: float) -> float:
    d, gx, gy, gz = found
    by_s = abs(gx * spot[1, 0] + gy * spot[1, 1] + gz * spot[1, 2]) * hs
    by_t = abs(gx * spot[2, 0] + gy * spot[2, 1] + gz * spot[2, 2]) * ht
    return float(d - by_s - by_t - error)


@compiled
def _place(
    row: Array, course: Array, s: float, t: float, hs: float, ht: float, spot: Array
) -> tuple[float, float, float]:
    """Write the point, its rate by s and its rate by t (an arc opening left out).

    Gives how far the point can travel within hs mm along the line and ht of the travel, and how
    far that is from a straight way.
    """
    ax, ay, az = course[0], course[1], course[2]
    swept = course[8] - course[7]
    shift = course[10] - course[9]
    theta = course[7] + t * swept
    radius, opening = course[6], 0.0
    if course[11] > 0:
        radius = course[6] * course[11] / theta
        opening = 2 * course[6] * course[11] / min(course[7], course[8]) ** 2 * abs(swept) * ht
    c, n = cos(s * row[0]), sin(s * row[0])
    for k in range(3):
        if row[0] == 0:
            spot[0, k] = row[1 + k] + s * row[4 + k]
            spot[1, k] = row[4 + k]
        else:
            spot[0, k] = row[1 + k] + c * row[4 + k] + n * row[7 + k]
            spot[1, k] = row[0] * (c * row[7 + k] - n * row[4 + k])
        spot[0, k] -= radius * course[3 + k]
    c, n = cos(theta), sin(theta)
    for m in range(2):
        x, y, z = spot[m, 0], spot[m, 1], spot[m, 2]
        lift = (1 - c) * (ax * x + ay * y + az * z)
        spot[m, 0] = c * x + n * (ay * z - az * y) + lift * ax
        spot[m, 1] = c * y + n * (az * x - ax * z) + lift * ay
        spot[m, 2] = c * z + n * (ax * y - ay * x) + lift * az
    x, y, z = spot[0, 0], spot[0, 1], spot[0, 2]
    spot[2, 0] = swept * (ay * z - az * y)
    spot[2, 1] = swept * (az * x - ax * z)
    spot[2, 2] = swept * (ax * y - ay * x)
    rho = sqrt(spot[2, 0] ** 2 + spot[2, 1] ** 2 + spot[2, 2] ** 2) / max(abs(swept), 1e-12)
    spot[2, 0] += shift
    for k in range(3):
        spot[0, k] += radius * course[3 + k]
    spot[0, 0] += course[9] + t * shift
    turned = abs(swept) * ht
    error = row[0] * hs * hs / 2 + rho * turned * turned / 2 + turned * hs + opening
    return hs, (rho + hs) * turned + abs(shift) * ht + opening, error


@compiled
def _rod_distance(row: Array, x: float, y: float, z: float) -> Distance:
    """Distance and its gradient from a straight or an arc of a thin line."""
    x, y, z = x - row[1], y - row[2], z - row[3]
    if row[0] == 0:
        s = min(max(x * row[4] + y * row[5] + z * row[6], 0.0), row[10])
        x, y, z = x - s * row[4], y - s * row[5], z - s * row[6]
    else:
        u = x * row[4] + y * row[5] + z * row[6]
        v = x * row[7] + y * row[8] + z * row[9]
        angle, whole = atan2(v, u), row[10] * row[0]
        if angle < 0:
            angle += 2 * pi
        if angle > whole:  # the nearer of the two ends
            angle = whole if angle - whole < 2 * pi - angle else 0.0
        c, n = cos(angle), sin(angle)
        x -= c * row[4] + n * row[7]
        y -= c * row[5] + n * row[8]
        z -= c * row[6] + n * row[9]
    d = sqrt(x * x + y * y + z * z)
    size = max(d, 1e-12)
    return d, x / size, y / size, z / size
