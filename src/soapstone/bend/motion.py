"""The tube in the bender part way through a bend, to draw it: lead, what is bent, and tail.

Machine frame, as in `bend.pose`. The lead turns with the die; the tail is drawn up to it by the
stock that the bend has used so far.
"""

from collections.abc import Collection
from dataclasses import dataclass
from math import radians

import numpy as np

from soapstone.bend.machine import Machine
from soapstone.bend.pose import Stick, lie, swing_axis
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, walk
from soapstone.geometry.vectors import Array, turn

ARC_STEP = 6.0
"""Degrees between the points that a bend is drawn through."""


@dataclass(frozen=True, slots=True)
class Pose:
    """Points (m, 3) in mm of a tube's parts, each with the bend that it is, 0 for a straight."""

    parts: tuple[tuple[int, Array], ...]


def pose_at(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine, turned: float
) -> Pose:
    """Lay a tube as it is when the die has turned so many degrees into bend `n`.

    Parameters
    ----------
    made
        The bends made before.
    n, lead
        The bend, counted from 1 at the A end, and the end that leads, "A" or "B".
    turned
        Degrees, from 0 to the angle held on the die.
    """
    lies = lie(stick, made, n, lead, where.side)
    axis, centre = swing_axis(where.side), where.centre
    share = turned / stick.loaded[n - 1] if stick.loaded[n - 1] else 0.0
    turned_rad = np.float64(radians(turned))
    beyond = _bends_beyond(made, n, lead)
    ahead = [
        (bend, turn(points - centre, axis, turned_rad) + centre)
        for bend, points in _parts(lies.lead, beyond[0])
    ]
    spokes = np.radians(np.linspace(0.0, turned, max(2, int(turned / ARC_STEP) + 2)))
    arc = turn(-centre, axis, spokes) + centre
    left = stick.used(n) * (1 - share)
    shift = np.array([stick.used(n) - left, 0.0, 0.0])
    rest = [(0, np.array([[0.0, 0.0, 0.0], [left, 0.0, 0.0]]))] if left > 0 else []
    behind = [(bend, points - shift) for bend, points in _parts(lies.tail, beyond[1])]
    bent = [(n, arc)] if turned > 0 else []
    return Pose((*ahead, *bent, *rest, *behind))


def _bends_beyond(made: Collection[int], n: int, lead: str) -> tuple[list[int], list[int]]:
    below = sorted((m for m in made if m < n), reverse=True)
    above = sorted(m for m in made if m > n)
    return (below, above) if lead == "A" else (above, below)


def _parts(line: Centreline, bends: list[int]) -> list[tuple[int, Array]]:
    """Give the straights and bends of a line, each bend with its number."""
    way = walk(line)
    parts: list[tuple[int, Array]] = []
    for i in range(len(line.legs)):
        parts.append((0, way.nodes[2 * i : 2 * i + 2]))
        if i < len(line.angles):
            count = max(2, int(np.ceil(line.angles[i] / ARC_STEP)) + 1)
            angles = np.radians(np.linspace(0.0, line.angles[i], count))
            parts.append((bends[i], arc_points(way, i, angles)))
    return parts
