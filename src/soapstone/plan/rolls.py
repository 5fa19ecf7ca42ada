"""Turning the tube between bends, and setting that roll with a level on a straight already bent."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.chain import walk_arrays
from soapstone.geometry.vectors import Array, cross, dot
from soapstone.plan.order import Order, Turn

LEVEL_NEEDS = 60.0
"""Straight, in mm, that the shortest useful level lies on (common practice)."""

LEVEL_LIKES = 150.0
"""Straight, in mm, above which a level lies no better."""

LEAST_SHARPNESS = 0.05
"""A straight whose slope hardly changes with roll at all is no straight to hold a level on."""

DULL = 0.3
"""A level that changes by less than this many degrees for one degree of roll says too little."""


def planes(rotations: Array) -> Array:
    """Where each bend's plane lies round the stick, in degrees from the first one's.

    `rotations` (..., n) in order A to B; right-handed about the direction of travel.
    """
    summed: Array = np.cumsum(rotations, axis=-1)
    return summed


def rolls(rotations: Array, order: Order) -> Array:
    """Roll in degrees before each bend, in the order made; rotations (..., n) in order A to B.

    Positive is clockwise seen from the tail looking at the die, in (-180, 180]. A tube fed past
    bends already made slides through the machine without rolling, so the roll is the angle between
    the planes of this bend and of the one made before. With A leading a plane that lies further on
    right-handed needs a roll clockwise, with B leading one anticlockwise: seen from the tail the
    tube is travelled the other way. A changed lead end is a turn end for end about the die's own
    axis; that leaves the plane made last upside down for the other lead, half a turn from where it
    must be.
    """
    at = planes(rotations)
    result = np.zeros_like(at)
    for place in range(1, len(order)):
        now, before = order[place], order[place - 1]
        onward = at[..., now.n - 1] - at[..., before.n - 1]
        roll = (onward if now.lead == "A" else -onward) + 180 * (now.lead != before.lead)
        # rounded to count whole turns, so that noise cannot make half a turn into minus half a turn
        whole = np.ceil((np.round(roll, 9) - 180) / 360)
        result[..., place] = np.minimum(roll - 360 * whole, 180)
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


@dataclass(frozen=True, slots=True)
class Stick:
    """What levels are found from: tubes as drawn, and the straight stock of legs and bends in mm.

    `along`, `up` (..., 3), `angles`, `rotations` (..., n) as in `Centreline`; `legs` (..., n + 1)
    with grips, `arcs` (..., n).
    """

    along: Array
    up: Array
    angles: Array
    rotations: Array
    legs: Array
    arcs: Array


def levels(stick: Stick, setup: Setup, order: Order) -> Levels:
    """Choose for each bend the straight on which a level shows the roll best."""
    made: list[int] = []
    chosen = []
    for turn in order:
        chosen.append(_level(stick, setup, turn, sorted(made)))
        made.append(turn.n)
    leg, slope, sharpness = (np.stack(part, axis=-1) for part in zip(*chosen, strict=True))
    return Levels(leg, slope, sharpness)


def _level(stick: Stick, setup: Setup, turn: Turn, made: list[int]) -> tuple[Array, Array, Array]:
    """Leg, slope and sharpness for one bend of every tube, some bends being `made` before it."""
    nothing = np.zeros(stick.angles.shape[:-1])
    if not made:
        return nothing - 1, nothing, nothing
    directions, axes = _partly_bent(stick, made)
    in_die = turn.n - 1
    tail, up, aside = machine_axes(
        directions[..., in_die, :], axes[..., in_die, :], setup, turn.lead
    )
    runs = [
        run for run in pairwise((0, *made, stick.angles.shape[-1] + 1)) if not _holds(run, turn)
    ]
    lengths = np.stack([_length(stick, *run) for run in runs], axis=-1)
    straight = directions[..., [first for first, _ in runs], :]
    rise = dot(straight, up[..., None, :])
    # the slope's change with roll: sideways part over the part that is not upright
    sideways, forward = dot(straight, aside[..., None, :]), dot(straight, tail[..., None, :])
    flat = np.hypot(sideways, forward)
    sharpness = np.divide(np.abs(sideways), flat, out=np.ones_like(flat), where=flat > 1e-6)
    score = np.where(lengths >= LEVEL_NEEDS, sharpness * np.minimum(1, lengths / LEVEL_LIKES), -1)
    best = np.argmax(np.round(score, 6), axis=-1)[..., None]
    usable = np.take_along_axis(score, best, -1)[..., 0] >= LEAST_SHARPNESS

    def pick(values: Array) -> Array:
        taken: Array = np.take_along_axis(values, best, -1)[..., 0]
        return np.where(usable, taken, 0)

    legs = np.stack([_longest_leg(stick, *run) for run in runs], axis=-1)
    slope = np.degrees(np.arctan2(rise, flat))
    return np.where(usable, pick(legs), -1), pick(slope), pick(sharpness)


def _partly_bent(stick: Stick, made: list[int]) -> tuple[Array, Array]:
    """Directions of legs and axes of bends while only some bends are made."""
    bent = np.isin(np.arange(stick.angles.shape[-1]) + 1, made)
    angles = np.where(bent, stick.angles, 0.0)
    nothing = np.zeros(3)
    way = walk_arrays(
        nothing,
        stick.along,
        stick.up,
        np.zeros_like(stick.legs),
        angles,
        stick.rotations,
        np.zeros_like(angles),
    )
    return way.directions, way.axes


def _holds(run: tuple[int, int], turn: Turn) -> bool:
    """Whether a straight between two bends made is the one in the die."""
    return run[0] < turn.n < run[1]


def _length(stick: Stick, first: int, end: int) -> Array:
    """Length of the straight of legs `first` up to `end`, bends not made yet included."""
    bends = stick.arcs[..., first : end - 1].sum(axis=-1)
    return np.asarray(stick.legs[..., first:end].sum(axis=-1) + bends)


def _longest_leg(stick: Stick, first: int, end: int) -> Array:
    """Which leg of a straight gives it its name: the longest, from 0."""
    leg: Array = first + np.argmax(stick.legs[..., first:end], axis=-1)
    return leg


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
