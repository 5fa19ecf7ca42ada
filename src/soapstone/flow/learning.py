"""Trial bends become a calibration."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.calibrate import Calibration, fit, weak_prior
from soapstone.bench.setup import prior_of
from soapstone.bench.trial_checks import doubts, lot_changes, outliers
from soapstone.bench.trials_csv import read_trials
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.flow.showing import bench_at
from soapstone.plan.as_json import problems_json
from soapstone.quantities import parse_angle


@dataclass(frozen=True, slots=True)
class Learnt:
    """What trial bends taught: the calibration, the angles asked for, and doubts."""

    calibration: Calibration
    at: tuple[float, ...]
    findings: tuple[Finding, ...]

    def readings(self) -> list[dict[str, float]]:
        """Give angle, dial, low and high for each angle asked for, in degrees."""
        rows: list[dict[str, float]] = self.as_json()["at"]
        return rows

    def as_json(self) -> dict[str, Any]:
        """Give the calibration as a JSON object in degrees."""
        return {
            **self.calibration.as_json(self.at),
            "findings": problems_json(self.findings),
        }


def calibrate(
    data: Path | str,
    at: Sequence[float],
    bench_path: Path | None = None,
    die: str = "",
    tubing: str = "",
) -> Learnt:
    """Learn from a CSV file of trial bends, on top of what a bench says of a die and tubing."""
    trials = read_trials(data)
    prior = weak_prior()
    if die or tubing:
        if not (die and tubing):
            raise InputError("calibrate: --die and --tubing: expected both or neither")
        bench = bench_at(bench_path)
        prior = prior_of(bench, bench.die(die), bench.tubing(tubing))
    learnt = fit(trials.dials, trials.angles, prior)
    findings = (
        *lot_changes(trials, prior),
        *outliers(trials.dials, trials.angles, prior, trials.rows, trials.source),
        *doubts(learnt, trials.angles, trials.source),
    )
    return Learnt(learnt, tuple(at), findings)


def angles_from(text: str, key: str = "--at") -> tuple[float, ...]:
    """Read a list of finished angles such as "30,60,90"."""
    angles = []
    for word in text.replace(";", ",").split(","):
        try:
            angle = parse_angle(word.strip())
        except ValueError as fault:
            raise InputError(f"{key}: {fault}") from None
        if not 0 < angle < 360:
            raise InputError(f"{key}: expected angles above 0 and below 360, found {word.strip()}")
        angles.append(angle)
    return tuple(angles)
