"""The trial piece: how to make it, and what it teaches about a die."""

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.model import Die, Tubing
from soapstone.bench.setup import calibration_for, die_and_tubing
from soapstone.bench.trial_measured import LearnedDie, MeasuredPiece, learn_die, springback_of
from soapstone.bench.trial_piece import TrialPiece, trial_piece
from soapstone.bench.trials import trial_bend
from soapstone.errors import InputError
from soapstone.flow.keeping import change_bench, figures_edit
from soapstone.flow.showing import bench_at
from soapstone.log.rows import LoggedTrial
from soapstone.log.store import open_log
from soapstone.plan.as_json import problems_json
from soapstone.quantities import Units, parse_angle, parse_length

NEEDED = ("stock", "mark", "angle")


@dataclass(frozen=True, slots=True)
class Keep:
    """A bend to be kept in the shop log: its dial reading as written, lot and date."""

    log: Path
    dial: str | None
    lot: str
    date: str


@dataclass(frozen=True, slots=True)
class Kept:
    """Where a bend was kept, and whether it is new there."""

    log: Path
    new: bool


@dataclass(frozen=True, slots=True)
class Trying:
    """A trial piece for a die and a tubing; with measurements, what they teach."""

    units: Units
    piece: TrialPiece
    learnt: LearnedDie | None
    kept: Kept | None = None

    def as_json(self) -> dict[str, Any]:
        """Give plan and result as a JSON object, mm and degrees."""
        learnt = None
        if self.learnt is not None:
            learnt = asdict(self.learnt) | {"problems": problems_json(self.learnt.problems)}
        kept = None if self.kept is None else {"log": str(self.kept.log), "new": self.kept.new}
        return {**asdict(self.piece), "learnt": learnt, "kept": kept}


def try_die(
    die: str,
    tubing: str,
    bench_path: Path | None,
    measured: Mapping[str, str | None],
    keep: Keep | None = None,
) -> Trying:
    """Plan the trial piece for a die and a tubing, and learn from it what has been measured.

    `measured` holds the fields of `MeasuredPiece` as written by the user, in the bench's units;
    all None: nothing has been measured yet. With `keep` the bend is kept in the shop log; of the
    measurements it needs the angle alone.
    """
    bench = bench_at(bench_path)
    of_die, of_tubing = die_and_tubing(bench, die, tubing)
    calibration, _ = calibration_for(bench, of_die, of_tubing)
    piece = trial_piece(
        of_tubing.od,
        of_die.clr,
        of_die.clamp,
        of_die.follower,
        calibration,
        max_angle=bench.bender.max_angle,
        mark_offset=of_die.mark_offset,
        units=bench.units,
    )
    given = {key: text for key, text in measured.items() if text is not None}
    kept = None if keep is None else _keep(keep, of_die, of_tubing, given)
    if not given or (keep is not None and set(given) == {"angle"}):
        return Trying(bench.units, piece, None, kept)
    springback, springback_sd = springback_of(calibration)
    learnt = learn_die([_measured(given, bench.units)], of_tubing.od, springback, springback_sd)
    return Trying(bench.units, piece, learnt, kept)


def put_learnt(path: Path, die: str, learnt: LearnedDie, units: Units) -> str:
    """Put what a trial piece taught into a die's table of a bench file; give the text before it.

    Raises
    ------
    InputError
        The bench would not be sound to read; the file is as it was then.
    """
    return change_bench(path, figures_edit("die", die, learnt.figures(units)))


def _keep(keep: Keep, die: Die, tubing: Tubing, given: Mapping[str, str]) -> Kept:
    """Keep a bend; told of again in the same words on the same day it is the same bend."""
    if keep.dial is None or "angle" not in given:
        raise InputError("--keep: expected --dial and --angle, the reading and what it gave")
    try:
        dial, angle = trial_bend([parse_angle(keep.dial), parse_angle(given["angle"])])
    except ValueError as fault:
        raise InputError(f"--dial: {fault}") from None
    words = (die.name, tubing.name, keep.lot, keep.date, f"{dial:g}", *sorted(given.items()))
    piece = hashlib.sha256(repr(words).encode()).hexdigest()[:32]
    row = LoggedTrial(
        f"{piece}:1",
        die.name,
        tubing.name,
        keep.lot,
        keep.date,
        dial,
        angle,
        "trial",
        tubing.od,
        tubing.wall,
        die.clr,
    )
    with open_log(keep.log) as store:
        return Kept(keep.log, bool(store.learn([row])))


def _measured(given: Mapping[str, str], units: Units) -> MeasuredPiece:
    missing = [f"--{key}" for key in NEEDED if key not in given]
    if missing:
        raise InputError(f"{' and '.join(missing)}: missing; a measured piece needs them")
    values = {}
    for key, text in given.items():
        try:
            values[key] = parse_angle(text) if key == "angle" else parse_length(text, units)
        except ValueError as fault:
            raise InputError(f"--{key.replace('_', '-')}: {fault}") from None
    return MeasuredPiece(**values)
