"""A checked job against the rule sets of codes that were chosen for it."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from soapstone.check.codes.judging import judge
from soapstone.check.codes.model import Checked, Guard, RuleSet, Ruling
from soapstone.check.codes.rules import CAUTION, RULE_SETS
from soapstone.errors import InputError
from soapstone.faults import Fault, near, refuse_faults
from soapstone.flow.planning import JobPlan
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job, Rail
from soapstone.job.tooling import tubing_of
from soapstone.quantities import format_size
from soapstone.textfiles import one_line

__all__ = ["CAUTION", "chosen_sets", "codes_json", "rule_sets", "rulings_of"]

UP: Vec3 = (0.0, 0.0, 1.0)


def codes_json() -> dict[str, Any]:
    """Give all rule sets as a JSON object: names, publications, rules with their sources."""
    return {
        "codes": [
            {
                "name": one.name,
                "publication": one.publication,
                "about": one.about,
                "rules": [{"rule": rule.asks, "source": rule.clause} for rule in one.rules],
            }
            for one in RULE_SETS
        ],
        "caution": CAUTION,
    }


def rule_sets(names: Sequence[str], where: str) -> tuple[RuleSet, ...]:
    """Give the rule sets of these names, each once; an InputError names one that is not known."""
    known = {one.name: one for one in RULE_SETS}
    for name in names:
        if name not in known:
            hint = near(name, known)
            raise InputError(one_line(f'{where}: no rule set "{name[:40]}"{hint}'))
    return tuple(known[name] for name in dict.fromkeys(names))


def chosen_sets(job: Job, asked: Sequence[str]) -> tuple[RuleSet, ...]:
    """Give the rule sets that a job's file and the user ask for."""
    of_file = rule_sets(job.codes, f"{job.where}: codes")
    return tuple(dict.fromkeys((*of_file, *rule_sets(asked, "--code"))))


def rulings_of(
    planned: JobPlan, gaps: dict[str, tuple[float, str]], sets: Sequence[RuleSet]
) -> tuple[Ruling, ...]:
    """Hold a planned job against rule sets.

    `gaps` are each tube's certified least gap in mm and to what, by name.
    """
    tubes = {}
    for tube in planned.planned:
        tubing = tubing_of(planned.job, planned.job.tube(tube.name), planned.bench)
        strength = planned.bench.material(tubing.material).yield_strength
        tubes[tube.name] = Checked(tube, strength, *gaps.get(tube.name, (None, "")))
    guards = [_guard(planned.job, i, rail, tubes) for i, rail in enumerate(planned.job.rails, 1)]
    say = partial(format_size, units=planned.job.units)
    made = [guard for guard in guards if guard.tubes]
    return judge(sets, tuple(tubes.values()), made, say)


def _guard(job: Job, number: int, rail: Rail, tubes: dict[str, Checked]) -> Guard:
    """Find a rail's tubes and floor; a tube without a plan is passed over."""
    at, up = _floor(job, number, rail)
    name = f"rail of {rail.tubes[0]}"
    found = tuple(tubes[tube] for tube in dict.fromkeys(rail.tubes) if tube in tubes)
    return Guard(name, found, at, up, rail.grip)


def _floor(job: Job, number: int, rail: Rail) -> tuple[Vec3 | None, Vec3]:
    if rail.above is None:
        return None, UP
    floors = {one.name: one.halfspace for one in job.keepouts if one.halfspace is not None}
    if rail.above in floors:
        floor = floors[rail.above]
        return floor.at, floor.normal
    if rail.above in job.points:
        return job.points[rail.above], UP
    hint = near(rail.above, [*floors, *job.points])
    what = f'no halfspace keep-out or point named "{rail.above}"{hint}'
    raise refuse_faults(job.where, [Fault(f"rail[{number}].above", what)])
