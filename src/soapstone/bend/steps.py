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
    courses, rod = _courses(tube, last, n, led_by_a, motion, sizes), np.empty((0, 12))
    if motion == OWN:
        rod = _tail(tube, stock, made, n, led_by_a, sizes)
        return len(rod) == 0 or _keeps_off(
            tube, stock, made, n, led_by_a, motion, courses, things[0], rod, sizes, False
        )
    for i in range(len(things) - 1, -1, -1):
        is_die = i == len(things) - 1
        if (bent or not is_die) and not _keeps_off(
            tube, stock, made, n, led_by_a, motion, courses, things[i], rod, sizes, is_die
        ):
            return False
    return True


@compiled
def _keeps_off(
    tube: Array,
    stock: float,
    made: int,
    n: int,
    led_by_a: bool,
    motion: int,
    courses: Array,
    thing: Array,
    rod: Array,
    sizes: Array,
    is_die: bool,
) -> bool:
    """Whether the tube keeps off one thing, or the lead off a tail that is given as a rod."""
    rows, starts = np.empty((2 * len(tube) + 1, 10)), np.empty(2 * len(tube) + 2)
    of_lead, fed = SWUNG <= motion <= LEAD_FED, motion in (LEAD_FED, TAIL_FED)
    way, side = LEAD if of_lead else TAIL, sizes[SIDE : SIDE + 3]
    held = sizes[CLAMP] if of_lead else sizes[FOLLOWER]
    off = ALL_OF_IT if is_die or fed else held
    k = lay(tube, stock, made, n, led_by_a == of_lead, way, side, off, rows, starts)
    keep, first, past = np.array([sizes[WANTED] + sizes[OD] / 2, GIVE]), 0, 1
    if motion == LEAD_FED:  # the arc made last lies on the die
        if is_die:
            keep[0] = min(keep[0], sizes[OD] / 2)
        else:
            k = _after_arc(rows, starts, k, held)
    elif motion in (SWUNG, OWN):
        first, past = (2, 3) if is_die else (0, 2)
    kind = int(thing[0])
    if motion == OWN:
        kind = ROD
        keep[0] += sizes[OD] / 2
    for move in range(first, past):
        if not stays_clear(rows[:k], starts[: k + 1], courses[move], kind, thing[1:], rod, keep)[0]:
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
def _courses(tube: Array, last: int, n: int, led_by_a: bool, motion: int, sizes: Array) -> Array:
    """What moves in a motion, as `sweep.stays_clear` has it.

    Of a lead that swings, that is its swing, its way back, and to a die that turns with it nothing.
    """
    courses, used = np.zeros((3, 14)), tube[n, 1] - tube[n, 0]
    for course in courses:
        course[0] = 1.0
    move = courses[0]
    if motion == DRAWN:
        move[10] = -used
    elif motion in (SWUNG, OWN):
        back = courses[1]
        for k in range(3):
            move[k] = back[k] = sizes[AXIS + k]
            move[3 + k] = back[3 + k] = sizes[SIDE + k]
        move[6] = back[6] = sizes[CLR]
        move[8] = back[7] = back[11] = tube[n, 3]
        back[8] = tube[n, 2]
        if motion == OWN:  # seen from the tail, which is drawn up, the lead comes toward it
            move[10] = back[9] = back[10] = used
    else:
        roll = roll_of(tube, last, n, led_by_a)
        if motion in (LEAD_ROLLED_FAR, TAIL_ROLLED_FAR):
            roll += -2 * pi if roll > 0 else 2 * pi
        move[8] = roll
        if motion in (LEAD_FED, TAIL_FED):
            move[7] = roll
            move[9] = tube[n, 0] - tube[last, 1] if led_by_a else tube[last, 0] - tube[n, 1]
    return courses


@compiled
def _tail(tube: Array, stock: float, made: int, n: int, led_by_a: bool, sizes: Array) -> Array:
    """Lay the tail as a thin line, as `sweep.stays_clear` takes it."""
    rows, starts = np.empty((2 * len(tube) + 1, 10)), np.empty(2 * len(tube) + 2)
    side, off = sizes[SIDE : SIDE + 3], sizes[FOLLOWER]
    count = lay(tube, stock, made, n, not led_by_a, TAIL, side, off, rows, starts)
    rod = np.zeros((count, 12))
    for i in range(count):
        rod[i, 10] = starts[i + 1] - starts[i]
        for k in range(10):
            rod[i, k] = rows[i, k]
    return rod


@compiled
def _after_arc(rows: Array, starts: Array, count: int, held: float) -> int:
    """Leave out the first arc and `held` mm of the straight after it, or all of that if shorter."""
    gone = 1
    if count > 1 and rows[1, 0] == 0:
        if starts[2] - starts[1] > held:
            for k in range(1, 4):
                rows[1, k] += held * rows[1, k + 3]
            starts[1] += held
        else:
            gone = 2
    for i in range(gone, count):
        starts[i - gone] = starts[i]
        for k in range(10):
            rows[i - gone, k] = rows[i, k]
    starts[count - gone] = starts[count]
    return count - gone
