"""Hinges that need no search of their own.

The first hinges of a round solid may only turn it on the spot, and hinges that follow each other
about one line act as one with the sum of their angles. Either would have the search go through
angles that all give the same distance.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.distance_cells import Target
from soapstone.geometry.distance_kernels import BALL, BOX, HALFSPACE, TRIANGLES
from soapstone.geometry.vectors import Array, cross, dot, norm

SAME = 1e-9
"""mm, and at a metre's distance: lines this near to each other are one."""


@dataclass(frozen=True, slots=True, eq=False)
class FewerHinges:
    """Hinges that move a solid through the same places as more of them did.

    Attributes
    ----------
    rows
        (k, 8): as the search takes them.
    all_rows
        (n, 8): the hinges that were given.
    parts
        For each row of `rows` those of `all_rows` that it stands for, and whether they turn the
        same way (1) or the other (-1). A hinge in none of them stands wherever it likes.
    """

    rows: Array
    all_rows: Array
    parts: tuple[tuple[tuple[int, float], ...], ...]

    def all_angles(self, angles_rad: Array) -> tuple[float, ...]:
        """Give angles of all hinges that bring the solid where `angles_rad` (k,) of `rows` do."""
        found = np.clip(0.0, self.all_rows[:, 6], self.all_rows[:, 7])
        for part, row, angle in zip(self.parts, self.rows, angles_rad, strict=True):
            left = angle - row[6]
            for index, way in part:
                low, high = self.all_rows[index, 6:]
                step = min(left, high - low)
                found[index] = low + step if way > 0 else high - step
                left -= step
        return tuple(float(angle) for angle in found)


def fewer_hinges(target: Target, hinges: Array) -> FewerHinges:
    """Leave out hinges (n, 8) that only turn the solid on the spot, and join those of one line."""
    rows = list[Array]()
    parts = list[list[tuple[int, float]]]()
    for index in range(_idle(target, hinges), len(hinges)):
        hinge = hinges[index]
        if rows and _one_line(rows[-1][:3], rows[-1][3:6], hinge):
            way = float(np.sign(dot(rows[-1][3:6], hinge[3:6])))
            rows[-1][6:] += hinge[6:] if way > 0 else -hinge[:5:-1]
            parts[-1].append((index, way))
        else:
            rows.append(hinge.copy())
            parts.append([(index, 1.0)])
    return FewerHinges(
        np.array(rows, dtype=float).reshape(-1, 8), hinges, tuple(tuple(part) for part in parts)
    )


def _one_line(point: Array, along: Array, hinge: Array) -> bool:
    return bool(
        norm(cross(along, hinge[3:6])) <= SAME / 1e3
        and norm(cross(point - hinge[:3], hinge[3:6])) <= SAME
    )


def _idle(target: Target, hinges: Array) -> int:
    """How many hinges, from the first, turn a round solid on the spot, or a plane in itself."""
    if target.kind in (BOX, TRIANGLES):
        return 0
    centre, axis = target.shape[:3], target.shape[9:12]
    for count, hinge in enumerate(hinges):
        point = hinge[:3] if target.kind == HALFSPACE else centre
        along = hinge[3:6] if target.kind == BALL else axis
        if not _one_line(point, along, hinge):
            return count
    return len(hinges)
