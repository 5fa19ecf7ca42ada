"""A setup: the bender, die and tubing that a tube is bent with, as plain numbers."""

import math
from dataclasses import dataclass

from soapstone.bench.belief import Prior
from soapstone.bench.calibrate import Calibration, fit, prior_for
from soapstone.bench.model import Bench, Die, Tubing
from soapstone.bench.trial_checks import doubts, lot_changes, outliers
from soapstone.bench.trials_csv import Trials
from soapstone.findings import Finding
from soapstone.quantities import Tape


@dataclass(frozen=True, slots=True)
class Setup:
    """All that planning needs to know of the shop for one tube. Lengths in mm, angles in degrees.

    `plane` and `swing` say how the die turns and where the lead end goes; `clamp` and `follower`
    are the straights that must be ahead of and behind a bend; `mark_offset` how far toward the
    lead end the index line lies from where the bend starts; `stroke` the die travel before the ram
    is re-pinned, 0 for no limit; `sticks` the lengths the tubing is bought in; `tape` and
    `dial_step` the graduations read by eye; `tolerance` the angle error that may pass; `doubts`
    what is doubtful about the calibration.
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
    tape: Tape
    dial_step: float
    tolerance: float
    doubts: tuple[Finding, ...] = ()

    @property
    def clr_free(self) -> float:
        """Centreline radius after release: the arc keeps its stock and opens, so it grows."""
        return self.clr * (1 + self.calibration.springback)

    @property
    def area(self) -> float:
        """Metal in the tube's section, mm2."""
        return math.pi * self.wall * (self.od - self.wall)


def trials_for(bench: Bench, die: str, tubing: str) -> Trials:
    """Give all trial bends of a die and a tubing, by their names, oldest first."""
    rows = [
        (dial, angle, trial.lot)
        for trial in bench.trials
        if trial.die == die and trial.tubing == tubing
        for dial, angle in trial.bends or ()
    ]
    dials, angles, lots = zip(*rows, strict=True) if rows else ((), (), ())
    return Trials(dials, angles, lots, tuple(range(1, len(rows) + 1)), f"{tubing} on {die}")


def prior_of(bench: Bench, die: Die, tubing: Tubing) -> Prior:
    """Give what is believed before any trial bend: the die's own entries, else physics."""
    return prior_for(
        die.springback,
        die.dial_zero,
        od=tubing.od,
        wall=tubing.wall,
        clr=die.clr,
        material=bench.material(tubing.material),
    )


def calibration_for(bench: Bench, die: Die, tubing: Tubing) -> tuple[Calibration, list[Finding]]:
    """Learn the dial from all there is, and say what is doubtful about it.

    When the newest lot bends otherwise than the lots before it, its own bends alone count.
    """
    trials, prior = trials_for(bench, die.name, tubing.name), prior_of(bench, die, tubing)
    changed = lot_changes(trials, prior)
    newest = trials.lots[-1] if trials.lots else ""
    kept = trials
    if any(f"lot {newest}" in finding.where for finding in changed):
        kept = trials.of_lot(newest)
    calibration = fit(kept.dials, kept.angles, prior)
    odd = outliers(kept.dials, kept.angles, prior, kept.rows, trials.source)
    return calibration, [*changed, *odd, *doubts(calibration, kept.angles, trials.source)]


def setup_for(bench: Bench, die: Die, tubing: Tubing) -> Setup:
    """Bring bender, die and tubing together."""
    bender = bench.bender
    calibration, doubtful = calibration_for(bench, die, tubing)
    return Setup(
        die=die.name,
        clr=die.clr,
        die_od=die.od,
        mark_offset=die.mark_offset,
        clamp=die.clamp,
        follower=die.follower,
        stretch=die.stretch,
        tubing=tubing.name,
        od=tubing.od,
        wall=tubing.wall,
        density=bench.material(tubing.material).density,
        seam=tubing.seam,
        sticks=tubing.sticks,
        calibration=calibration,
        plane=bender.plane,
        swing=bender.swing,
        stroke=bender.stroke,
        max_angle=bender.max_angle,
        tape=bench.tape,
        dial_step=bench.dial_step,
        tolerance=bench.tolerance,
        doubts=tuple(doubtful),
    )
