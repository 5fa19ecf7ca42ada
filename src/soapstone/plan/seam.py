"""Where the weld seam of welded tubing should lie when the tube is loaded for its first bend."""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array


@dataclass(frozen=True, slots=True)
class SeamPlace:
    """Arrays (...): hour on the clock, largest angle off the neutral line, bend (from 0) of it."""

    clock: Array
    from_neutral: Array
    worst: Array


def place_seam(angles: Array, rolls: Array, setup: Setup) -> SeamPlace:
    """Choose the seam's clock so that it lies near the neutral line of every bend.

    `angles` and `rolls` (..., n) in the order made. With the seam at angle s from a bend's axis,
    measured round the tube, sum(angle sin^2 s) is least where the sum of the vectors
    angle (cos 2p, sin 2p) points, p being each bend's plane; of the two opposite places that this
    gives, the one toward the inside of the hardest bend is taken.
    """
    # turning the tube clockwise by the roll turns the seam with it: bend i meets it at s + plane_i
    plane_rad = np.radians(np.cumsum(rolls, axis=-1))
    sums = (angles * np.exp(2j * plane_rad)).sum(axis=-1)
    seam_rad = -np.angle(sums) / 2
    at_bend = seam_rad[..., None] + plane_rad
    hardest = np.argmax(angles, axis=-1)[..., None]
    outward = np.take_along_axis(np.sin(at_bend), hardest, -1)[..., 0] > 1e-9
    seam_rad = np.where(outward, seam_rad + np.pi, seam_rad)
    off = np.degrees(np.arcsin(np.clip(np.abs(np.sin(at_bend)), 0, 1)))
    worst = np.argmax(np.round(off, 6), axis=-1)
    hours = (np.degrees(seam_rad) + _axis_on_clock(setup)) % 360 / 30
    clock = np.where(hours < 1e-9, 12.0, hours)
    return SeamPlace(clock, np.take_along_axis(off, worst[..., None], -1)[..., 0], worst)


def _axis_on_clock(setup: Setup) -> float:
    """Clock angle, clockwise from 12 seen from the tail, from which sin > 0 leads to the outside.

    The outside of a bend is opposite to the side the lead swings to; a quarter turn before it,
    anticlockwise, is the neutral line that seam angles are counted from.
    """
    outside = {"left": 90.0, "right": 270.0, "up": 180.0, "down": 0.0}[setup.swing]
    return outside - 90.0
