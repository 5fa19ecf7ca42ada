"""Small errors carried through the chain: first derivatives by every cause of error."""

from dataclasses import dataclass

import numpy as np

from soapstone.check.making import Making, steps
from soapstone.geometry.centreline import Walk
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, angle_between, norm

HOLDING = (0.0, 1.95996, 2.44775, 2.79548)
"""Deviations that hold 19 in 20 in so many directions: roots of chi-square's 95 % quantiles."""

FLAT = 1e-6
"""A direction with less of the greatest spread than this is one of rounding, not of errors."""


@dataclass(frozen=True, slots=True)
class Slopes:
    """Derivatives by the m causes, each per standard deviation.

    `ends` (m, 3) of the B end in mm and `turns` (m, 3) of the last leg's direction, with the A end
    held; `apart` (m,) of the ends' distance in mm; `between` (m,) of the angle between the end legs
    in degrees. `offset` (3,) is the B end as made when no cause is off, less as drawn.
    """

    ends: Array
    turns: Array
    apart: Array
    between: Array
    offset: Array

    @property
    def mean_square(self) -> float:
        """Mean square of the B end's distance from where it is drawn, mm2."""
        return float((self.ends**2).sum() + (self.offset**2).sum())


def slopes(making: Making) -> Slopes:
    """Differentiate the made tube by its causes of error, by central differences."""
    size = 1e-4
    line = making.plan.shape
    here = making.made(np.zeros(len(making.causes))).walk(line)
    up, down = (making.made(side).walk(line) for side in steps(np.zeros(len(making.causes)), size))

    def slope(seen: Array, other: Array) -> Array:
        result: Array = (seen - other) / (2 * size)
        return result

    return Slopes(
        slope(up.nodes[..., -1, :], down.nodes[..., -1, :]),
        slope(up.directions[..., -1, :], down.directions[..., -1, :]),
        slope(chord(up), chord(down)),
        slope(between_legs(up), between_legs(down)),
        here.nodes[..., -1, :] - walk(line).nodes[-1],
    )


def chord(way: Walk) -> Array:
    """Distance in mm between the ends of tubes."""
    return norm(way.nodes[..., -1, :] - way.nodes[..., 0, :])


def between_legs(way: Walk) -> Array:
    """Angle in degrees between the directions of the first and the last leg."""
    return angle_between(way.directions[..., 0, :], way.directions[..., -1, :])


def ellipsoid(covariance: Array) -> tuple[Array, Array]:
    """Half axes (3,) in mm, longest first, and directions (3, 3) in rows, of a spread (3, 3).

    It holds 19 ends in 20, whether they spread in space, in a plane or along a line: the square of
    a normal error's distance in its own deviations is chi-square, of as many degrees of freedom as
    the spread has directions.
    """
    values, ways = np.linalg.eigh(covariance)
    order = np.argsort(values)[::-1]
    sizes = np.sqrt(np.maximum(values[order], 0.0))
    rank = int(np.count_nonzero(sizes > FLAT * sizes[0]))
    return HOLDING[rank] * sizes, ways.T[order]
