"""The bench as the shop has it: what it owns, how well each dial is known, what is doubtful."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.bench.calibrate import Calibration
from soapstone.bench.files import read_bench, starter_bench
from soapstone.bench.model import Bench, Die, Tubing, fits
from soapstone.bench.review import review_bench
from soapstone.bench.setup import calibration_for, prior_of, trials_for
from soapstone.bench.trial_checks import since_last_change
from soapstone.findings import Finding, Say
from soapstone.flow.remembering import Remembered, remembered
from soapstone.job.files import own_bench_path
from soapstone.plan.as_json import problems_json
from soapstone.quantities import format_size


def bench_at(path: Path | None) -> Bench:
    """Give the bench of a file, else the shop's own, else the starter bench, with logged bends."""
    return shop_at(path).bench


def shop_at(path: Path | None) -> Remembered:
    """Give the same bench with what was remarked on the bends that the shop log holds of it."""
    if path is not None:
        return remembered(read_bench(path))
    own = own_bench_path()
    return remembered(read_bench(own) if own else starter_bench())


@dataclass(frozen=True, slots=True)
class Pairing:
    """A die with a tubing that fits it, and what is known of the dial for the two."""

    die: Die
    tubing: Tubing
    calibration: Calibration

    @property
    def name(self) -> str:
        """The names of both, as one is chosen by."""
        return f"{self.die.name}, {self.tubing.name}"


@dataclass(frozen=True, slots=True)
class TrialBend:
    """A trial bend in degrees; `counts` is False for lots before the metal changed."""

    dial: float
    angle: float
    lot: str
    counts: bool


@dataclass(frozen=True, slots=True)
class ShownBench:
    """A bench, its pairings of die and tubing, and everything doubtful about it."""

    bench: Bench
    pairings: tuple[Pairing, ...]
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the bench as a JSON object, mm and degrees."""
        bench = self.bench.model_dump(mode="json", by_alias=True, exclude_none=True, warnings=False)
        # the lengths are in mm whatever the file is in
        bench["file_units"] = bench.pop("units")
        pairings = [
            {"die": one.die.name, "tubing": one.tubing.name, **one.calibration.as_json()}
            for one in self.pairings
        ]
        return {
            "file": str(self.bench.path) if self.bench.path else None,
            "bench": bench,
            "calibrations": pairings,
            "findings": problems_json(self.findings),
        }


def show_bench(path: Path | None) -> ShownBench:
    """Look a bench over: its own check, and the trial bends of every die and tubing."""
    shop = shop_at(path)
    bench = shop.bench
    found = [*review_bench(bench, length_writer(bench)), *shop.findings]
    pairings = []
    for die in bench.dies:
        for tubing in bench.tubings:
            if fits(die.od, tubing.od):
                calibration, doubtful = calibration_for(bench, die, tubing)
                pairings.append(Pairing(die, tubing, calibration))
                found += [one for one in doubtful if calibration.trials]
    return ShownBench(bench, tuple(pairings), tuple(dict.fromkeys(found)))


def length_writer(bench: Bench) -> Say:
    """Write lengths in the bench's units, with the digits that walls and diameters are sold by."""
    return partial(format_size, units=bench.units)


def trial_bends(bench: Bench, die: Die, tubing: Tubing) -> tuple[TrialBend, ...]:
    """Give every trial bend of a die and a tubing, and whether it speaks of today's metal."""
    trials = trials_for(bench, die, tubing)
    kept, _ = since_last_change(trials, prior_of(bench, die, tubing))
    lots = set(kept.lots)
    return tuple(
        TrialBend(dial, angle, lot, lot in lots)
        for dial, angle, lot in zip(trials.dials, trials.angles, trials.lots, strict=True)
    )
