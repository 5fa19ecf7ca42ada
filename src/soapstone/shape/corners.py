"""From corners to a centreline: tangents taken off the legs, impossible shapes explained."""

from collections.abc import Sequence

import numpy as np

from soapstone.findings import Finding, Say, say_mm
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import STRAIGHT_BELOW, Turns, tangent_length, turns
from soapstone.geometry.vectors import Array, Vec3

DOUBLED_BACK_ABOVE = 179.9
"""Degrees: a corner sharper than this comes back on itself, and no bend of any radius fits it."""

TOUCHING = 1e-6
"""Length in mm below which two corners are one, and a straight counts as none."""


def line_from_corners(
    name: str, points: Sequence[Vec3], radius: float, say: Say = say_mm
) -> tuple[Centreline | None, tuple[Finding, ...]]:
    """Give the centreline through corners (ends included) with bends of the one radius, in mm.

    Without a centreline the findings name every corner at fault and the amount missing.
    """
    at = np.array(points, dtype=float)
    turned = turns(at)
    faults = [*_touching(name, turned), *_unbendable(name, turned)]
    if faults:
        return None, tuple(faults)
    angles = turned.angles
    tangents = tangent_length(np.full_like(angles, radius), angles)
    legs = turned.lengths.copy()
    legs[:-1] -= tangents
    legs[1:] -= tangents
    faults = _overlaps(name, turned, legs, say)
    if faults:
        return None, tuple(faults)
    line = Centreline(
        start=vec(at[0]),
        along=vec(turned.along),
        up=vec(turned.up),
        legs=tuple(np.maximum(legs, 0.0).tolist()),
        angles=tuple(angles.tolist()),
        rotations=tuple(turned.rotations.tolist()),
        radii=(float(radius),) * len(angles),
    )
    return line, ()


def _touching(name: str, turned: Turns) -> list[Finding]:
    return [
        Finding(
            "stop",
            f"{name}, point {i + 1} and {i + 2}",
            "the two points are the same place",
            "take one of them out",
        )
        for i in np.flatnonzero(turned.lengths <= TOUCHING)
    ]


def _unbendable(name: str, turned: Turns) -> list[Finding]:
    """Corners that turn by nothing or come straight back, where both their legs have a length."""
    real = turned.lengths > TOUCHING
    faults = []
    for i in np.flatnonzero(real[:-1] & real[1:]):
        where, angle = f"{name}, point {i + 2}", float(turned.angles[i])
        if angle < STRAIGHT_BELOW:
            faults.append(
                Finding("stop", where, "the tube goes straight through it", "take this point out")
            )
        elif angle > DOUBLED_BACK_ABOVE:
            faults.append(
                Finding(
                    "stop",
                    where,
                    f"the tube doubles back on itself ({angle:.2f}°)",
                    "draw it as two corners, or by legs and angles",
                )
            )
    return faults


def _overlaps(name: str, turned: Turns, legs: Array, say: Say) -> list[Finding]:
    """Legs between corners too short for the bends at their two ends."""
    faults = []
    last = len(legs) - 1
    for i in np.flatnonzero(legs < -TOUCHING):
        there, missing = float(turned.lengths[i]), -float(legs[i])
        need = say(there + missing)
        if i == 0:
            what = f"the bend at point 2 needs {need} before it"
        elif i == last:
            what = f"the bend at point {last + 1} needs {need} after it"
        else:
            what = f"the bends at its two ends need {need} between their corners"
        faults.append(
            Finding(
                "stop",
                f"{name}, point {i + 1} to {i + 2}",
                f"{what}, there is {say(there)}: {say(missing)} missing",
                "move the points apart, flatten the bends, or take a die of smaller radius",
            )
        )
    return faults
