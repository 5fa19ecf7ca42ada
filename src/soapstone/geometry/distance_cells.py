"""Cells of (distance along a line, angle of each hinge), and bounds on distances over them.

A point of the line at s, seen from a solid that has swung by angles a1..ak, is q(s, a1..ak): the
point turned back about the last hinge, then about the one before, and so on. Over a cell, the box
of centre c and half widths h, a convex distance d with subgradient g at q(c) is bounded twice:

    d(q) >= d(c) - r           r: the furthest that q can be from q(c)  (d is 1-Lipschitz)
    d(q) >= d(c) + g.(q - q(c)) >= d(c) - sum |g.dq/dx_j| h_j - e

with e half of the sum of the bounds of the second derivatives times h_i h_j. They are: along an
arc its curvature; for the angle of hinge j the distance rho_j of the point from that hinge; for
two hinges the rho of the one that is turned back first; for s and a hinge the sine between the
line and the hinge's axis. The second bound is what makes flat contact cheap: where a solid runs
parallel to the line or turns on the spot its slope is 0, and the error is of second order.
"""

from math import cos, sin, sqrt
from typing import NamedTuple

from soapstone.geometry.bvh import Links, nearest
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import (
    TRIANGLES,
    Distance,
    solid_distance,
    triangle_distance,
)
from soapstone.geometry.vectors import Array

HUGE = 1e300


class Pieces(NamedTuple):
    """A line of m straights and arcs, end to end.

    Attributes
    ----------
    rows
        (m, 10): curvature (1/mm; 0 of a straight); a point; two vectors. A straight goes from
        the point along the first vector, of length 1. An arc goes about the point, from
        point + first to point + second after 90 degrees; both have the arc's radius as length.
    starts
        (m + 1,): distance along the line in mm at which each piece starts; last its length.
    """

    rows: Array
    starts: Array


class Target(NamedTuple):
    """One solid as arrays.

    `kind` and `shape` are as in `distance_kernels`; kind TRIANGLES has a tree of triangles (see
    `bvh`) instead of a shape, whose distance is never negative here.
    """

    kind: int
    shape: Array
    triangles: Array
    boxes: Array
    links: Links


class View(NamedTuple):
    """Room for what is known of one cell; of k hinges.

    `middle` (k + 1,) its centre; `frame` (k + 2, 3): q, dq/ds, dq/da_j there; `sines` (k,) between
    the line and each axis; `half` (k + 1,) its half widths; `travel` (k + 1,) how far q can go
    along each side; `share` (k + 1,) each side's part of the error e.
    """

    middle: Array
    frame: Array
    sines: Array
    half: Array
    travel: Array
    share: Array


@compiled
def piece_at(starts: Array, s: float) -> int:
    """Index of the piece that holds the point at s."""
    low, high = 0, len(starts) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if starts[middle] <= s:
            low = middle
        else:
            high = middle
    return low


@compiled
def joint_between(starts: Array, low: float, high: float) -> float:
    """Start of a piece strictly within low..high, the one nearest to their middle."""
    middle = (low + high) / 2
    i = piece_at(starts, middle)
    below, above = starts[i], starts[i + 1]
    if below <= low:
        return float(above)
    if above >= high:
        return float(below)
    return float(below if middle - below < above - middle else above)


@compiled
def put_on_line(pieces: Pieces, s: float, frame: Array) -> int:
    """Write the point at s and the line's direction there into rows 0 and 1; give its piece."""
    i = piece_at(pieces.starts, s)
    row = pieces.rows[i]
    along = s - pieces.starts[i]
    if row[0] == 0:
        for k in range(3):
            frame[0, k] = row[1 + k] + along * row[4 + k]
            frame[1, k] = row[4 + k]
        return i
    c, n = cos(along * row[0]), sin(along * row[0])
    for k in range(3):
        frame[0, k] = row[1 + k] + c * row[4 + k] + n * row[7 + k]
        frame[1, k] = row[0] * (c * row[7 + k] - n * row[4 + k])
    return i


@compiled
def swing_back(hinges: Array, angles: Array, frame: Array, sines: Array) -> None:
    """Turn rows 0 and 1 back about the hinges, last to first, and write dq/da_j into row 2 + j.

    `hinges` (k, 8): a point of the axis, its direction, least and greatest angle; `angles` (k,).
    """
    count = len(hinges)
    for j in range(count - 1, -1, -1):
        hinge = hinges[j]
        c, n = cos(angles[j]), -sin(angles[j])
        ax, ay, az = hinge[3], hinge[4], hinge[5]
        for k in range(3):
            frame[0, k] -= hinge[k]
        for m in range(count + 2):
            if 1 < m <= j + 2:
                continue
            x, y, z = frame[m, 0], frame[m, 1], frame[m, 2]
            lift = (1 - c) * (ax * x + ay * y + az * z)
            frame[m, 0] = c * x + n * (ay * z - az * y) + lift * ax
            frame[m, 1] = c * y + n * (az * x - ax * z) + lift * ay
            frame[m, 2] = c * z + n * (ax * y - ay * x) + lift * az
        x, y, z = frame[0, 0], frame[0, 1], frame[0, 2]
        frame[2 + j, 0] = y * az - z * ay
        frame[2 + j, 1] = z * ax - x * az
        frame[2 + j, 2] = x * ay - y * ax
        along = ax * frame[1, 0] + ay * frame[1, 1] + az * frame[1, 2]
        sines[j] = sqrt(max(0.0, 1 - along * along))
        for k in range(3):
            frame[0, k] += hinge[k]


@compiled
def measure_cell(view: View, curvature: float) -> tuple[float, float]:
    """Give r and e of a cell whose frame is set (see this module), and fill travel and share."""
    half, travel, share = view.half, view.travel, view.share
    away = half[0]
    bend = curvature * half[0]
    travel[0] = half[0]
    share[0] = bend * half[0] / 2
    for j in range(len(half) - 2, -1, -1):
        x, y, z = view.frame[2 + j, 0], view.frame[2 + j, 1], view.frame[2 + j, 2]
        rho = sqrt(x * x + y * y + z * z) + away
        h = half[1 + j]
        twist = min(1.0, view.sines[j] + bend) * half[0] * h / 2
        share[0] += twist
        share[1 + j] = twist + rho * h * h / 2
        for m in range(j + 2, len(half)):
            # the hinges turned back before this one have their share in travel[m]
            both = travel[m] * h / 2
            share[m] += both
            share[1 + j] += both
        travel[1 + j] = rho * h
        away += rho * min(h, 2.0)
        bend += h
    for j in range(1, len(half)):
        travel[j] *= min(1.0, 2.0 / max(half[j], 1e-9))
    error = 0.0
    for j in range(len(half)):
        error += share[j]
    return away, error


@compiled
def least_over_cell(view: View, found: Distance, away: float, error: float) -> float:
    """Lower bound of a convex distance over a cell, from what was `found` at its centre."""
    d, gx, gy, gz = found
    slope = 0.0
    for j in range(len(view.half)):
        along = gx * view.frame[1 + j, 0] + gy * view.frame[1 + j, 1] + gz * view.frame[1 + j, 2]
        slope += abs(along) * view.half[j]
    size = gx * gx + gy * gy + gz * gz
    return max(d - away, d - slope - error * size)


@compiled
def side_to_split(view: View, found: Distance, error: float, coarse: bool) -> tuple[int, bool]:
    """Which side of a cell to halve, and whether the nearer half is the upper one.

    It is the side that loosens the bound most; when `coarse`, or when the bound r is the better
    one, the side along which the line travels furthest.
    """
    gx, gy, gz = found[1:]
    reach = 0.0
    for j in range(len(view.half)):
        reach += view.travel[j]
    coarse = coarse or error >= HUGE or reach < error
    best, side, upper = -1.0, 0, True
    for j in range(len(view.half)):
        along = gx * view.frame[1 + j, 0] + gy * view.frame[1 + j, 1] + gz * view.frame[1 + j, 2]
        loose = view.travel[j] if coarse else abs(along) * view.half[j] + view.share[j]
        if loose > best:
            best, side, upper = loose, j, along < 0
    return side, upper


@compiled
def target_distance(target: Target, frame: Array, within: float) -> float:
    """Distance of row 0 of `frame` to a solid, or `within` if it has triangles, all further off."""
    x, y, z = frame[0, 0], frame[0, 1], frame[0, 2]
    if target.kind == TRIANGLES:
        return nearest(target.triangles, target.boxes, target.links, x, y, z, within)[0]
    return solid_distance(target.kind, target.shape, x, y, z)[0]


@compiled
def element_distance(target: Target, element: int, frame: Array) -> Distance:
    """Distance of row 0 of `frame` to the one convex solid, or to triangle `element`."""
    x, y, z = frame[0, 0], frame[0, 1], frame[0, 2]
    if target.kind == TRIANGLES:
        return triangle_distance(target.triangles, element, x, y, z)
    return solid_distance(target.kind, target.shape, x, y, z)
