"""Whether one motion of one end of a tube is clear of everything: certain, yes or no; compiled.

A tube is an array as in `laying.lay`. A bender is an array of one row a thing: its kind and its
shape, as in `distance_kernels`; the last row is the die. `sizes` are OD, clamp, follower, the die's
centreline radius, and the gap wanted, all in mm; then the way to the die's centre, and the axis
that a right-handed turn takes the lead round, as unit vectors.

What one end comes past hangs on the bends made in that end alone, so that the answer holds for
every order that comes to them; only what the lead does beside the tube's own tail hangs on all.
"""

from math import ceil, pi

import numpy as np

from soapstone.bend.laying import LEAD, TAIL, lay
from soapstone.bend.sweep import ROD, stays_clear
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

OD, CLAMP, FOLLOWER, CLR, WANTED, SIDE, AXIS = 0, 1, 2, 3, 4, 5, 8
"""Places in `sizes`."""

DRAWN, SWUNG, OWN = 0, 1, 2
LEAD_ROLLED, LEAD_ROLLED_FAR, LEAD_FED = 3, 4, 5
TAIL_ROLLED, TAIL_ROLLED_FAR, TAIL_FED = 6, 7, 8
"""Motions: the tail drawn up; the lead swung and let go, past all things, and past the own tail;
either end rolled the short way or the long way round, or fed on."""

GIVE = 0.05
"""mm by which a gap may fall short of what is wanted and yet be told clear."""

ALL_OF_IT = 1e9
"""mm: leaves out the whole first straight."""


@compiled
def motion_clear(
    tube: Array,
    stock: float,
    made: int,
    last: int,
    n: int,
    led_by_a: bool,
    motion: int,
    things: Array,
    sizes: Array,
) -> bool:
    """Whether the tube keeps off everything in one motion, `made` being bent already.

    `last` is the bend made last where the tube is rolled or fed from there to bend `n`.
    """
    of_lead = SWUNG <= motion <= LEAD_FED
    to_a = led_by_a == of_lead
    bent = (made & ((1 << n) - 1)) != 0 if to_a else made >> (n + 1) != 0
    if motion >= LEAD_ROLLED and not bent:
        return True
    if motion == OWN and made == 0 and tube[n, 3] <= pi / 2:
        return True
    rows, starts = np.empty((2 * len(tube) + 1, 10)), np.empty(2 * len(tube) + 2)
    side, way = sizes[SIDE : SIDE + 3], LEAD if of_lead else TAIL
    courses, rod = _courses(tube, last, n, led_by_a, motion, sizes), np.empty((0, 12))
    if motion == OWN:
        rod = _tail(tube, stock, made, n, led_by_a, sizes)
        if len(rod) == 0:
            return True
    die = len(things) - 1
    for i in range(die, -1, -1) if motion != OWN else range(1):
        off, moves, keep = sizes[CLAMP if of_lead else FOLLOWER], courses, sizes[WANTED]
        kind, shape = int(things[i, 0]), things[i, 1:]
        if motion == OWN:
            kind, keep = ROD, keep + sizes[OD] / 2
        elif i == die or motion == LEAD_FED or motion == TAIL_FED:
            off = ALL_OF_IT
        if i == die and motion != OWN:
            if not bent:
                continue
            if motion == SWUNG:  # it turns with the lead
                moves = _still(1)
            elif motion == LEAD_FED:  # the arc made last lies on it
                keep = min(keep, 0.0)
        k = lay(tube, stock, made, n, to_a, way, side, off, rows, starts)
        if i != die and motion == LEAD_FED:
            k = _after_arc(rows, starts, k, sizes[CLAMP])
        wanted = np.array([keep + sizes[OD] / 2, GIVE])
        for m in range(len(moves)):
            if not stays_clear(rows[:k], starts[: k + 1], moves[m], kind, shape, rod, wanted)[0]:
                return False
    return True


@compiled
def roll_of(tube: Array, last: int, n: int, led_by_a: bool) -> float:
    """Roll in radians from bend `last` to bend `n`, the short way round, in (-pi, pi].

    Clockwise seen from the tail looking at the die.
    """
    turned = tube[max(last, n), 4] - tube[min(last, n), 4]
    roll = turned if (n > last) == led_by_a else -turned
    return float(roll - 2 * pi * ceil((roll - pi) / (2 * pi) - 1e-12))


@compiled
def _still(count: int) -> Array:
    """Motions in which nothing moves yet, as `sweep.stays_clear` has them."""
    courses = np.zeros((count, 14))
    courses[:, 0] = 1.0
    return courses


@compiled
def _courses(tube: Array, last: int, n: int, led_by_a: bool, motion: int, sizes: Array) -> Array:
    """What moves in a motion: of a lead that swings, its swing and its way back."""
    courses = _still(2 if motion == SWUNG or motion == OWN else 1)
    used = tube[n, 1] - tube[n, 0]
    if motion == DRAWN:
        courses[0, 10] = -used
    elif motion == SWUNG or motion == OWN:
        courses[:, 0:3] = sizes[AXIS : AXIS + 3]
        courses[:, 3:6] = sizes[SIDE : SIDE + 3]
        courses[:, 6] = sizes[CLR]
        courses[0, 8] = courses[1, 7] = courses[1, 11] = tube[n, 3]
        courses[1, 8] = tube[n, 2]
        if motion == OWN:  # seen from the tail, which is drawn up, the lead comes toward it
            courses[0, 10] = courses[1, 9] = courses[1, 10] = used
    else:
        roll = roll_of(tube, last, n, led_by_a)
        if motion == LEAD_ROLLED_FAR or motion == TAIL_ROLLED_FAR:
            roll += -2 * pi if roll > 0 else 2 * pi
        courses[0, 8] = roll
        if motion == LEAD_FED or motion == TAIL_FED:
            courses[0, 7] = roll
            far = tube[n, 0] - tube[last, 1] if led_by_a else tube[last, 0] - tube[n, 1]
            courses[0, 9] = far
    return courses


@compiled
def _tail(tube: Array, stock: float, made: int, n: int, led_by_a: bool, sizes: Array) -> Array:
    """Lay the tail as a thin line, as `sweep.stays_clear` takes it."""
    rows, starts = np.empty((2 * len(tube) + 1, 10)), np.empty(2 * len(tube) + 2)
    side, off = sizes[SIDE : SIDE + 3], sizes[FOLLOWER]
    count = lay(tube, stock, made, n, not led_by_a, TAIL, side, off, rows, starts)
    rod = np.zeros((count, 12))
    rod[:, :10], rod[:, 10] = rows[:count], np.diff(starts[: count + 1])
    return rod


@compiled
def _after_arc(rows: Array, starts: Array, count: int, held: float) -> int:
    """Leave out the first arc and `held` mm of the straight after it, or all of that if shorter."""
    gone = 1
    if count > 1 and rows[1, 0] == 0:
        if starts[2] - starts[1] > held:
            rows[1, 1:4] += held * rows[1, 4:7]
            starts[1] += held
        else:
            gone = 2
    for i in range(gone, count):
        rows[i - gone] = rows[i]
        starts[i - gone] = starts[i]
    starts[count - gone] = starts[count]
    return count - gone
