"""Compiled: one tube made many times over, the same sums as `check.making`, and where it lands.

A tube is followed from its A end along x, its first bend toward y. Turns that are near the drawn
ones, as nearly all are, are reckoned by a series about those.
"""

from math import acos, asin, cos, factorial, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

DEGREE = pi / 180
SHALLOWEST = 1e-3
"""Degrees: no cause makes a bend of less; as in `check.making`."""

S3, S5, S7, S9, S11 = (1 / factorial(k) for k in (3, 5, 7, 9, 11))
C4, C6, C8, C10 = (1 / factorial(k) for k in (4, 6, 8, 10))

NEAR = 0.25
"""Radians within which the series of sine and cosine hold to the last digit but one."""

OFF, TURN, APART, BETWEEN, ENDS, BACK, BACK_TURN, PLACES = 0, 1, 2, 3, 4, 7, 8, 9
"""Rows of what comes out: as in `Landings`."""


(DIAL, MARK, TO_BEGIN, TO_END, LEAD, ROTATION, ANGLE) = range(7)
COS_ROTATION, SIN_ROTATION, COS_ANGLE, SIN_ANGLE = range(7, 11)
CREPT, FIRST, ASKED, LEAST, STEPS = range(11, 16)
"""Columns of `Shop.bends`: the dial; the mark on the tape, from the mark to where the bend begins
and ends; 1 where A leads, -1 where B does; rotation and angle as drawn, their cosines and sines;
place among the bends crept up to or -1, first stop, angle asked for, and the measured angle at
which its table of second readings begins, and the table's steps a degree."""

(ZERO, SPRINGBACK, CENTRE, SCATTER, STOP, INDEX, STRETCHES, STRETCH, MARKS, CUTS, CLR) = range(11)
COMMON, ODD, PROTRACTOR, CUT_A, SAWN_A, CUT_B, SAWN_B, LINE = range(11, 19)
"""Places in `Shop.number`: the dial's zero, springback and the centre of its line; deviations of
scatter and dial stop, of the index line and the stretch; the stretch; deviations of marks and
cuts; the die's radius; the parts of a bend's scatter that two stops have in common and not, the
protractor's deviation; where the cuts are, and 1 where they are sawn; from `LINE` on
`Making.spread`."""

LOADED, FREE, STOCK, MORE, LEGS = range(5)
"""Rows of a made tube: angles on the die and after release, stock used, more than the drawn
rotations, straights."""


class Shop(NamedTuple):
    """A plan and how it is made, as numbers, for n bends; mm and degrees.

    `number`, `bends` (n, 16): as named above. `turned` (n, n - 1): as in `Making`. `second` (k,
    steps): second readings of the bends crept up to. `drawn` (15,): the B end, its direction, the
    way inward of its bend, that bend's axis, and the B end by these three. `places`
    (p, 5): piece, share, where it is drawn.
    """

    number: Array
    bends: Array
    turned: Array
    second: Array
    drawn: Array
    places: Array


@compiled
def make_pairs(
    number: Array,
    bends: Array,
    turned: Array,
    second: Array,
    drawn: Array,
    places: Array,
    causes: Array,
    out: Array,
    first: int,
) -> None:
    """Make two tubes for each row of causes (N, m), one with all signs turned.

    The first six are a `Shop`, apart because that is quicker to hand over. The tubes' columns in
    `out` are those from `first` on, and those half of its columns further on.
    """
    half = out.shape[1] // 2
    made, off = np.zeros((5, bends.shape[0] + 1)), np.zeros(causes.shape[1])
    for k in range(causes.shape[0]):
        for side in range(2):
            sign = 1.0 - 2.0 * side
            for j in range(off.shape[0]):
                off[j] = sign * causes[k, j]
            make(number, bends, turned, second, off, made)
            _follow(number, bends, made, drawn, places, out, first + k + side * half)


@compiled
def make(
    number: Array, bends: Array, turned: Array, second: Array, off: Array, made: Array
) -> None:
    """Make one tube whose causes are off by so many deviations (m,)."""
    n = bends.shape[0]
    raised = number[LINE] * off[0] + number[LINE + 1] * off[1]
    tilted = number[LINE + 2] * off[0] + number[LINE + 3] * off[1]
    zero = number[ZERO] + raised - tilted * number[CENTRE]
    gives = 1 / (1 + number[SPRINGBACK] + tilted)
    used = (1 - number[STRETCH] - off[3] * number[STRETCHES]) * number[CLR] * DEGREE
    index, ends = off[2] * number[INDEX], 4 + 3 * n
    edge = number[CUT_A] + number[SAWN_A] * off[ends] * number[CUTS]
    for i in range(n):
        _bend(number, bends, second, off, i, zero, gives, made)
        stock = used * made[LOADED, i]
        more = 0.0
        for j in range(turned.shape[1] if i else 0):
            more += turned[i, j] * off[6 + 3 * n + j]
        made[STOCK, i], made[MORE, i] = stock, more
        told = bends[i, MARK] + off[4 + 2 * n + i] * number[MARKS]
        if bends[i, LEAD] > 0:
            start = told + bends[i, TO_BEGIN] + index
        else:
            start = told + bends[i, TO_END] - index - stock
        made[LEGS, i] = start - edge
        edge = start + stock
    made[LEGS, n] = number[CUT_B] + number[SAWN_B] * off[ends + 1] * number[CUTS] - edge


@compiled
def _bend(
    number: Array,
    bends: Array,
    second: Array,
    off: Array,
    i: int,
    zero: float,
    gives: float,
    made: Array,
) -> None:
    """Loaded and free angle of bend i; `gives` degrees are left of each on the die."""
    n, scatters = bends.shape[0], number[SCATTER]
    scatter, stop, place = off[4 + i], off[4 + n + i] * number[STOP], int(bends[i, CREPT])
    if place < 0:
        loaded = bends[i, DIAL] + stop - zero
        angle = (loaded - scatters * scatter) * gives
    else:
        crept, own, odd = second.shape[0], 5 + 4 * n + place, number[ODD]
        common, before = number[COMMON] * scatter, odd * off[own + 2 * crept]
        loaded = bends[i, FIRST] + off[own + crept] * number[STOP] - zero
        angle = (loaded - scatters * (common + before)) * gives
        measured = angle + off[own] * number[PROTRACTOR]
        if measured < bends[i, ASKED]:
            last = second.shape[1] - 1
            along = min(max((measured - bends[i, LEAST]) * bends[i, STEPS], 0.0), float(last))
            low = min(int(along), last - 1)
            reading = second[place, low]
            reading += (along - low) * (second[place, low + 1] - reading)
            on = reading + stop - zero
            taken = (on - scatters * (common + odd * off[own + 3 * crept])) * gives
            # metal is not taken back: a stop that would give less than the first gave leaves it
            if on > loaded and taken > angle:
                loaded, angle = on, taken
    made[LOADED, i], made[FREE, i] = max(loaded, SHALLOWEST), max(angle, SHALLOWEST)


@compiled
def _turn_by(cosine: float, sine: float, more: float) -> tuple[float, float]:
    """Cosine and sine of an angle that is so many degrees more than another, from those of that."""
    by = DEGREE * more
    q = by * by
    if q > NEAR**2:
        c, s = cos(by), sin(by)
    else:
        s = by * (1 - q * (S3 - q * (S5 - q * (S7 - q * (S9 - q * S11)))))
        c = 1 - q * (0.5 - q * (C4 - q * (C6 - q * (C8 - q * C10))))
    return cosine * c - sine * s, sine * c + cosine * s


@compiled
def _follow(
    number: Array,
    bends: Array,
    made: Array,
    drawn: Array,
    places: Array,
    out: Array,
    column: int,
) -> None:
    """Follow a made tube and write where it lands."""
    n, clr, noted = bends.shape[0], number[CLR], places.shape[0] > 0
    px, py, pz = 0.0, 0.0, 0.0
    dx, dy, dz = 1.0, 0.0, 0.0
    ux, uy, uz = 0.0, 1.0, 0.0
    vx, vy, vz = 0.0, 0.0, 1.0
    for i in range(n):
        leg = made[LEGS, i]
        c, s = _turn_by(bends[i, COS_ROTATION], bends[i, SIN_ROTATION], made[MORE, i])
        if noted:
            _note(places, 2 * i, leg, 0.0, (px, py, pz), (dx, dy, dz), (ux, uy, uz), out, column)
        px, py, pz = px + leg * dx, py + leg * dy, pz + leg * dz
        ux, vx = c * ux + s * vx, c * vx - s * ux
        uy, vy = c * uy + s * vy, c * vy - s * uy
        uz, vz = c * uz + s * vz, c * vz - s * uz
        angle = made[FREE, i]
        radius = clr * made[LOADED, i] / angle
        if noted:
            _note(
                places,
                2 * i + 1,
                radius,
                angle,
                (px, py, pz),
                (dx, dy, dz),
                (ux, uy, uz),
                out,
                column,
            )
        c, s = _turn_by(bends[i, COS_ANGLE], bends[i, SIN_ANGLE], angle - bends[i, ANGLE])
        ahead, aside = radius * s, radius * (1 - c)
        px, py, pz = (
            px + ahead * dx + aside * ux,
            py + ahead * dy + aside * uy,
            pz + ahead * dz + aside * uz,
        )
        dx, ux = c * dx + s * ux, c * ux - s * dx
        dy, uy = c * dy + s * uy, c * uy - s * dy
        dz, uz = c * dz + s * uz, c * uz - s * dz
    leg = made[LEGS, n]
    if noted:
        _note(places, 2 * n, leg, 0.0, (px, py, pz), (dx, dy, dz), (ux, uy, uz), out, column)
    at = (px + leg * dx, py + leg * dy, pz + leg * dz)
    _land(drawn, at, (dx, dy, dz), (ux, uy, uz), (vx, vy, vz), out, column)


@compiled
def _land(
    drawn: Array,
    at: tuple[float, float, float],
    d: tuple[float, float, float],
    u: tuple[float, float, float],
    v: tuple[float, float, float],
    out: Array,
    column: int,
) -> None:
    """Write how the ends of a made tube lie to each other, beside how they were drawn."""
    x, y, z = at[0] - drawn[0], at[1] - drawn[1], at[2] - drawn[2]
    out[ENDS, column], out[ENDS + 1, column], out[ENDS + 2, column] = x, y, z
    out[OFF, column] = sqrt(x * x + y * y + z * z)
    out[TURN, column] = _between(d[0] - drawn[3], d[1] - drawn[4], d[2] - drawn[5])
    far = sqrt(at[0] ** 2 + at[1] ** 2 + at[2] ** 2)
    out[APART, column] = far - sqrt(drawn[0] ** 2 + drawn[1] ** 2 + drawn[2] ** 2)
    lean = acos(min(max(drawn[3], -1.0), 1.0))
    out[BETWEEN, column] = (acos(min(max(d[0], -1.0), 1.0)) - lean) / DEGREE
    # the A end as it is seen from the B end
    back = 0.0
    for c, way in enumerate((d, u, v)):
        made_at = way[0] * at[0] + way[1] * at[1] + way[2] * at[2]
        back += (made_at - drawn[12 + c]) ** 2
    out[BACK, column] = sqrt(back)
    out[BACK_TURN, column] = _between(d[0] - drawn[3], u[0] - drawn[6], v[0] - drawn[9])


@compiled
def _between(x: float, y: float, z: float) -> float:
    """Degrees between two directions: half their chord is the sine of half the angle."""
    return 2 * asin(min(sqrt(x * x + y * y + z * z) / 2, 1.0)) / DEGREE


@compiled
def _note(
    places: Array,
    piece: int,
    size: float,
    angle: float,
    at: tuple[float, float, float],
    d: tuple[float, float, float],
    u: tuple[float, float, float],
    out: Array,
    column: int,
) -> None:
    """Write how far the places on a piece lie from where they are drawn."""
    for k in range(places.shape[0]):
        if places[k, 0] != piece:
            continue
        share, total = places[k, 1], 0.0
        if angle > 0:
            turned = DEGREE * share * angle
            ahead, aside = size * sin(turned), size * (1 - cos(turned))
        else:
            ahead, aside = size * share, 0.0
        for c in range(3):
            total += (at[c] + ahead * d[c] + aside * u[c] - places[k, 2 + c]) ** 2
        out[PLACES + k, column] = sqrt(total)
