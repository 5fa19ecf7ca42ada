"""Common bent tubes from the few numbers that one measures, each a pure function.

A shape is given by its corners: where the centrelines of its legs meet, both ends included. What
is measured outside to outside is the tube's outside, and heights over an obstacle are those of the
tube itself, not of a corner that no metal reaches.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain
from typing import TypeAlias

from soapstone.findings import Finding, Say, say_mm
from soapstone.geometry.vectors import Vec3

Corners: TypeAlias = tuple[Vec3, ...]

S_UP_TO = 90.0
"""Degrees: an S whose arcs turned farther would come back over itself."""

_TOUCHING = 1e-9  # mm


@dataclass(frozen=True, slots=True)
class Bent:
    """What a shape is bent from: outside diameter and centreline radius after release, in mm.

    `say` writes lengths for the findings.
    """

    od: float
    clr: float
    say: Say = say_mm

    def tangent(self, angle: float) -> float:
        """Length in mm that a bend of so many degrees takes of each leg, up to the corner."""
        return self.clr * math.tan(math.radians(angle) / 2)


@dataclass(frozen=True, slots=True)
class StarterShape:
    """Corners in mm, both ends included; none when the numbers cannot be had, and findings why."""

    points: Corners
    findings: tuple[Finding, ...] = ()


def hoop(tube: Bent, width: float, height: float) -> StarterShape:
    """Two uprights and a top, square to each other, standing on z = 0 across y.

    `width` outside to outside, `height` from the feet to the top of the tube.
    """
    short = partial(_short, "hoop", tube)
    half, top = (width - tube.od) / 2, height - tube.od / 2
    return _shape(
        (
            short("width", width, tube.od + 2 * tube.clr, "two bends of 90° and the tube take"),
            short("height", height, tube.od / 2 + tube.clr, "a bend of 90° and half the tube take"),
        ),
        ((0, -half, 0), (0, -half, top), (0, half, top), (0, half, 0)),
    )


def leaning_u(tube: Bent, width: float, height: float, lean: float, back: float) -> StarterShape:
    """Two legs that lean in and a top, the whole leaning back; standing on z = 0 across y.

    Parameters
    ----------
    tube
        What it is bent from.
    width
        Outside to outside along the floor.
    height
        Plumb from the floor to the top of the tube.
    lean
        Degrees by which each leg leans in, seen square to the U; out when negative.
    back
        Degrees by which the U leans back, toward -x.
    """
    short = partial(_short, "leaning u", tube)
    inward, back_rad = math.tan(math.radians(lean)), math.radians(back)
    top = height - tube.od / 2
    slope = top / math.cos(back_rad)
    # a level cut through a leg is an ellipse, as wide as the tube times sqrt(1 + (dy / dz)^2)
    footprint = tube.od * math.hypot(1, inward / math.cos(back_rad))
    foot = (width - footprint) / 2
    crown, behind = foot - slope * inward, -slope * math.sin(back_rad)
    angle = 90 - lean
    corner = tube.tangent(angle)
    wide = 2 * (corner + slope * inward) + footprint
    high = corner * math.cos(math.radians(lean)) * math.cos(back_rad) + tube.od / 2
    return _shape(
        (
            short("width", width, wide, f"two bends of {angle:g}°, the lean and the tube take"),
            short("height", height, high, f"a bend of {angle:g}° and half the tube take"),
        ),
        ((0, -foot, 0), (behind, -crown, top), (behind, crown, top), (0, foot, 0)),
    )


def offset(tube: Bent, rise: float, angle: float, ends: float) -> StarterShape:
    """Two equal bends the opposite way, so that the run goes on parallel; along x, rising in z.

    `rise` from a side of the one end to the same side of the other, `angle` of each bend, `ends`
    from each end to its corner. The sloped leg is rise / sin(angle), the run rise / tan(angle).
    """
    short = partial(_short, "offset", tube)
    angle_rad = math.radians(angle)
    need = 2 * tube.clr * (1 - math.cos(angle_rad))
    return _shape(
        (
            short("rise", rise, need, f"two bends of {angle:g}° take"),
            short("ends", ends, tube.tangent(angle), f"a bend of {angle:g}° takes"),
        ),
        _offset(rise, rise / math.tan(angle_rad), ends),
    )


def offset_by_length(tube: Bent, rise: float, run: float, ends: float) -> StarterShape:
    """Two equal bends the opposite way, over a given length; along x, rising in z.

    `run` along x from corner to corner; the rest as for `offset`.
    """
    short = partial(_short, "offset by length", tube)
    angle = math.degrees(math.atan2(rise, run))
    # the steepest there is, its arcs running into one another: rise = 2 R (1 - cos t)
    steepest_rad = math.acos(max(1 - rise / (2 * tube.clr), 0.0))
    need = rise / math.tan(steepest_rad)
    return _shape(
        (
            short("run", run, need, f"two bends for a rise of {tube.say(rise)} take"),
            short("ends", ends, tube.tangent(angle), f"a bend of {angle:.1f}° takes"),
        ),
        _offset(rise, run, ends),
    )


def _offset(rise: float, run: float, ends: float) -> Corners:
    return ((0, 0, 0), (ends, 0, 0), (ends + run, 0, rise), (2 * ends + run, 0, rise))


def saddle(tube: Bent, height: float, angle: float, ends: float) -> StarterShape:
    """Three bends over one obstacle at x = 0: half the angle, the angle, half the angle; along x.

    `height` by which the tube is lifted at its crown (the arc's, which lies below the corner),
    `angle` of the middle bend, `ends` from each end to its corner.
    """
    short = partial(_short, "saddle", tube)
    slope_rad = math.radians(angle / 2)
    sunk = tube.clr * (1 / math.cos(slope_rad) - 1)
    corner = height + sunk
    run = corner / math.tan(slope_rad)
    need = (tube.tangent(angle / 2) + tube.tangent(angle)) * math.sin(slope_rad) - sunk
    return _shape(
        (
            short("height", height, need, f"bends of {angle / 2:g}° and {angle:g}° take"),
            short("ends", ends, tube.tangent(angle / 2), f"a bend of {angle / 2:g}° takes"),
        ),
        ((-run - ends, 0, 0), (-run, 0, 0), (0, 0, corner), (run, 0, 0), (run + ends, 0, 0)),
    )


def box_saddle(tube: Bent, height: float, width: float, angle: float, ends: float) -> StarterShape:
    """Four equal bends over a box at x = 0: up, level, down, level; along x.

    `height` by which the tube is lifted, `width` of the straight on top (from bend to bend, so it
    lies flat on a box as wide), `angle` of each bend, `ends` from each end to its corner.
    """
    short = partial(_short, "box saddle", tube)
    slope_rad = math.radians(angle)
    corner = tube.tangent(angle)
    top = width / 2 + corner
    foot = top + height / math.tan(slope_rad)
    return _shape(
        (
            short(
                "height", height, 2 * corner * math.sin(slope_rad), f"two bends of {angle:g}° take"
            ),
            short("ends", ends, corner, f"a bend of {angle:g}° takes"),
        ),
        (
            (-foot - ends, 0, 0),
            (-foot, 0, 0),
            (-top, 0, height),
            (top, 0, height),
            (foot, 0, 0),
            (foot + ends, 0, 0),
        ),
    )


def gooseneck(tube: Bent, height: float, reach: float, drop: float, down: float) -> StarterShape:
    """An upright that turns level and then down to a mouth; standing on z = 0, reaching along x.

    Parameters
    ----------
    tube
        What it is bent from.
    height
        From the foot to the top of the tube.
    reach
        From the back of the upright to the middle of the mouth.
    drop
        From the top of the tube down to the middle of the mouth.
    down
        Degrees below level that the mouth points; 90 is straight down.
    """
    short = partial(_short, "gooseneck", tube)
    down_rad, half = math.radians(down), tube.od / 2
    outlet = (drop - half) / math.sin(down_rad)
    beyond = outlet * math.cos(down_rad)
    over, top = reach - half - beyond, height - half
    corner = tube.tangent(down)
    deep = corner * math.sin(down_rad) + half
    far = tube.clr + corner + beyond + half
    return _shape(
        (
            short("height", height, tube.clr + half, "a bend of 90° and half the tube take"),
            short("drop", drop, deep, f"a bend of {down:g}° and half the tube take"),
            short("reach", reach, far, f"bends of 90° and {down:g}° and the outlet take"),
        ),
        ((0, 0, 0), (0, 0, top), (over, 0, top), (over + beyond, 0, height - drop)),
    )


def reverse_curve(tube: Bent, across: float, length: float, between: float) -> StarterShape:
    """An S: two equal arcs the opposite way with a given straight between; along x, rising in z.

    `across` outside to outside of the parallel ends, `length` over all along x, `between` the
    straight from arc to arc (0: the arcs run into one another). The angle t follows from
    2 R (1 - cos t) + between sin t = across - od.
    """
    short = partial(_short, "s", tube)
    rise = across - tube.od
    if rise <= _TOUCHING:
        what = f"{tube.say(across)} is no more than the tube itself, {tube.say(tube.od)}"
        return StarterShape((), (Finding("stop", "s, across", what, "make it larger"),))
    straight = rise - 2 * tube.clr
    if between < straight:
        why = f"two arcs of {S_UP_TO:g}° take to go so far across"
        return _shape((short("between", between, straight, why),), ())
    share = -straight / math.hypot(2 * tube.clr, between)
    angle_rad = math.acos(share) - math.atan2(between, 2 * tube.clr)
    corner = tube.clr * math.tan(angle_rad / 2)
    run = (2 * corner + between) * math.cos(angle_rad)
    first = (length - run) / 2
    why = f"two arcs of {math.degrees(angle_rad):.1f}° take"
    return _shape(
        (short("length", length, run + 2 * corner, why),),
        ((0, 0, 0), (first, 0, 0), (first + run, 0, rise), (length, 0, rise)),
    )


def _short(
    shape: str, tube: Bent, key: str, found: float, need: float, why: str
) -> Iterator[Finding]:
    """Say of a measure that is less than the shape needs by how much."""
    if found < need - _TOUCHING:
        say = tube.say
        yield Finding(
            "stop",
            f"{shape}, {key}",
            f"{say(found)} is {say(need - found)} short of the {say(need)} that {why} "
            f"at CLR {say(tube.clr)}",
            "make it larger, or take a die of smaller radius",
        )


def _shape(lacking: tuple[Iterator[Finding], ...], points: Corners) -> StarterShape:
    """Give the corners, or why there are none."""
    findings = tuple(chain(*lacking))
    if findings:
        return StarterShape((), findings)
    return StarterShape(tuple((float(x), float(y), float(z)) for x, y, z in points))
