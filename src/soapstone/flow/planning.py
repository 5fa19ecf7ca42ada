"""The main road: a job file and its bench become a plan."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench
from soapstone.bench.setup import Setup
from soapstone.check.wall import wall_change, wall_findings
from soapstone.findings import Finding, Say, stops
from soapstone.job.files import bench_of, read_job
from soapstone.job.model import Job
from soapstone.plan.as_json import problems_json, tube_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.plan.tubes import plan_tubes
from soapstone.quantities import Units, format_length, format_size, parse_tape
from soapstone.shape.resolve import resolve


@dataclass(frozen=True, slots=True)
class JobPlan:
    """A job with its bench, the plans of its tubes in the job's order, and what holds for all."""

    job: Job
    bench: Bench
    tubes: tuple[TubePlan | Unplanned, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def planned(self) -> tuple[TubePlan, ...]:
        """The tubes that have a plan."""
        return tuple(tube for tube in self.tubes if isinstance(tube, TubePlan))

    @property
    def sound(self) -> bool:
        """Whether every tube can be made as planned."""
        return not any(stops(tube.problems) for tube in self.tubes)

    def as_json(self) -> dict[str, Any]:
        """Give the plan as a JSON object in mm, degrees and kg."""
        return {
            "job": self.job.name,
            "tubes": [{**tube_json(tube), "wall": wall_json(tube)} for tube in self.tubes],
            "findings": problems_json(self.findings),
            "sound": self.sound,
        }


def plan_job(path: Path | str) -> JobPlan:
    """Read a job and its bench and plan every tube: the main road through soapstone.

    Raises
    ------
    InputError
        One line naming the file, the key and what is expected.
    """
    job = read_job(path)
    bench = bench_of(job)
    return plan(job, bench)


def plan(job: Job, bench: Bench) -> JobPlan:
    """Plan every tube of a job on a bench."""
    say = length_writer(job.units)
    shaped = resolve(job, bench, say)
    setups = [setup for _, setup in shaped]
    planned = plan_tubes([shape for shape, _ in shaped], setups, say)
    size = partial(format_size, units=job.units)
    checked = tuple(_with_wall(tube, size) for tube in planned)
    return JobPlan(job, bench, checked, tuple(_about_all(job, setups)))


FINE = {"mm": parse_tape("0.1 mm"), "in": parse_tape("1/32 in")}
"""How finely findings write lengths; what is less is written as a size."""


def length_writer(units: Units) -> Say:
    """Write lengths in the job's units, a length in inches by its fraction."""

    def say(length: float) -> str:
        if abs(length) < FINE[units].step_mm:
            return format_size(length, units)
        return format_length(length, units, FINE[units])

    return say


def _with_wall(tube: TubePlan | Unplanned, size: Say) -> TubePlan | Unplanned:
    """Add what the bends do to the tube's wall."""
    if isinstance(tube, Unplanned) or not tube.bends:
        return tube
    setup = tube.setup
    found = wall_findings(setup.od, setup.wall, setup.clr, tube.name, size)
    return replace(tube, problems=(*tube.problems, *found))


def _about_all(job: Job, setups: Sequence[Setup]) -> list[Finding]:
    """What holds for the whole job: doubtful calibrations, keep-outs that planning does not see."""
    found = list(dict.fromkeys(doubt for setup in setups for doubt in setup.doubts))
    if job.keepouts:
        names = ", ".join(keepout.name for keepout in job.keepouts)
        found.append(Finding("note", "job", f"clearance to {names} is not checked by the plan"))
    return found


def wall_json(tube: TubePlan | Unplanned) -> dict[str, Any] | None:
    """Give the wall and roundness to expect of a tube's bends, in mm and per cent."""
    if isinstance(tube, Unplanned) or not tube.bends or tube.setup.clr <= tube.setup.od / 2:
        return None
    return asdict(wall_change(tube.setup.od, tube.setup.wall, tube.setup.clr))
