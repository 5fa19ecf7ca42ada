"""Where the weld seam of welded tubing should lie when the tube is loaded for its first bend."""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array
from soapstone.plan.order import Order
from soapstone.plan.rolls import planes


@dataclass(frozen=True, slots=True)
class SeamPlace:
    """Arrays (...): hour on the clock, largest angle off the neutral line, its bend from 0 at A."""

    clock: Array
    from_neutral: Array
    worst: Array


def place_seam(angles: Array, rotations: Array, setup: Setup, order: Order) -> SeamPlace:
    """Choose the seam's clock so that it lies near the neutral line of every bend.

    `angles` and `rotations` (..., n) in order A to B; the clock is that of the bend made first.
    With the seam at angle s from a bend's axis,
    measured round the tube, sum(angle sin^2 s) is least where the sum of the vectors
    angle (cos 2p, sin 2p) points, p being each bend's plane; of the two opposite places that this
    gives, the one toward the inside of the hardest bend is taken.
    """
    bends = [turn.n - 1 for turn in order]
    angles, at = angles[..., bends], planes(rotations)[..., bends]
    onward = at - at[..., :1]
    # clockwise on the clock is against the direction of travel with A leading, along it with B:
    # bend i meets the seam at s + plane_i
    plane_rad = np.radians(onward if order[0].lead == "A" else -onward)
    sums = (angles * np.exp(2j * plane_rad)).sum(axis=-1)
    seam_rad = -np.angle(sums) / 2
    at_bend = seam_rad[..., None] + plane_rad
    hardest = np.argmax(angles, axis=-1)[..., None]
    outward = np.take_along_axis(np.sin(at_bend), hardest, -1)[..., 0] > 1e-9
    seam_rad = np.where(outward, seam_rad + np.pi, seam_rad)
    off = np.degrees(np.arcsin(np.clip(np.abs(np.sin(at_bend)), 0, 1)))
    at_worst = np.argmax(np.round(off, 6), axis=-1)
    hours = (np.degrees(seam_rad) + _axis_on_clock(setup)) % 360 / 30
    clock = np.where(hours < 1e-9, 12.0, hours)
    worst = np.array(bends)[at_worst]
    return SeamPlace(clock, np.take_along_axis(off, at_worst[..., None], -1)[..., 0], worst)


def _axis_on_clock(setup: Setup) -> float:
    """Clock angle, clockwise from 12 seen from the tail, from which sin > 0 leads to the outside.

    The outside of a bend is opposite to the side the lead swings to; a quarter turn before it,
    anticlockwise, is the neutral line that seam angles are counted from.
    """
    outside = {"left": 90.0, "right": 270.0, "up": 180.0, "down": 0.0}[setup.swing]
    return outside - 90.0
