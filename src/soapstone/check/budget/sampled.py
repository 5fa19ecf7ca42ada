"""A tube made a million times over, each time a little differently; compiled."""

from math import acos, cos, hypot, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from soapstone.check.making import Making
from soapstone.geometry.chain import walk
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

AT_ONCE = 5_000
"""Tubes made at once: as many as fit where the processor reaches quickly."""


class Landings(NamedTuple):
    """Where made tubes land: (N,) each, `ends` (3, N). mm and degrees, as `Budget` says.

    `off` how far the B end is from where it is drawn, `turn` how far its last leg is turned,
    `apart` the ends' distance less as drawn, `between` the angle between end legs less as drawn,
    `ends` the B ends less where it is drawn.
    """

    off: Array
    turn: Array
    apart: Array
    between: Array
    ends: Array


def landings(making: Making, count: int, seed: int) -> Landings:
    """Make a tube `count` times, with normal errors, and say where each lands.

    Errors come in pairs of opposite sign, so that what is odd in them cancels in every mean.
    """
    rng = np.random.default_rng(seed)
    half = (count + 1) // 2
    out = np.empty((7, 2 * half))
    drawn = _drawn_end(making)
    scattered = [place for place, cause in enumerate(making.causes) if "scatter" in cause.kind]
    for low in range(0, half, AT_ONCE):
        many = min(AT_ONCE, half - low)
        causes: Array = rng.standard_normal((many, len(making.causes)))
        causes[:, scattered] *= _scatters(making, many, rng)[:, None]
        for sign, first in ((1.0, low), (-1.0, half + low)):
            made = making.made(sign * causes)
            _walk_all(
                made.legs,
                np.radians(made.angles),
                np.radians(made.rotations),
                made.radii,
                drawn,
                out[:, first : first + many],
            )
    off, turn, apart, between = out[:4, :count]
    return Landings(off, turn, apart, between, _frame(making).T @ out[4:, :count])


def _frame(making: Making) -> Array:
    """(3, 3): in rows, the drawn tube's way out at A, the side it bends to, and their cross."""
    way = walk(making.plan.shape)
    along, axis = way.directions[0], way.axes[0]
    return np.stack((along, np.cross(axis, along), axis))


def _scatters(making: Making, many: int, rng: np.random.Generator) -> Array:
    """Draw how much wider or narrower than usual bends scatter, (many,): trials leave it open.

    All bends of a tube share it.
    """
    belief = making.plan.setup.calibration.belief
    usual = sqrt(float(belief.weight @ belief.sigma**2))
    drawn: Array = rng.choice(belief.sigma, size=many, p=belief.weight / belief.weight.sum())
    return drawn / usual


def _drawn_end(making: Making) -> Array:
    """Place and direction (6,) of the B end as drawn, seen from the A end."""
    shape = making.plan.shape
    columns = (shape.legs, np.radians(shape.angles), np.radians(shape.rotations), shape.radii)
    legs, angles, rotations, radii = (np.array(column, dtype=float) for column in columns)
    end = np.empty(6)
    _end(legs, angles, rotations, radii, len(angles), end)
    return end


@compiled
def _end(
    legs: Array, angles_rad: Array, rotations_rad: Array, radii: Array, n: int, out: Array
) -> None:
    """Follow one chain that sets out along x and bends toward y; place and direction of its end."""
    px, py, pz = 0.0, 0.0, 0.0
    dx, dy, dz = 1.0, 0.0, 0.0
    ux, uy, uz = 0.0, 1.0, 0.0
    vx, vy, vz = 0.0, 0.0, 1.0
    for i in range(n):
        px, py, pz = px + legs[i] * dx, py + legs[i] * dy, pz + legs[i] * dz
        c, s = cos(rotations_rad[i]), sin(rotations_rad[i])
        ux, vx = c * ux + s * vx, c * vx - s * ux
        uy, vy = c * uy + s * vy, c * vy - s * uy
        uz, vz = c * uz + s * vz, c * vz - s * uz
        c, s, r = cos(angles_rad[i]), sin(angles_rad[i]), radii[i]
        ahead, aside = r * s, r * (1 - c)
        px, py, pz = (
            px + ahead * dx + aside * ux,
            py + ahead * dy + aside * uy,
            (pz + ahead * dz + aside * uz),
        )
        dx, ux = c * dx + s * ux, c * ux - s * dx
        dy, uy = c * dy + s * uy, c * uy - s * dy
        dz, uz = c * dz + s * uz, c * uz - s * dz
    out[0], out[1], out[2] = px + legs[n] * dx, py + legs[n] * dy, pz + legs[n] * dz
    out[3], out[4], out[5] = dx, dy, dz


@compiled
def _walk_all(
    legs: Array,
    angles_rad: Array,
    rotations_rad: Array,
    radii: Array,
    end: Array,
    out: Array,
) -> None:
    """Write `Landings` of chains (N, n): four rows, and the ends as the chain sets out."""
    n = angles_rad.shape[1]
    made = np.empty(6)
    chord = sqrt(end[0] ** 2 + end[1] ** 2 + end[2] ** 2)
    lean = acos(min(max(end[3], -1.0), 1.0))
    for k in range(len(legs)):
        _end(legs[k], angles_rad[k], rotations_rad[k], radii[k], n, made)
        x, y, z = made[0] - end[0], made[1] - end[1], made[2] - end[2]
        out[4, k], out[5, k], out[6, k] = x, y, z
        out[0, k] = sqrt(x * x + y * y + z * z)
        # half the chord between unit directions is the sine of half the angle
        tip = hypot(hypot(made[3] - end[3], made[4] - end[4]), made[5] - end[5])
        out[1, k] = 2 * np.arcsin(min(tip / 2, 1.0)) * 180 / pi
        out[2, k] = sqrt(made[0] ** 2 + made[1] ** 2 + made[2] ** 2) - chord
        out[3, k] = (acos(min(max(made[3], -1.0), 1.0)) - lean) * 180 / pi
