"""What may pass of a made tube: the user's own figures, ISO 13920, or the bench's tolerance."""

from dataclasses import dataclass

import numpy as np

from soapstone.check.inspect.model import ToleranceTable
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import norm
from soapstone.plan.model import TubePlan

ROLL_TO_ANGLE = 2.0
"""A roll may be off by this many times what an angle may. Common practice."""

ISO_LENGTHS = (30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0, 8000.0, 12000.0, 16000.0, 20000.0)
"""mm: the ends of the ranges of ISO 13920:1996, table 1; longer is a range of its own."""

ISO_LINEAR = {
    "A": (1, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9),
    "B": (1, 2, 2, 3, 4, 6, 8, 10, 12, 14, 16),
    "C": (1, 3, 4, 6, 8, 11, 14, 18, 21, 24, 27),
    "D": (1, 4, 7, 9, 12, 16, 21, 27, 32, 36, 40),
}
"""mm, plus and minus, by class and range of length: ISO 13920:1996, table 1."""

ISO_ANGULAR = {"A": (20, 15, 10), "B": (45, 30, 20), "C": (60, 45, 30), "D": (90, 75, 60)}
"""Minutes of arc by class, for a shorter leg up to 400, to 1000 and beyond: the same, table 2."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What each number of a tube may be off by: legs (n + 1) mm, angles and rotations (n) degrees.

    `ends` is for where the B end is when the A end is laid right, mm; `source` says where they are
    from.
    """

    legs: tuple[float, ...]
    angles: tuple[float, ...]
    rotations: tuple[float, ...]
    ends: float
    source: str


def limits_for(plan: TubePlan, wish: ToleranceTable) -> Limits:
    """Give the limits for a tube: what the user says, else the class, else the bench's angle.

    Lengths without a figure of their own are held to class B, as is common for welded frames. Legs
    are ranged by their straight length, the ends by their distance.
    """
    shape = plan.shape
    grade = wish.iso_13920
    nodes = walk(shape).nodes
    apart = float(norm(nodes[-1] - nodes[0]))
    shorter = [min(pair) for pair in zip(shape.legs[:-1], shape.legs[1:], strict=True)]
    usual = plan.setup.tolerance
    angles = [iso_angle(grade, leg) if grade else usual for leg in shorter]
    rolls = angles if grade else [ROLL_TO_ANGLE * usual] * len(angles)
    n = len(angles)
    return Limits(
        legs=tuple(wish.length or iso_length(grade or "B", leg) for leg in shape.legs),
        angles=tuple(angles) if wish.angle is None else (wish.angle,) * n,
        rotations=tuple(rolls) if wish.rotation is None else (wish.rotation,) * n,
        ends=wish.ends or iso_length(grade or "B", apart),
        source=f"ISO 13920 class {grade}" if grade else "the bench; lengths ISO 13920 class B",
    )


def iso_length(grade: str, length: float) -> float:
    """Plus and minus of a length in mm: ISO 13920:1996, table 1."""
    return float(ISO_LINEAR[grade][int(np.searchsorted(ISO_LENGTHS, length))])


def iso_angle(grade: str, shorter_leg: float) -> float:
    """Plus and minus of an angle in degrees, by its shorter leg in mm: ISO 13920:1996, table 2."""
    return ISO_ANGULAR[grade][int(np.searchsorted((400.0, 1000.0), shorter_leg))] / 60
