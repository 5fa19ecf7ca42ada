"""How near each tube comes to the bender, the floor and itself, bend by bend as planned."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.bend.machine import machine_for
from soapstone.bend.order import Step, steps_in
from soapstone.bend.pose import stick_of
from soapstone.flow.clearing import states_in
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan, Unplanned


@dataclass(frozen=True, slots=True)
class BentTube:
    """A planned tube, and its steps held against the bender; no steps without bends or plan."""

    plan: TubePlan | Unplanned
    steps: tuple[Step, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the tube as a JSON object; gaps in mm, angles in degrees."""
        return {
            "name": self.plan.name,
            "steps": [_step_json(step) for step in self.steps],
            "problems": problems_json(self.plan.problems),
        }


def _step_json(step: Step) -> dict[str, Any]:
    return {
        "n": step.n,
        "lead": step.lead,
        "roll": step.roll,
        "lifted": step.lifted,
        "nearest": asdict(step.nearest) if step.nearest else None,
        "nears": [asdict(near) for near in step.nears],
    }


@dataclass(frozen=True, slots=True)
class BentJob:
    """A planned job whose tubes have been held against the bender at every step."""

    plan: JobPlan
    tubes: tuple[BentTube, ...]

    @property
    def sound(self) -> bool:
        """Whether every tube can be made as planned, and nothing is hit."""
        return self.plan.sound

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object."""
        return {
            "job": self.plan.job.name,
            "tubes": [tube.as_json() for tube in self.tubes],
            "findings": problems_json(self.plan.findings),
            "sound": self.sound,
        }


def bend_job(path: Path | str) -> BentJob:
    """Read a job, plan it, and find how near its tubes come to things in the bender."""
    return bend(plan_job(path))


def bend(planned: JobPlan) -> BentJob:
    """Find how near the tubes of a planned job come to things in the bender."""
    return BentJob(planned, tuple(_bend(tube, planned) for tube in planned.tubes))


def _bend(tube: TubePlan | Unplanned, planned: JobPlan) -> BentTube:
    if isinstance(tube, Unplanned) or not tube.bends:
        return BentTube(tube, ())
    where = machine_for(tube.setup, planned.bench.bender)
    return BentTube(tube, steps_in(stick_of(tube), where, states_in(tube)))
