"""What the shop log holds, and how springback drifts from lot to lot."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from soapstone.bench.calibrate import fit, weak_prior
from soapstone.log.store import LoggedTrial, Remnant, Run, log_path, open_log


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
class ShopLog:
    """What the shop log holds: runs, the newest first; bends, the newest first; remnants, lots."""

    path: Path
    runs: tuple[Run, ...] = ()
    trials: tuple[LoggedTrial, ...] = ()
    remnants: tuple[Remnant, ...] = ()
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
    with open_log(path) as store:
        rows = store.table("runs", [field.name for field in fields(Run)])
        runs = sorted((Run(*row) for row in rows), key=lambda run: run.started, reverse=True)
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
