"""Whether one motion of a step is clear of everything: certain, yes or no; compiled.

A tube is an array as in `laying.lay`. A bender is an array of one row a thing: its kind and its
shape, as in `distance_kernels`; the last row is the die. `sizes` are OD, clamp, follower, the die's
centreline radius, and the gap wanted, all in mm; then the way to the die's centre, and the axis
that a right-handed turn takes the lead round, as unit vectors.

What one end of the tube comes past hangs on the bends made in that end alone, so that the answer
holds for every order that comes to them.
"""

from math import pi

import numpy as np

from soapstone.bend.laying import LEAD, TAIL, lay
from soapstone.bend.sweep import ROD, stays_clear
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

OD, CLAMP, FOLLOWER, CLR, WANTED, SIDE, AXIS = 0, 1, 2, 3, 4, 5, 8
"""Places in `sizes`."""

GIVE = 0.05
"""mm by which a gap may fall short of what is wanted and yet be told clear."""

ALL_OF_IT = 1e9
"""mm: leaves out the whole first straight."""


@compiled
def _clears(
    thing: Array, rows: Array, starts: Array, course: Array, keep: float, rod: Array
) -> bool:
    """Whether a line keeps `keep` mm off a thing; a thing of no row is the rod."""
    kind, shape = ROD, thing
    if len(thing):
        kind, shape = int(thing[0]), thing[1:]
    wanted = np.array([keep, GIVE])
    return bool(stays_clear(rows, starts, course, kind, shape, rod, wanted)[0])


@compiled
def _course(sizes: Array, about_die: bool) -> Array:
    """A motion in which nothing moves yet, as `sweep.stays_clear` has it."""
    course = np.zeros(14)
    course[0] = 1.0
    if about_die:
        course[0:3] = sizes[AXIS : AXIS + 3]
        course[3:6] = sizes[SIDE : SIDE + 3]
        course[6] = sizes[CLR]
    return course


@compiled
def _room(tube: Array) -> tuple[Array, Array]:
    return np.empty((2 * len(tube) + 1, 10)), np.empty(2 * len(tube) + 2)


@compiled
def _is_bent(tube: Array, made: int, n: int, to_a: bool) -> bool:
    return (made & ((1 << n) - 1)) != 0 if to_a else made >> (n + 1) != 0


@compiled
def tail_clear(
    tube: Array, stock: float, made: int, n: int, led_by_a: bool, things: Array, sizes: Array
) -> bool:
    """Whether the tail is clear as it is drawn up."""
    rows, starts = _room(tube)
    side, half = sizes[SIDE : SIDE + 3], sizes[OD] / 2
    course, rod = _course(sizes, False), np.empty((0, 12))
    course[10] = tube[n, 0] - tube[n, 1]
    keep, die = sizes[WANTED] + half, len(things) - 1
    if _is_bent(tube, made, n, not led_by_a):
        k = lay(tube, stock, made, n, not led_by_a, TAIL, side, ALL_OF_IT, rows, starts)
        if not _clears(things[die], rows[:k], starts[: k + 1], course, keep, rod):
            return False
    k = lay(tube, stock, made, n, not led_by_a, TAIL, side, sizes[FOLLOWER], rows, starts)
    for i in range(die):
        if not _clears(things[i], rows[:k], starts[: k + 1], course, keep, rod):
            return False
    return True


@compiled
def lead_clear(
    tube: Array, stock: float, made: int, n: int, led_by_a: bool, things: Array, sizes: Array
) -> bool:
    """Whether the lead is clear as it swings and is let go; to the die it stands."""
    rows, starts = _room(tube)
    side, half, rod = sizes[SIDE : SIDE + 3], sizes[OD] / 2, np.empty((0, 12))
    keep, die = sizes[WANTED] + half, len(things) - 1
    if _is_bent(tube, made, n, led_by_a):
        k = lay(tube, stock, made, n, led_by_a, LEAD, side, ALL_OF_IT, rows, starts)
        if not _clears(things[die], rows[:k], starts[: k + 1], _course(sizes, False), keep, rod):
            return False
    k = lay(tube, stock, made, n, led_by_a, LEAD, side, sizes[CLAMP], rows, starts)
    swing, release = _turns(tube, n, sizes)
    for i in range(die):
        if not _clears(things[i], rows[:k], starts[: k + 1], swing, keep, rod):
            return False
        if not _clears(things[i], rows[:k], starts[: k + 1], release, keep, rod):
            return False
    return True


@compiled
def _turns(tube: Array, n: int, sizes: Array) -> tuple[Array, Array]:
    """The swing of the lead about the die, and its way back as the bend opens."""
    swing, release = _course(sizes, True), _course(sizes, True)
    swing[8] = tube[n, 3]
    release[7], release[8], release[11] = tube[n, 3], tube[n, 2], tube[n, 3]
    return swing, release


@compiled
def own_clear(tube: Array, stock: float, made: int, n: int, led_by_a: bool, sizes: Array) -> bool:
    """Whether the lead is clear of the tube's own tail as it swings and is let go."""
    if made == 0 and tube[n, 3] <= pi / 2:
        return True
    rows, starts = _room(tube)
    behind, behind_starts = _room(tube)
    side = sizes[SIDE : SIDE + 3]
    k = lay(tube, stock, made, n, led_by_a, LEAD, side, sizes[CLAMP], rows, starts)
    m = lay(tube, stock, made, n, not led_by_a, TAIL, side, sizes[FOLLOWER], behind, behind_starts)
    rod = np.zeros((m, 12))
    for i in range(m):
        rod[i, :10] = behind[i]
        rod[i, 10] = behind_starts[i + 1] - behind_starts[i]
    if k == 0 or m == 0:
        return True
    swing, release = _turns(tube, n, sizes)
    used = tube[n, 1] - tube[n, 0]
    # seen from the tail, which is drawn up, the lead moves toward it
    swing[10], release[9], release[10] = used, used, used
    keep, none = sizes[WANTED] + sizes[OD], np.empty(0)
    return _clears(none, rows[:k], starts[: k + 1], swing, keep, rod) and _clears(
        none, rows[:k], starts[: k + 1], release, keep, rod
    )


@compiled
def roll_clear(
    tube: Array,
    stock: float,
    made: int,
    n: int,
    led_by_a: bool,
    of_lead: bool,
    turn_rad: float,
    things: Array,
    sizes: Array,
) -> bool:
    """Whether one end is clear as the tube is rolled by `turn_rad` to where it is bent."""
    to_a = led_by_a == of_lead
    if not _is_bent(tube, made, n, to_a):
        return True
    rows, starts = _room(tube)
    side, rod, course = sizes[SIDE : SIDE + 3], np.empty((0, 12)), _course(sizes, False)
    course[8] = turn_rad
    keep, die = sizes[WANTED] + sizes[OD] / 2, len(things) - 1
    way, held = (LEAD, sizes[CLAMP]) if of_lead else (TAIL, sizes[FOLLOWER])
    for i in range(die, -1, -1):
        off = ALL_OF_IT if i == die else held
        k = lay(tube, stock, made, n, to_a, way, side, off, rows, starts)
        if not _clears(things[i], rows[:k], starts[: k + 1], course, keep, rod):
            return False
    return True


@compiled
def feed_clear(
    tube: Array,
    stock: float,
    made: int,
    last: int,
    n: int,
    led_by_a: bool,
    of_lead: bool,
    turn_rad: float,
    things: Array,
    sizes: Array,
) -> bool:
    """Whether the bent part of one end is clear as the tube is fed from bend `last` on to `n`.

    It is rolled by `turn_rad` after that. The arc made last leaves the die that it lies on, so to
    the die no more than no gap is wanted; it and what the clamp held count for nothing beside
    other things.
    """
    to_a = led_by_a == of_lead
    if not _is_bent(tube, made, n, to_a):
        return True
    rows, starts = _room(tube)
    side, rod, course = sizes[SIDE : SIDE + 3], np.empty((0, 12)), _course(sizes, False)
    course[7], course[8] = turn_rad, turn_rad
    course[9] = tube[n, 0] - tube[last, 1] if led_by_a else tube[last, 0] - tube[n, 1]
    half, die, way = sizes[OD] / 2, len(things) - 1, LEAD if of_lead else TAIL
    k = lay(tube, stock, made, n, to_a, way, side, ALL_OF_IT, rows, starts)
    if not _clears(
        things[die], rows[:k], starts[: k + 1], course, min(sizes[WANTED], 0) + half, rod
    ):
        return False
    if of_lead:  # the arc made last, and what the clamp held
        k = _after_arc(rows, starts, k, sizes[CLAMP])
    for i in range(die):
        if not _clears(things[i], rows[:k], starts[: k + 1], course, sizes[WANTED] + half, rod):
            return False
    return True


@compiled
def _after_arc(rows: Array, starts: Array, count: int, held: float) -> int:
    """Leave out the first arc and `held` mm of the straight after it, or all of that if shorter."""
    gone = 1
    if count > 1 and rows[1, 0] == 0:
        length = starts[2] - starts[1]
        if length > held:
            rows[1, 1:4] += held * rows[1, 4:7]
            starts[1] += held
        else:
            gone = 2
    for i in range(gone, count):
        rows[i - gone] = rows[i]
        starts[i - gone] = starts[i]
    starts[count - gone] = starts[count]
    return count - gone
