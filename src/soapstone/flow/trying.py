"""The trial piece: how to make it, and what it teaches about a die."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.setup import calibration_for, die_and_tubing
from soapstone.bench.trial_measured import LearnedDie, MeasuredPiece, learn_die, springback_of
from soapstone.bench.trial_piece import TrialPiece, trial_piece
from soapstone.errors import InputError
from soapstone.flow.showing import bench_at
from soapstone.plan.as_json import problems_json
from soapstone.quantities import Units, parse_angle, parse_length

NEEDED = ("stock", "mark", "angle")


@dataclass(frozen=True, slots=True)
class Trying:
    """A trial piece for a die and a tubing; with measurements, what they teach."""

    units: Units
    piece: TrialPiece
    learnt: LearnedDie | None

    def as_json(self) -> dict[str, Any]:
        """Give plan and result as a JSON object, mm and degrees."""
        learnt = None
        if self.learnt is not None:
            learnt = asdict(self.learnt) | {"problems": problems_json(self.learnt.problems)}
        return {**asdict(self.piece), "learnt": learnt}


def try_die(
    die: str, tubing: str, bench_path: Path | None, measured: Mapping[str, str | None]
) -> Trying:
    """Plan the trial piece for a die and a tubing, and learn from it what has been measured.

    `measured` holds the fields of `MeasuredPiece` as written by the user, in the bench's units;
    all None: nothing has been measured yet.
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
    if not given:
        return Trying(bench.units, piece, None)
    springback, springback_sd = springback_of(calibration)
    learnt = learn_die([_measured(given, bench.units)], of_tubing.od, springback, springback_sd)
    return Trying(bench.units, piece, learnt)


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
