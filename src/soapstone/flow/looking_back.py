"""What the shop log holds, and how springback and dials drift with lots and with time."""

import json
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from soapstone.bench.calibrate import Calibration, fit, weak_prior
from soapstone.bench.trial_checks import ODD_LOT, since_last_change
from soapstone.bench.trials_csv import Trials
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.log.rows import LoggedTrial, Run, Stick, short
from soapstone.log.store import Log, log_path, read_log
from soapstone.sheets.drift_view import Chart, ChartPoint, drift_sheet
from soapstone.sheets.sketch_svg import to_svg
from soapstone.textfiles import one_line, write_whole

ENOUGH = 8
"""Bends of a lot from which a trend can be told."""

LEAST_DRIFT = 0.25
"""Degrees: a dial that moves by less is let be; half of what a bench lets pass."""


@dataclass(frozen=True, slots=True)
class LotDrift:
    """Springback of one die in one lot of tubing, from its bends alone. Angles in degrees.

    `springback` is the loaded angle over the finished one, less one, `springback_sd` its standard
    deviation; `first` and `last` are dates.
    """

    die: str
    tubing: str
    lot: str
    first: str
    last: str
    bends: int
    springback: float
    springback_sd: float
    dial_zero: float

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class ToldRun:
    """A run as a list tells of it; `step` is the number of the step to be done next."""

    name: str
    title: str
    job: str
    tube: str
    lot: str
    started: str
    ended: str | None
    step: int

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object."""
        return asdict(self)


def runs(log: Log, *, still_open: bool = False) -> tuple[ToldRun, ...]:
    """Give the runs of a log, or those that are not over, the oldest first."""
    return tuple(
        ToldRun(
            short(run.id),
            run.title or Path(run.job).stem,
            run.job,
            run.tube,
            run.lot,
            run.started,
            run.ended,
            len(log.events(run.id)) + 1,
        )
        for run in log.runs(still_open=still_open)
    )


def inspections(log: Log) -> list[dict[str, Any]]:
    """Give the inspections of a log in short, the oldest first; lengths in mm."""
    found = []
    for one in log.inspections():
        told = json.loads(one.result)
        about = {"name": short(one.id), "tube": one.tube, "lot": one.lot, "date": one.date}
        found.append({**about, "job": one.job, "sound": told["sound"], "ends": told["ends"]["off"]})
    return found


@dataclass(frozen=True, slots=True)
class ShopLog:
    """What the shop log holds: runs, the newest first; bends, the newest first; remnants, lots."""

    path: Path
    runs: tuple[Run, ...] = ()
    trials: tuple[LoggedTrial, ...] = ()
    remnants: tuple[Stick, ...] = ()
    lots: tuple[LotDrift, ...] = ()


def look_back(given: Path | None = None) -> ShopLog:
    """Read the whole log; where there is none it is empty, and none is made.

    Raises
    ------
    InputError
        It cannot be read; the line says why and what to do.
    """
    path = log_path(given)
    if not path.is_file():
        return ShopLog(path)
    with read_log(path) as store:
        runs = sorted(store.runs(), key=lambda run: run.started, reverse=True)
        trials = store.trials()
        return ShopLog(
            path,
            tuple(runs),
            tuple(reversed(trials)),
            tuple(store.remnants()),
            drift(trials),
        )


def drift(trials: Sequence[LoggedTrial]) -> tuple[LotDrift, ...]:
    """Give springback by die, tubing and lot, each die's lots in the order they were begun."""
    lots: dict[tuple[str, str, str], list[LoggedTrial]] = defaultdict(list)
    for trial in trials:
        lots[trial.die, trial.tubing, trial.lot].append(trial)
    found = [_of_lot(lot) for lot in lots.values()]
    return tuple(sorted(found, key=lambda one: (one.die, one.tubing, one.first, one.lot)))


@dataclass(frozen=True, slots=True)
class DriftPoint:
    """A bend in the order made: its dial reading less what is foretold of it, degrees.

    `off` is from the line of the first lot of its die and tubing; `low` to `high` is where 19 of 20
    bends of its own lot lie, from that same line.
    """

    date: str
    lot: str
    angle: float
    off: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Drift:
    """All bends of a die in a tubing, in the order made, and what is to be said of them."""

    die: str
    tubing: str
    points: tuple[DriftPoint, ...]
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing drifts."""
        return not self.findings

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, degrees."""
        return {
            "die": self.die,
            "tubing": self.tubing,
            "points": [asdict(point) for point in self.points],
            "findings": [found.as_json() for found in self.findings],
        }


def drifts(trials: Sequence[LoggedTrial]) -> tuple[Drift, ...]:
    """Give the bends of each die and tubing in the order made, and say where they drift."""
    pairs: dict[tuple[str, str], list[LoggedTrial]] = defaultdict(list)
    for trial in sorted(trials, key=lambda one: (one.date, one.id)):
        pairs[trial.die, trial.tubing].append(trial)
    return tuple(_drift_of(*names, made) for names, made in sorted(pairs.items()))


def draw_drifts(found: Sequence[Drift], path: Path) -> Path:
    """Draw the bends of every die and tubing, a chart each, into an SVG file; give its path.

    Raises
    ------
    InputError
        There is nothing to draw, or the file cannot be written there.
    """
    if path.suffix.lower() != ".svg":
        raise InputError(one_line(f"{path}: expected a name ending in .svg"))
    if not found:
        raise InputError("log drift: the log holds no bends yet")
    charts = [
        Chart(
            f"{one.tubing} on {one.die}",
            tuple(ChartPoint(p.date, p.lot, p.off, p.low, p.high) for p in one.points),
            tuple(f"{said.what}; {said.mend}" for said in one.findings),
        )
        for one in found
    ]
    sketch, box = drift_sheet(charts)
    write_whole(path, to_svg(sketch, box, "Drift of the dials").encode())
    return path.absolute()


def _drift_of(die: str, tubing: str, made: list[LoggedTrial]) -> Drift:
    lots = {lot: _fitted([one for one in made if one.lot == lot]) for lot in _lots(made)}
    first = next(iter(lots.values()))
    points = []
    for one in made:
        low, high = lots[one.lot].interval(one.angle)
        foretold = first.dial(one.angle)
        points.append(
            DriftPoint(
                one.date,
                one.lot,
                one.angle,
                one.dial - foretold,
                float(low) - foretold,
                float(high) - foretold,
            )
        )
    where = f"{tubing} on {die}"
    dials, angles = tuple(one.dial for one in made), tuple(one.angle for one in made)
    every = Trials(dials, angles, tuple(one.lot for one in made), (), where)
    _, changed = since_last_change(every, weak_prior())
    crept = [
        found for lot in lots if (found := _creeps([one for one in made if one.lot == lot], where))
    ]
    return Drift(die, tubing, tuple(points), (*changed, *crept))


def _lots(made: Sequence[LoggedTrial]) -> list[str]:
    return list(dict.fromkeys(one.lot for one in made))


def _fitted(made: Sequence[LoggedTrial]) -> Calibration:
    return fit([one.dial for one in made], [one.angle for one in made], weak_prior())


def _creeps(made: Sequence[LoggedTrial], where: str) -> Finding | None:
    """Say when within one lot the dial moves with time: Student's test of a straight trend."""
    count = len(made)
    if count < ENOUGH:
        return None
    from scipy.special import stdtr

    dials, angles = np.array([(one.dial, one.angle) for one in made]).T
    # level, springback and the trend together, so that small bends first are no drift
    order = np.linspace(-0.5, 0.5, count)
    columns = np.stack((np.ones(count), angles - angles.mean(), order), axis=1)
    inverse = np.linalg.pinv(columns.T @ columns)
    answer = inverse @ columns.T @ dials
    rest = dials - columns @ answer
    scatter = math.sqrt(max(float(rest @ rest) / (count - 3), 1e-12))
    moved, doubt = float(answer[2]), scatter * math.sqrt(max(float(inverse[2, 2]), 0.0))
    if doubt <= 0 or abs(moved) < LEAST_DRIFT:
        return None
    chance = 2 * float(stdtr(count - 3, -abs(moved) / doubt))
    if chance >= ODD_LOT:
        return None
    lot = f", lot {made[0].lot}" if made[0].lot else ""
    what = (
        f"from {made[0].date} to {made[-1].date} the same bend has come to take {abs(moved):.1f}° "
        f"{'more' if moved > 0 else 'less'} on the dial, over {count} bends (were nothing "
        f"changing, so much would come by chance once in {1 / max(chance, 1e-4):.0f})"
    )
    mend = "look at clamp, pins and dial for wear; then make trial bends anew"
    return Finding("warn", f"{where}{lot}", what, mend)


def _of_lot(trials: Sequence[LoggedTrial]) -> LotDrift:
    known = _fitted(trials)
    one, dates = trials[0], [trial.date for trial in trials]
    return LotDrift(
        one.die,
        one.tubing,
        one.lot,
        min(dates),
        max(dates),
        len(trials),
        known.springback,
        known.springback_sd,
        known.dial_zero,
    )
