"""A line painted along the stick, followed through the virtual bender."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, degrees
from typing import Any

from tests.truth.virtual_bender import (
    Array,
    Bender,
    Die,
    Step,
    Tube,
    X,
    bent,
    blank,
    cross,
    loaded_into,
    rotation,
    straight_holding,
)


def angle_about(axis: Array, one: Array, other: Array) -> float:
    """Right-hand angle in degrees from one direction to another, both square to the axis."""
    return degrees(atan2(cross(one, other) @ axis, one @ other))


def carried_to_the_die(tube: Tube, n: int) -> Array:
    """The axis of a bend made, carried along the tube to the straight in the die without twist."""
    held = straight_holding(tube, tube.at, tube.at)
    arc = next(i for i, piece in enumerate(tube.pieces) if piece.n == n)
    axis = tube.pieces[arc].axis
    for piece in tube.pieces[arc + 1 : held]:
        axis = rotation(piece.axis, piece.angle) @ axis
    for piece in reversed(tube.pieces[held:arc]):
        axis = rotation(piece.axis, -piece.angle) @ axis
    return axis


def line_at_each_bend(plan: Any, die: Die, bender: Bender, at_first: Array) -> Iterator[Array]:
    """Where a line painted on the stick lies at the die when each bend is made.

    `at_first` is the direction it has from the tube's middle when the first bend is made.
    """
    tube, off_axis = blank(plan.stock), {}
    for bend in plan.bends:
        step = Step(bend.n, bend.lead, bend.mark, bend.roll, bend.dial)
        tube = loaded_into(tube, step, die, bender)
        to_b = X if bend.lead == "A" else -X
        line = at_first
        if off_axis:
            made, off = next(iter(off_axis.items()))
            line = rotation(to_b, off) @ carried_to_the_die(tube, made)
        yield line
        axis = -bender.die_axis if bend.lead == "A" else bender.die_axis
        off_axis[bend.n] = angle_about(to_b, axis, line)
        tube = bent(tube, die, bender, bend.dial, bend.n)
