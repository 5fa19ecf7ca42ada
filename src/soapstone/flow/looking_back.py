"""What the shop log holds, and how springback drifts from lot to lot."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.calibrate import fit, weak_prior
from soapstone.log.rows import LoggedTrial, short
from soapstone.log.store import Log


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


def drift(trials: Sequence[LoggedTrial]) -> tuple[LotDrift, ...]:
    """Give springback by die, tubing and lot, each die's lots in the order they were begun."""
    lots: dict[tuple[str, str, str], list[LoggedTrial]] = defaultdict(list)
    for trial in trials:
        lots[trial.die, trial.tubing, trial.lot].append(trial)
    found = [_of_lot(lot) for lot in lots.values()]
    return tuple(sorted(found, key=lambda one: (one.die, one.tubing, one.first, one.lot)))


def _of_lot(trials: Sequence[LoggedTrial]) -> LotDrift:
    known = fit([one.dial for one in trials], [one.angle for one in trials], weak_prior())
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
