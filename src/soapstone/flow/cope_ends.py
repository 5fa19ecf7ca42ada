"""The coped ends of a job's tubes: each cut, ends that meet two tubes, what the plan says."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from soapstone.check.cope.joint import Cope, Plate, cope_onto_plate, cope_onto_tube
from soapstone.errors import InputError
from soapstone.findings import Finding, stops
from soapstone.flow.asked import needs_plan
from soapstone.job.model import Job
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import format_fine
from soapstone.textfiles import one_line


def copes_of(job: Job, tubes: Sequence[TubePlan | Unplanned]) -> tuple[Cope, ...]:
    """Find the cuts of every `[[cope]]` of a job; an end that meets two things gets one cut.

    Raises
    ------
    InputError
        One line naming what is wrong; a tube of a cope has no shape.
    """
    single = [_cope(job, tubes, number) for number in range(len(job.copes))]
    return tuple(
        _compound(
            one,
            [
                other
                for j, other in enumerate(single)
                if j != i and (other.tube, other.end) == (one.tube, one.end)
            ],
            next(tube for tube in tubes if tube.name == one.tube),
        )
        for i, one in enumerate(single)
    )


def _cope(job: Job, tubes: Sequence[TubePlan | Unplanned], number: int) -> Cope:
    wish = job.copes[number]
    where = f"{job.where}: cope[{number + 1}]"

    def shaped(name: str) -> TubePlan:
        return needs_plan(next(tube for tube in tubes if tube.name == name), where)

    tube = shaped(wish.tube)
    say = partial(format_fine, units=job.units)
    if isinstance(wish.onto, str):
        if wish.onto == wish.tube:
            raise InputError(one_line(f"{where}.onto: expected another tube"))
        other = shaped(wish.onto)
        return cope_onto_tube(tube, wish.end, wish.onto, other.shape, other.setup.od, say)
    plate = Plate(wish.onto.at, wish.onto.normal)
    if not any(math.fabs(value) > 0 for value in plate.normal):
        raise InputError(one_line(f"{where}.onto.normal: expected a direction"))
    return cope_onto_plate(tube, wish.end, plate, say)


def _compound(one: Cope, others: Sequence[Cope], tube: TubePlan | Unplanned) -> Cope:
    """Cut an end for all that it meets: at each place round the tube the deeper cut counts."""
    sound = [other for other in others if not stops(other.problems)]
    if not others or not isinstance(tube, TubePlan):
        return one
    if stops(one.problems) or len(sound) < len(others):
        return one
    degrees = np.array([at for at, _ in one.clear])
    deep = np.array([depth for _, depth in one.clear])
    for other in sound:
        angles, depths = np.array(other.clear).T
        there = degrees - one.line + other.line
        deep = np.maximum(deep, np.interp(there, angles, depths, period=360.0))
    tip = float(deep.min())
    names = " and ".join(f'"{name}"' for name in (one.onto, *(other.onto for other in sound)))
    what = f"its {one.end} end meets {names}: one cut for both, the deeper of the two all round"
    return replace(
        one,
        clear=tuple(zip(degrees.tolist(), deep.tolist(), strict=True)),
        tip=tip,
        saw=one.saw + (tip - one.tip if one.end == "A" else one.tip - tip),
        problems=(*one.problems, Finding("note", one.tube, what, "")),
    )


def with_copes(job: Job, tubes: Sequence[TubePlan | Unplanned]) -> list[TubePlan | Unplanned]:
    """Say with each coped tube where to saw it, and what is wrong with its copes.

    Copes whose tubes have no plan are left out: what stops those tubes is told anyway.
    """
    if not job.copes:
        return list(tubes)
    try:
        copes = copes_of(job, tubes)
    except InputError:
        return list(tubes)
    say = partial(format_fine, units=job.units)
    found: dict[str, list[Finding]] = {}
    for one in copes:
        mine = found.setdefault(one.tube, [])
        if not stops(one.problems):
            what = f'its {one.end} end is coped onto "{one.onto}": saw it square at {say(one.saw)}'
            mine.append(Finding("note", one.tube, what, "then cope it by its template"))
        mine += one.problems
    return [
        replace(tube, problems=tuple(dict.fromkeys((*tube.problems, *found[tube.name]))))
        if tube.name in found
        else tube
        for tube in tubes
    ]
