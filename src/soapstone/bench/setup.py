"""A setup: the bender, die and tubing that a tube is bent with, as plain numbers."""

import math
from dataclasses import dataclass, field
from functools import lru_cache

from soapstone.bench.accuracy import Accuracy
from soapstone.bench.belief import Prior
from soapstone.bench.calibrate import Calibration, prior_for
from soapstone.bench.model import Bench, Die, Tubing, fits
from soapstone.bench.trial_checks import learn_from, since_last_change
from soapstone.bench.trials import Trial
from soapstone.bench.trials_csv import Trials
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.quantities import Tape, Units, usual_tape


@dataclass(frozen=True, slots=True)
class LearntFrom:
    """How many bends of a lot a calibration was learnt from.

    `own` stand in the bench, `logged` names those that the shop log holds.
    """

    lot: str
    own: int
    logged: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setup:
    """All that planning needs to know of the shop for one tube. Lengths in mm, angles in degrees.

    `plane` and `swing` say how the die turns and where the lead end goes; `clamp` and `follower`
    are the straights that must be ahead of and behind a bend; `mark_offset` how far toward the
    lead end the index line lies from where the bend starts; `stroke` the die travel before the ram
    is re-pinned, 0 for no limit; `sticks` the lengths the tubing is bought in; `tape` and
    `dial_step` the graduations read by eye; `tolerance` the angle error that may pass; `doubts`
    what is doubtful about the calibration; `accuracy` what marks and readings may be off by;
    `learnt_from` the bends that the calibration stands on, lot by lot.
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
    accuracy: Accuracy = field(default_factory=Accuracy)
    learnt_from: tuple[LearntFrom, ...] = ()

    @property
    def clr_free(self) -> float:
        """Centreline radius after release: the arc keeps its stock and opens, so it grows."""
        return self.clr * (1 + self.calibration.springback)

    @property
    def area(self) -> float:
        """Metal in the tube's section, mm2."""
        return math.pi * self.wall * (self.od - self.wall)


def trials_for(bench: Bench, die: Die, tubing: Tubing) -> Trials:
    """Give all trial bends of a die and a tubing, the bench's own and those its log holds.

    They come by date, else as in their file; the lot in hand, where one was named, comes last. A
    die or tubing written in a job has none, whatever its name.
    """
    known = die in bench.dies and tubing in bench.tubings
    every = [(trial, "") for trial in bench.trials]
    every += [(trial, trial.piece) for trial in bench.logged]
    trials = [one for one in every if known and _is_of(one[0], die, tubing)]

    def when(one: tuple[Trial, str]) -> tuple[bool, str]:
        return bool(bench.lot) and one[0].lot == bench.lot, one[0].date

    rows = [
        (dial, angle, trial.lot, piece)
        for trial, piece in sorted(trials, key=when)
        for dial, angle in trial.bends or ()
    ]
    dials, angles, lots, pieces = zip(*rows, strict=True) if rows else ((), (), (), ())
    return Trials(dials, angles, lots, (), f"{tubing.name} on {die.name}", pieces)


def _is_of(trial: Trial, die: Die, tubing: Tubing) -> bool:
    return (trial.die, trial.tubing) == (die.name, tubing.name)


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
    """Learn the dial from the trial bends on top of its prior; say what is doubtful."""
    calibration, doubtful, _ = learnt_for(bench, die, tubing)
    return calibration, doubtful


def learnt_for(
    bench: Bench, die: Die, tubing: Tubing
) -> tuple[Calibration, list[Finding], tuple[LearntFrom, ...]]:
    """Learn the dial from the trial bends; say what is doubtful, and which bends it stands on."""
    trials, prior = trials_for(bench, die, tubing), prior_of(bench, die, tubing)
    calibration, found, kept = _learnt(trials, prior)
    doubtful = list(found)
    if bench.lot and bench.lot not in trials.lots:
        what = f"no bend of lot {bench.lot} is known yet"
        mend = "its springback may be another: measure the first bend before the next"
        doubtful.insert(0, Finding("note", kept.source, what, mend))
    return calibration, doubtful, _by_lot(kept)


@lru_cache(maxsize=256)
def _learnt(trials: Trials, prior: Prior) -> tuple[Calibration, tuple[Finding, ...], Trials]:
    """Learn from the bends that speak of the newest lot; the same bends are learnt from once."""
    kept, changed = since_last_change(trials, prior)
    calibration, doubtful = learn_from(kept, changed, prior)
    return calibration, tuple(doubtful), kept


def _by_lot(kept: Trials) -> tuple[LearntFrom, ...]:
    found = []
    for lot in dict.fromkeys(kept.lots):
        of_lot = kept.of_lots([lot])
        logged = tuple(piece for piece in of_lot.pieces if piece)
        found.append(LearntFrom(lot, len(of_lot) - len(logged), logged))
    return tuple(found)


def setup_for(bench: Bench, die: Die, tubing: Tubing, units: Units) -> Setup:
    """Bring bender, die and tubing together for a job in `units`."""
    bender = bench.bender
    calibration, doubtful, learnt_from = learnt_for(bench, die, tubing)
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
        tape=tape_for(bench, units),
        dial_step=bench.dial_step,
        tolerance=bench.tolerance,
        doubts=tuple(doubtful),
        accuracy=bench.accuracy,
        learnt_from=learnt_from,
    )


def tape_for(bench: Bench, units: Units) -> Tape:
    """Give the tape a job is marked out with: the bench's, or the usual one of the job's units."""
    return bench.tape if bench.tape.units == units else usual_tape(units)


def die_and_tubing(bench: Bench, die: str, tubing: str) -> tuple[Die, Tubing]:
    """Give the die and tubing by name; a bench with one of them needs no name."""
    if not die and len(bench.dies) != 1:
        names = ", ".join(f'"{one.name}"' for one in bench.dies[:6])
        raise InputError(f"--die: expected one of {names or 'the dies of a bench file'}")
    chosen = bench.die(die) if die else bench.dies[0]
    fitting = [one for one in bench.tubings if fits(chosen.od, one.od)]
    asked = [bench.tubing(tubing)] if tubing else fitting
    if len(asked) != 1 or asked[0] not in fitting:
        names = ", ".join(f'"{one.name}"' for one in fitting[:6])
        raise InputError(
            f"--tubing: expected one of {names}"
            if names
            else f'--tubing: the bench has none that fits the die "{chosen.name}"'
        )
    return chosen, asked[0]
