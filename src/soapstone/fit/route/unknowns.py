"""The numbers the search moves: corners by way of the matrix that keeps fixed directions fixed."""

from dataclasses import dataclass

import numpy as np

from soapstone.fit.route.polyline import ANY, CONE, FIXED, FREE, Task
from soapstone.fit.route.problem import End, RouteProblem
from soapstone.geometry.vectors import Array, unit

FIXED_WITHIN = 0.05
"""Degrees: an end that may lean less than this is taken as fixed."""

ANGLE_INSIDE = 0.02
"""Degrees by which the limits of bend angles are drawn in, so that the result keeps them."""

STRAIGHT_INSIDE = 0.01
"""mm by which least straights are raised, for the same reason."""


WIDEST = 172.0
"""Degrees: the widest bend looked for; the legs of a wider one meet too far off."""

SELF_GAP = 0.1
"""mm that a tube keeps from itself."""


@dataclass(frozen=True, slots=True)
class Unknowns:
    """Corners of k bends from n unknowns: inner corners = base + y @ spread, flattened.

    `base` (3k,), `spread` (n, 3k) with orthonormal rows.
    """

    base: Array
    spread: Array

    @property
    def bends(self) -> int:
        """Number of bends."""
        return len(self.base) // 3

    def corners(self, y: Array) -> Array:
        """Inner corners (..., k, 3) of unknowns (..., n)."""
        flat = self.base + y @ self.spread
        return flat.reshape(*y.shape[:-1], self.bends, 3)

    def nearest(self, corners: Array) -> Array:
        """Unknowns (..., n) whose corners come nearest to inner corners (..., k, 3)."""
        flat = corners.reshape(*corners.shape[:-2], -1)
        result: Array = np.ascontiguousarray((flat - self.base) @ self.spread.T)
        return result


def mode(end: End) -> int:
    """Whether a direction is free, fixed, or held in a cone."""
    if end.along is None or end.within >= 180.0:
        return FREE
    return FIXED if end.within < FIXED_WITHIN else CONE


def unknowns(problem: RouteProblem, bends: int) -> Unknowns:
    """Unknowns of a tube with so many bends; None of its directions is broken by any y.

    One bend between two fixed directions has none: that case is solved exactly elsewhere.
    """
    base = np.zeros(3 * bends)
    rows = []
    for i in range(bends):
        if i == 0 and mode(problem.start) == FIXED:
            base[:3] = problem.start.at
            rows.append(_line(bends, i, problem.start))
        elif i == bends - 1 and mode(problem.end) == FIXED:
            base[-3:] = problem.end.at
            rows.append(_line(bends, i, problem.end))
        else:
            block = np.zeros((3, 3 * bends))
            block[:, 3 * i : 3 * i + 3] = np.eye(3)
            rows.append(block)
    return Unknowns(base, np.concatenate(rows) if rows else np.zeros((0, 0)))


def _line(bends: int, i: int, end: End) -> Array:
    row = np.zeros((1, 3 * bends))
    row[0, 3 * i : 3 * i + 3] = unit(np.array(end.along, dtype=float))
    return row


def build_task(problem: RouteProblem, unknown: Unknowns) -> Task:
    """Numbers of the problem for the compiled search, each limit drawn in by a hair."""
    low, high = problem.angles
    low = low + ANGLE_INSIDE
    high = max(min(high, WIDEST) - ANGLE_INSIDE, low)
    number = np.array(
        [
            problem.clr,
            problem.min_first + STRAIGHT_INSIDE,
            problem.min_straight + STRAIGHT_INSIDE,
            problem.min_last + STRAIGHT_INSIDE,
            np.radians(low),
            np.radians(high),
            problem.od + SELF_GAP,
            0.0,
            0.0,
        ]
    )
    ends = np.zeros((2, 8))
    for row, end in zip(ends, (problem.start, problem.end), strict=True):
        row[0] = mode(end)
        if end.along is not None:
            row[1:4] = unit(np.array(end.along, dtype=float))
        row[4] = np.radians(max(end.within - ANGLE_INSIDE, 0.0))
        row[5:8] = end.at
    via = np.array([[*v.at, max(v.within - STRAIGHT_INSIDE, 0.0)] for v in problem.through])
    spread = np.concatenate([unknown.spread, unknown.base[None]])
    aim = np.full((unknown.bends, 2), ANY)
    return Task(number, ends, via.reshape(-1, 4), spread, aim, np.zeros(len(unknown.spread)))
