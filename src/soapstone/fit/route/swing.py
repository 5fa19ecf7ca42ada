"""Compiled: where a piece of tube comes too near a solid, over every place the solid swings to."""

import math
from typing import cast

import numpy as np

from soapstone.fit.route.contact import (
    AT,
    BOUND,
    GRID,
    HINGE,
    HINGES,
    KIND,
    NEED,
    POSE,
    POSES,
    Desk,
    Room,
    far,
    out_of_reach,
    place_on,
    touch,
)
from soapstone.fit.route.reach import HALFSPACE
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

DEEP = -5.0
"""mm: a contact deeper than this is not followed to the very pose where it is deepest."""


FIRST, AXIS, TRIAL = (cast("int", np.int64(row)) for row in (0, 1, 7))
"""Rows of the desk: the first contact or the pose tried, the hinge's axis as it stands, a contact
tried. As numpy's integers: a plain number in a call is compiled as a version of its own."""


@compiled
def turn_about(poses: Array, row: int, hinges: Array, hinge: int, angle: float) -> None:
    """Turn one pose (frame and centre) in place about a hinge; radians."""
    ax, ay, az = hinges[hinge, 3], hinges[hinge, 4], hinges[hinge, 5]
    c, s = math.cos(angle), math.sin(angle)
    v = 1.0 - c
    for j in range(4):
        if j < 3:
            x, y, z = poses[row, j], poses[row, 3 + j], poses[row, 6 + j]
        else:
            x = poses[row, 9] - hinges[hinge, 0]
            y = poses[row, 10] - hinges[hinge, 1]
            z = poses[row, 11] - hinges[hinge, 2]
        along = v * (ax * x + ay * y + az * z)
        rx = c * x + s * (ay * z - az * y) + along * ax
        ry = c * y + s * (az * x - ax * z) + along * ay
        rz = c * z + s * (ax * y - ay * x) + along * az
        if j < 3:
            poses[row, j], poses[row, 3 + j], poses[row, 6 + j] = rx, ry, rz
        else:
            poses[row, 9] = rx + hinges[hinge, 0]
            poses[row, 10] = ry + hinges[hinge, 1]
            poses[row, 11] = rz + hinges[hinge, 2]


@compiled
def contacts(room: Room, b: int, desk: Desk) -> int:
    """Rows of `found` where piece 0 is nearer to solid `b` than it needs; their number.

    A swinging solid gives one row for each locally worst pose.
    """
    need = room.solid[b, NEED]
    if room.table[b, KIND] != HALFSPACE and out_of_reach(room, b, desk):
        return 0
    if room.table[b, POSES] == 1:
        d = touch(room, b, room.pose, room.table[b, POSE], desk, need, FIRST)
        return 1 if d < need else 0
    return _swinging(room, b, desk)


@compiled
def _swinging(room: Room, b: int, desk: Desk) -> int:
    """Worst poses of a solid on hinges: a grid of poses, its valleys followed to their bottoms."""
    need, bound = room.solid[b, NEED], room.solid[b, BOUND]
    first, count = room.table[b, POSE], room.table[b, POSES]
    reach = need + _slack(room, b, desk.piece)
    halfspace = room.table[b, KIND] == HALFSPACE
    near, pose = desk.near, room.pose
    any_near = False
    for p in range(count):
        row = first + p
        near[p] = 1e30
        if halfspace or not far(
            desk.piece, pose[row, 9], pose[row, 10], pose[row, 11], bound + reach
        ):
            near[p] = touch(room, b, pose, row, desk, reach, FIRST)
            any_near = any_near or near[p] < reach
    m = FIRST
    if any_near:
        n1, n2 = room.table[b, GRID + 1], room.table[b, GRID + 2]
        for p in range(count):
            valley = near[p] < reach and m < 6 and _valley(near, p, count, n1, n2)
            if valley and _worst_pose(room, b, desk, p, m) < need:
                m += 1
    return m


@compiled
def _valley(near: Array, p: int, count: int, n1: int, n2: int) -> bool:
    """Tell whether no neighbour of pose `p` on the grid is nearer."""
    d = near[p]
    i2, i1 = p % n2, (p // n2) % n1
    sheet = n1 * n2
    if (i2 > 0 and near[p - 1] <= d) or (i2 < n2 - 1 and near[p + 1] < d):
        return False
    if (i1 > 0 and near[p - n2] <= d) or (i1 < n1 - 1 and near[p + n2] < d):
        return False
    return not (
        (p >= sheet and near[p - sheet] <= d) or (p + sheet < count and near[p + sheet] < d)
    )


@compiled
def _slack(room: Room, b: int, piece: Array) -> float:
    """How much nearer a solid may come between two poses of its grid: arm times half a step."""
    slack = 0.0
    hinges = room.hinge
    for j in range(room.table[b, HINGES]):
        h, steps = room.table[b, HINGE] + j, room.table[b, GRID + j] - 1
        if steps > 0:
            x = piece[0, 13] - hinges[h, 0]
            y = piece[0, 14] - hinges[h, 1]
            z = piece[0, 15] - hinges[h, 2]
            along = x * hinges[h, 3] + y * hinges[h, 4] + z * hinges[h, 5]
            arm = math.sqrt(max(x * x + y * y + z * z - along * along, 0.0)) + piece[0, 16]
            slack += 0.5 * arm * (hinges[h, 7] - hinges[h, 6]) / steps
    return slack


@compiled
def set_pose(room: Room, b: int, poses: Array, row: int) -> None:
    """Bring solid `b` to the hinge angles of a pose: its frame and centre."""
    for i in range(12):
        poses[row, i] = room.solid[b, i]
    for j in range(room.table[b, HINGES]):
        turn_about(poses, row, room.hinge, room.table[b, HINGE] + j, poses[row, AT + j])


@compiled
def _approach(room: Room, b: int, j: int, desk: Desk, m: int) -> float:
    """Rate of the distance of contact `m` as hinge `j` turns, the others as in scratch pose 0."""
    poses, hinges, found = desk.pose, room.hinge, desk.found
    first = room.table[b, HINGE]
    for i in range(3):
        poses[1, i], poses[1, 3 + i], poses[1, 6 + i] = 0.0, 0.0, 0.0
        poses[1, 9 + i] = hinges[first + j, i]
    poses[1, 0], poses[1, 3], poses[1, 6] = (
        hinges[first + j, 3],
        hinges[first + j, 4],
        hinges[first + j, 5],
    )
    for later in range(j + 1, room.table[b, HINGES]):
        turn_about(poses, AXIS, hinges, first + later, poses[0, AT + later])
    ax, ay, az = poses[1, 0], poses[1, 3], poses[1, 6]
    x, y, z = place_on(desk.piece, found[m, 1])
    x, y, z = x - poses[1, 9], y - poses[1, 10], z - poses[1, 11]
    rate: float = -(
        found[m, 2] * (ay * z - az * y)
        + found[m, 3] * (az * x - ax * z)
        + found[m, 4] * (ax * y - ay * x)
    )
    return rate


@compiled
def _worst_pose(room: Room, b: int, desk: Desk, p: int, m: int) -> float:
    """Follow one valley of the grid to its bottom, hinge by hinge; the contact there to row `m`."""
    row = room.table[b, POSE] + p
    best = touch(room, b, room.pose, row, desk, 1e30, m)
    if best < DEEP:
        return best
    for i in range(15):
        desk.pose[0, i] = room.pose[row, i]
    count = room.table[b, HINGES]
    for _ in range(2 if count > 1 else 1):
        before = best
        for j in range(count):
            if room.table[b, GRID + j] > 1:
                best = _turn_to_worst(room, b, desk, j, m, best)
        if before - best < 1e-3:
            break
    return best


@compiled
def _turn_to_worst(room: Room, b: int, desk: Desk, j: int, m: int, best: float) -> float:
    """Turn one hinge, within a step of the grid, to where contact `m` is nearest; its distance."""
    h = room.table[b, HINGE] + j
    low, high = room.hinge[h, 6], room.hinge[h, 7]
    step = (high - low) / (room.table[b, GRID + j] - 1)
    here = desk.pose[0, AT + j]
    rate = _approach(room, b, j, desk, m)
    lo, hi = (max(here - step, low), here) if rate > 0.0 else (here, min(here + step, high))
    rate_lo = rate_hi = rate
    bracketed = False
    for _ in range(8):
        if hi - lo < 1e-6:
            break
        cut = lo if rate > 0.0 else hi
        if bracketed:
            cut = (lo * rate_hi - hi * rate_lo) / (rate_hi - rate_lo)
            cut = min(max(cut, lo + 0.1 * (hi - lo)), hi - 0.1 * (hi - lo))
        desk.pose[0, AT + j] = cut
        set_pose(room, b, desk.pose, FIRST)
        d = touch(room, b, desk.pose, FIRST, desk, 1e30, TRIAL)
        slope = _approach(room, b, j, desk, TRIAL)
        if d < best:
            best, here = d, cut
            for i in range(5):
                desk.found[m, i] = desk.found[7, i]
        if not bracketed and rate * slope >= 0.0:
            # a hump lies between: the valley is nearer to where the search began
            if rate > 0.0:
                lo = 0.5 * (lo + hi)
            else:
                hi = 0.5 * (lo + hi)
            continue
        bracketed = True
        if slope > 0.0:
            hi, rate_hi = cut, slope
        else:
            lo, rate_lo = cut, slope
        if abs(slope) < 0.05:
            break
    desk.pose[0, AT + j] = here
    return best
