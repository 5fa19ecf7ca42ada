"""Whether a job's tubes clear what is around them, and where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.check.codes.judging import ruling_findings
from soapstone.check.codes.model import Ruling
from soapstone.findings import Finding, Say, stops
from soapstone.fit.clearance import Clearance, clearance_findings, clearances
from soapstone.fit.keepouts import keepouts_for
from soapstone.fit.self_clearance import self_clearance, self_clearance_findings
from soapstone.flow.coding import chosen_sets, rulings_of
from soapstone.flow.planning import ROOM, JobPlan, plan_job
from soapstone.geometry.centreline import Centreline
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import format_fine


@dataclass(frozen=True, slots=True)
class CheckedTube:
    """One tube against everything around it: its plan with what was found, its gaps in order."""

    plan: TubePlan | Unplanned
    gaps: tuple[Clearance, ...]

    @property
    def problems(self) -> tuple[Finding, ...]:
        """All that is wrong with the tube or doubtful about it."""
        return self.plan.problems

    @property
    def tightest(self) -> Clearance | None:
        """The keep-out it comes nearest to; None when there is none, or the tube has no shape."""
        return min(self.gaps, key=lambda one: one.gap, default=None)

    def as_json(self) -> dict[str, Any]:
        """Give the tube as a JSON object; lengths in mm, hinge angles in degrees."""
        tightest = self.tightest
        return {
            "name": self.plan.name,
            "clearance": tightest.gap if tightest else None,
            "nearest": tightest.keepout if tightest else None,
            "at": _place_json(tightest) if tightest else None,
            "gaps": [
                {"keepout": one.keepout, "gap": one.gap, "wanted": one.wanted, **_place_json(one)}
                for one in self.gaps
            ],
            "problems": problems_json(self.problems),
        }


def _place_json(gap: Clearance) -> dict[str, Any]:
    return {
        "along": gap.along,
        "point": list(gap.point),
        "nearest_point": list(gap.nearest),
        "hinges": list(gap.angles),
    }


@dataclass(frozen=True, slots=True)
class CheckedJob:
    """A planned job whose tubes have been held against everything around them.

    The plan has what was found among its tubes' problems. `rulings` are of the codes chosen.
    """

    plan: JobPlan
    tubes: tuple[CheckedTube, ...]
    rulings: tuple[Ruling, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether every tube can be made, is clear, and fails no rule of the codes chosen."""
        return self.plan.sound and not stops(self.code_findings)

    @property
    def code_findings(self) -> tuple[Finding, ...]:
        """What fails by the codes, and what was not checked."""
        return tuple(ruling_findings(self.rulings))

    def as_json(self) -> dict[str, Any]:
        """Give the check as a JSON object."""
        return {
            "job": self.plan.job.name,
            "tubes": [tube.as_json() for tube in self.tubes],
            "codes": [ruling.as_json() for ruling in self.rulings],
            "findings": problems_json((*self.plan.findings, *self.code_findings)),
            "sound": self.sound,
        }


def check_job(path: Path | str, codes: Sequence[str] = ()) -> CheckedJob:
    """Read a job, plan it and certify its clearances over the whole travel of what moves.

    It is held against the rule sets that its file names, and those named in `codes`.
    """
    return check(plan_job(path), codes)


def check(planned: JobPlan, codes: Sequence[str] = ()) -> CheckedJob:
    """Certify the clearances of a planned job, and hold it against codes."""
    sets = chosen_sets(planned.job, codes)
    rods = shapes_of(planned)
    say = partial(format_fine, units=planned.job.units)
    tubes = tuple(_check(tube, planned, rods, say) for tube in planned.tubes)
    looked_at = replace(
        planned,
        tubes=tuple(tube.plan for tube in tubes),
        unseen=tuple(what for what in planned.unseen if what != ROOM),
    )
    return CheckedJob(looked_at, tubes, rulings_of(looked_at, _least_gaps(tubes), sets))


def _least_gaps(tubes: Sequence[CheckedTube]) -> dict[str, tuple[float, str]]:
    return {
        tube.plan.name: (tube.tightest.gap, tube.tightest.keepout)
        for tube in tubes
        if tube.tightest is not None
    }


def shapes_of(planned: JobPlan) -> dict[str, tuple[Centreline, float]]:
    """Give free centreline and outside diameter of the tubes that have a shape, by name."""
    return {tube.name: (tube.shape, tube.setup.od) for tube in planned.planned}


def _check(
    tube: TubePlan | Unplanned,
    planned: JobPlan,
    rods: Mapping[str, tuple[Centreline, float]],
    say: Say,
) -> CheckedTube:
    if isinstance(tube, Unplanned):
        return CheckedTube(tube, ())
    wish = planned.job.tube(tube.name)
    gaps = clearances(tube.shape, tube.setup.od, keepouts_for(planned.job, wish, rods))
    itself = self_clearance(tube.shape, tube.setup.od)
    problems = (
        *tube.problems,
        *clearance_findings(tube.name, gaps, say),
        *self_clearance_findings(tube.name, itself, 0.0, say),
    )
    return CheckedTube(replace(tube, problems=problems), gaps)
