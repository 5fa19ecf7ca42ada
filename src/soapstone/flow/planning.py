"""The main road: a job file and its bench become a plan."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench
from soapstone.bench.setup import Setup
from soapstone.check.wall import wall_findings
from soapstone.findings import Finding, Say, stops
from soapstone.job.files import bench_of, read_job
from soapstone.job.model import Job
from soapstone.plan.as_json import problems_json, tube_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.plan.tubes import plan_tubes
from soapstone.quantities import format_length
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
            "tubes": [tube_json(tube) for tube in self.tubes],
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
    say = length_writer(job, bench)
    shaped = resolve(job, bench, say)
    setups = [setup for _, setup in shaped]
    planned = plan_tubes([shape for shape, _ in shaped], setups, say)
    checked = tuple(_with_wall(tube, setup) for tube, setup in zip(planned, setups, strict=True))
    return JobPlan(job, bench, checked, tuple(_about_all(job, setups)))


def length_writer(job: Job, bench: Bench) -> Say:
    """Write lengths in the job's units, to the tape when it is graduated in them."""

    def say(length: float) -> str:
        return format_length(length, job.units, bench.tape)

    return say


def _with_wall(tube: TubePlan | Unplanned, setup: Setup) -> TubePlan | Unplanned:
    """Add what the bends do to the tube's wall."""
    if isinstance(tube, Unplanned) or not tube.bends:
        return tube
    found = wall_findings(setup.od, setup.wall, setup.clr, tube.name)
    return replace(tube, problems=(*tube.problems, *found))


def _about_all(job: Job, setups: Sequence[Setup]) -> list[Finding]:
    """What holds for the whole job: doubtful calibrations, keep-outs that planning does not see."""
    found = list(dict.fromkeys(doubt for setup in setups for doubt in setup.doubts))
    if job.keepouts:
        names = ", ".join(keepout.name for keepout in job.keepouts)
        found.append(Finding("note", "job", f"clearance to {names} is not checked by the plan"))
    return found
