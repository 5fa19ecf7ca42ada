"""Turning the tube between bends, and setting that roll with a level on a straight already bent."""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array, cross, dot

LEVEL_NEEDS = 60.0
"""Straight, in mm, that the shortest useful level lies on (common practice)."""

LEAST_SHARPNESS = 0.05
"""A straight whose slope hardly changes with roll at all is no straight to hold a level on."""

DULL = 0.3
"""A level that changes by less than this many degrees for one degree of roll says too little."""


def rolls(rotations: Array, lead: str) -> Array:
    """Roll in degrees before each bend, in the order made; rotations (..., n) in order A to B.

    Positive is clockwise seen from the tail looking at the die. Travelled from either end, a
    bend's plane turns the same way round as it is come upon (a right-hand screw is right-handed
    from both ends), so the roll equals the rotation between the two bends.
    """
    result = np.zeros_like(rotations)
    if lead == "A":
        result[..., 1:] = rotations[..., 1:]
    else:
        result[..., 1:] = rotations[..., :0:-1]
    return result


@dataclass(frozen=True, slots=True)
class Levels:
    """Level readings, (..., n) in the order made.

    `leg` counts from 0 at the A end, -1 where no straight will hold a level; `slope` is the rise
    in degrees of that leg, travelled A to B, at the right roll; `sharpness` as in `LevelReading`.
    """

    leg: Array
    slope: Array
    sharpness: Array


def levels(directions: Array, axes: Array, lengths: Array, setup: Setup, lead: str) -> Levels:
    """Choose for each bend the straight on which a level shows the roll best.

    `directions` (..., n + 1, 3) and `axes` (..., n, 3) of the tube in any frame; `lengths`
    (..., n + 1) are the straights, grips included. Bends are made from the lead end on.
    """
    count = axes.shape[-2]
    order = range(count) if lead == "A" else range(count - 1, -1, -1)
    chosen = [_level(directions, axes, lengths, setup, lead, bend) for bend in order]
    leg, slope, sharpness = (np.stack(part, axis=-1) for part in zip(*chosen, strict=True))
    return Levels(leg, slope, sharpness)


def _level(
    directions: Array, axes: Array, lengths: Array, setup: Setup, lead: str, bend: int
) -> tuple[Array, Array, Array]:
    """Leg, slope and sharpness for one bend of every tube."""
    bent = np.arange(bend) if lead == "A" else np.arange(bend + 2, directions.shape[-2])
    nothing = np.zeros(axes.shape[:-2])
    if bent.size == 0:
        return nothing - 1, nothing, nothing
    in_die = bend if lead == "A" else bend + 1
    tail, up, aside = machine_axes(directions[..., in_die, :], axes[..., bend, :], setup, lead)
    legs = directions[..., bent, :]
    rise = dot(legs, up[..., None, :])
    # the slope's change with roll: sideways part over the part that is not upright
    sideways, forward = dot(legs, aside[..., None, :]), dot(legs, tail[..., None, :])
    flat = np.hypot(sideways, forward)
    sharpness = np.divide(np.abs(sideways), flat, out=np.ones_like(flat), where=flat > 1e-6)
    long_enough = lengths[..., bent] >= LEVEL_NEEDS
    score = np.where(long_enough, sharpness * np.minimum(1, lengths[..., bent] / 150), -1)
    best = np.argmax(np.round(score, 6), axis=-1)[..., None]
    usable = np.take_along_axis(score, best, -1)[..., 0] >= LEAST_SHARPNESS

    def pick(values: Array) -> Array:
        taken: Array = np.take_along_axis(values, best, -1)[..., 0]
        return np.where(usable, taken, 0)

    slope = np.degrees(np.arctan2(rise, flat))
    return np.where(usable, bent[best[..., 0]], -1), pick(slope), pick(sharpness)


def machine_axes(
    direction: Array, axis: Array, setup: Setup, lead: str
) -> tuple[Array, Array, Array]:
    """Machine axes in the tube's frame, for a bend about to be made: x to the tail, z up, y aside.

    `direction` of travel A to B at the bend's start and the bend's `axis`, both (..., 3). The lead
    end swings to the bench's side: on a horizontal bender about a vertical axis, on a vertical one
    straight up or down.
    """
    toward_tail = 1.0 if lead == "A" else -1.0
    inward = cross(axis, direction)
    if setup.plane == "horizontal":
        left = 1.0 if setup.swing == "left" else -1.0
        up = -toward_tail * left * axis
    else:
        up = (1.0 if setup.swing == "up" else -1.0) * inward
    tail = toward_tail * direction
    return tail, up, cross(up, tail)
