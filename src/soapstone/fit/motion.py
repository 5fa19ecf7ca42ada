"""How keep-outs move: on hinges, one or several, applied first to last.

A hinge turns the solid right-handed about a line that stays where it is drawn; 0 degrees is as
drawn. With several, the first turns the drawn solid, the second what came of that, and so on:
for a motor that steers on a bracket that tilts, the steering comes first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import isfinite

import numpy as np

from soapstone.geometry.vectors import Array, Vec3, norm, turn, unit

MOST_HINGES = 8


@dataclass(frozen=True, slots=True)
class Hinge:
    """A swing from `start` to `stop` degrees, right-handed about `along` through a point.

    `start` and `stop` in either order.
    """

    through: Vec3
    along: Vec3
    start: float
    stop: float

    def __post_init__(self) -> None:
        """Refuse an axis without direction and numbers that are none."""
        numbers = (*self.through, *self.along, self.start, self.stop)
        if len(numbers) != 8 or not all(isfinite(number) for number in numbers):
            raise ValueError("a hinge is given by numbers, none of them infinite")
        if not norm(np.array(self.along, dtype=float)) > 0:
            raise ValueError("a hinge's axis must have a direction")


def hinge_rows(hinges: Sequence[Hinge]) -> Array:
    """Hinges (k, 8) as the search takes them: point, unit direction, least and greatest radians."""
    if len(hinges) > MOST_HINGES:
        raise ValueError(f"a keep-out moves on at most {MOST_HINGES} hinges")
    rows = np.empty((len(hinges), 8))
    for row, hinge in zip(rows, hinges, strict=True):
        row[:3], row[3:6] = hinge.through, unit(np.array(hinge.along, dtype=float))
        row[6:] = np.radians(sorted((hinge.start, hinge.stop)))
    return rows


def swung(points: Array, hinges: Sequence[Hinge], angles: Sequence[float]) -> Array:
    """Points (..., 3) of a drawn solid when its hinges stand at `angles` degrees."""
    for hinge, angle in zip(hinges, angles, strict=True):
        through, along = np.array(hinge.through, dtype=float), np.array(hinge.along, dtype=float)
        points = through + turn(points - through, unit(along), np.radians(np.float64(angle)))
    return points


def combinations(hinges: Sequence[Hinge], step: float) -> Array:
    """Angles (m, k) in degrees over the whole travel, at most `step` apart, ends included."""
    ranges = []
    for hinge in hinges:
        count = int(np.ceil(abs(hinge.stop - hinge.start) / step))
        ranges.append(np.linspace(hinge.start, hinge.stop, count + 1))
    found = list(product(*ranges))
    return np.array(found, dtype=float).reshape(len(found), len(hinges))


def poses(hinges: Sequence[Hinge], angles: Array) -> Array:
    """Give maps (m, 12) of points as seen from the solid at each row of `angles` (m, k), degrees.

    Rows of a matrix A, then b: a point p of the world is at A p + b in the solid's drawn pose.
    """
    result = np.empty((len(angles), 12))
    for row, at in zip(result, angles, strict=True):
        origin = swung(np.zeros(3), hinges, list(at))
        axes = swung(np.eye(3), hinges, list(at)) - origin
        # `axes` has the turned x, y, z as its rows, so it is the turning's inverse as a matrix
        row[:9], row[9:] = axes.ravel(), -axes @ origin
    return result
