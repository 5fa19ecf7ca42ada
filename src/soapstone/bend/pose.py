"""Where the tube lies in the bender: its lead and its tail, as the die starts to turn.

Machine frame: origin on the tube's centreline where the bend starts, x to the tail, z up. The die
turns about an axis square to x at its centreline radius from the origin. The lead end swings with
it; the tail stays in line with x, and is drawn up to the die by the stock that the bend uses. Bends
made before have their free shape; where a bend is not made yet the tube is straight.
"""

from collections.abc import Collection
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Array, Vec3
from soapstone.plan.model import TubePlan

SIDES: dict[str, Vec3] = {
    "left": (0.0, -1.0, 0.0),
    "right": (0.0, 1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
"""Unit vector toward the die's centre, in the machine frame, by where the lead end swings."""


@dataclass(frozen=True, slots=True)
class Stick:
    """A tube as a bender sees it; one entry a bend, from A to B. Lengths in mm, angles in degrees.

    `arc_from` and `arc_to` are where the bends' stock lies, from the stock's A end. `angles` and
    `radii` are of the released bends, `loaded` the angles held on the die; `rotations` as those of
    a `Centreline`.
    """

    stock: float
    arc_from: tuple[float, ...]
    arc_to: tuple[float, ...]
    angles: tuple[float, ...]
    loaded: tuple[float, ...]
    rotations: tuple[float, ...]
    radii: tuple[float, ...]

    def used(self, n: int) -> float:
        """Stock in mm that bend `n` uses, counted from 1 at the A end."""
        return self.arc_to[n - 1] - self.arc_from[n - 1]


def stick_of(plan: TubePlan) -> Stick:
    """Give the stick of a planned tube, whatever the order of its steps."""
    steps = sorted(plan.bends, key=lambda step: step.n)
    return Stick(
        stock=plan.stock,
        arc_from=tuple(step.arc_from for step in steps),
        arc_to=tuple(step.arc_to for step in steps),
        angles=tuple(step.angle for step in steps),
        loaded=tuple(step.loaded for step in steps),
        rotations=plan.shape.rotations,
        radii=plan.shape.radii,
    )


def swing_axis(side: Vec3) -> Array:
    """Give the axis about which a right-handed turn takes the lead end round the die."""
    return np.array([0.0, side[2], -side[1]])  # -x cross side


@dataclass(frozen=True, slots=True)
class Lie:
    """The tube loaded for a bend, before the die turns, as two lines in the machine frame.

    `lead` goes from the origin to the end that leads; `tail` from where the bend's stock ends, on
    the x axis, to the other end.
    """

    lead: Centreline
    tail: Centreline


def lie(stick: Stick, made: Collection[int], n: int, lead: str, side: Vec3) -> Lie:
    """Lay a tube in the bender for bend `n`, rolled so that the bend turns to `side`.

    `made` are the numbers of the bends made before; `lead` is "A" or "B".
    """
    return Lie(lead_line(stick, made, n, lead, side), tail_line(stick, made, n, lead, side))


def beyond(made: Collection[int], n: int, end: str) -> tuple[int, ...]:
    """Give the bends made between bend `n` and the end named, as they come from bend `n`."""
    if end == "A":
        return tuple(sorted((m for m in made if m < n), reverse=True))
    return tuple(sorted(m for m in made if m > n))


def other_end(end: str) -> str:
    """Give "B" for "A" and "A" for "B"."""
    return "B" if end == "A" else "A"


def lead_line(stick: Stick, made: Collection[int], n: int, lead: str, side: Vec3) -> Centreline:
    """Lay the lead end, as in `lie`; bends on the other side of bend `n` make no difference."""
    return _line(stick, n, beyond(made, n, lead), _left(stick, n, lead), 0.0, -1.0, side)


def tail_line(stick: Stick, made: Collection[int], n: int, lead: str, side: Vec3) -> Centreline:
    """Lay the tail, as in `lie`; bends on the other side of bend `n` make no difference."""
    end = other_end(lead)
    return _line(stick, n, beyond(made, n, end), _left(stick, n, end), stick.used(n), 1.0, side)


def _left(stick: Stick, n: int, end: str) -> float:
    """Stock in mm between bend `n` and an end."""
    return stick.arc_from[n - 1] if end == "A" else stick.stock - stick.arc_to[n - 1]


def _line(
    stick: Stick, n: int, bends: tuple[int, ...], length: float, at: float, way: float, side: Vec3
) -> Centreline:
    """Give one end of the tube from x = `at` on, along x times `way`; `bends` as they come."""
    rotations, legs = [], []
    place, before = 0.0, n
    for m in bends:
        rotations.append(rotation_between(stick, before, m))
        first = stick.arc_from[m - 1] - stick.arc_to[n - 1]
        if m < n:
            first = stick.arc_from[n - 1] - stick.arc_to[m - 1]
        legs.append(first - place)
        place, before = first + stick.used(m), m
    legs.append(length - place)
    up = side
    if rotations:
        turned = way * radians(rotations[0])
        _, y, z = side
        up = (0.0, y * cos(turned) - z * sin(turned), z * cos(turned) + y * sin(turned))
        rotations[0] = 0.0
    kept = [m - 1 for m in bends]
    return Centreline(
        start=(at, 0.0, 0.0),
        along=(way, 0.0, 0.0),
        up=up,
        legs=tuple(legs),
        angles=tuple(stick.angles[i] for i in kept),
        rotations=tuple(rotations),
        radii=tuple(stick.radii[i] for i in kept),
    )


def rotation_between(stick: Stick, one: int, other: int) -> float:
    """Degrees from the plane of one bend to another's, about the travel from the one to the other.

    The tube between them being straight. It is the same either way: both the turn and the travel
    that it is seen along are the other way about.
    """
    low, high = min(one, other), max(one, other)
    return sum(stick.rotations[low:high])


def has_beyond(line: Centreline, length: float) -> bool:
    """Whether anything of a line is left when the first `length` mm of its first leg are held."""
    return len(line.legs) > 1 or length < line.legs[0]


def trimmed(line: Centreline, length: float) -> Centreline | None:
    """Leave out the first `length` mm of a line's first leg, or all of that leg if it is shorter.

    None when nothing is left.
    """
    off = min(length, line.legs[0])
    if not has_beyond(line, length):
        return None
    (x, y, z), (i, j, k) = line.start, line.along
    return Centreline(
        start=(x + off * i, y + off * j, z + off * k),
        along=line.along,
        up=line.up,
        legs=(line.legs[0] - off, *line.legs[1:]),
        angles=line.angles,
        rotations=line.rotations,
        radii=line.radii,
    )
