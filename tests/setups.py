"""Setups to plan with, their numbers known exactly."""

from dataclasses import replace

from soapstone.bench.calibrate import fit, prior_for
from soapstone.bench.setup import Setup
from soapstone.quantities import MILLIMETRE_TAPE

PLAIN = Setup(
    die="test die",
    clr=100.0,
    die_od=38.1,
    mark_offset=0.0,
    clamp=60.0,
    follower=90.0,
    stretch=0.0,
    tubing="test tube",
    od=38.1,
    wall=1.65,
    density=8000.0,
    seam=True,
    sticks=(6000.0,),
    calibration=fit([], [], prior_for(0.0, 0.0)),
    plane="horizontal",
    swing="left",
    stroke=0.0,
    max_angle=180.0,
    tape=MILLIMETRE_TAPE,
    dial_step=0.5,
    tolerance=0.5,
)


def setup(springback: float = 0.0, dial_zero: float = 0.0, **changes) -> Setup:
    """A setup with exact springback and dial zero, and any other value changed."""
    calibration = fit([], [], prior_for(springback, dial_zero))
    return replace(PLAIN, calibration=calibration, **changes)
