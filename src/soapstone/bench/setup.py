"""A setup: the bender, die and tubing that a tube is bent with, as plain numbers."""

from dataclasses import dataclass

from soapstone.bench.calibrate import Calibration


@dataclass(frozen=True, slots=True)
class Setup:
    """All that planning needs to know of the shop for one tube. Lengths in mm, angles in degrees.

    `plane` and `swing` say how the die turns and where the lead end goes; `clamp` and `follower`
    are the straights that must be ahead of and behind a bend; `mark_offset` how far toward the
    lead end the index line lies from where the bend starts; `stroke` the die travel before the ram
    is re-pinned, 0 for no limit; `sticks` the lengths the tubing is bought in; `tape` and
    `dial_step` the graduations read by eye; `tolerance` the angle error that may pass.
    """

    die: str
    clr: float
    die_od: float
    mark_offset: float
    clamp: float
    follower: float
    stretch: float
    tubing: str
    od: float
    wall: float
    density: float
    seam: bool
    sticks: tuple[float, ...]
    calibration: Calibration
    plane: str
    swing: str
    stroke: float
    max_angle: float
    tape: float
    dial_step: float
    tolerance: float

    @property
    def clr_free(self) -> float:
        """Centreline radius after release: the arc keeps its stock and opens, so it grows."""
        return self.clr * (1 + self.calibration.springback)

    @property
    def area(self) -> float:
        """Metal in the tube's section, mm2."""
        return 3.141592653589793 * self.wall * (self.od - self.wall)
