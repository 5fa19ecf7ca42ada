"""Whether a job's tubes, as one frame, carry their loads."""

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from soapstone.bench.model import Bench
from soapstone.check.strength.bolts import (
    BoltGroup,
    BoltLoad,
    at_corners,
    bolt_loads,
    on_circle,
)
from soapstone.check.strength.cases import least, solve_cases
from soapstone.check.strength.frame import solver_of
from soapstone.check.strength.model import Carried, CaseResult, Frame, FrameTube, Held, Weld
from soapstone.check.strength.modes import first_note
from soapstone.errors import InputError
from soapstone.findings import Finding, stops
from soapstone.flow.asked import needs_plan
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.geometry.along import nearest_along
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.measure import length
from soapstone.geometry.vectors import Vec3
from soapstone.job.frame import Bolts, Load, Support
from soapstone.job.model import Job
from soapstone.job.tooling import tubing_of
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan
from soapstone.textfiles import one_line

WANTED = 1.5
"""The reserve on yield asked for where nothing else is said: common practice for a steady load."""

OFF = 2.0
"""Diameters: a joint or support farther than this from its tube's centreline is a slip."""

CAUTION = (
    "this is no engineer's approval: have what people trust their lives to checked by one who is "
    "licensed, and keep to the codes that rule where it is used"
)


@dataclass(frozen=True, slots=True)
class StrongJob:
    """A job's load cases, its lowest note in Hz, and what is doubtful."""

    plan: JobPlan
    cases: tuple[CaseResult, ...]
    note: float
    wanted: float
    findings: tuple[Finding, ...]
    frame: Frame
    file: Path | None = None

    @property
    def sound(self) -> bool:
        """Whether the tubes can be made, and keep the reserve asked for in every case."""
        return not stops(self.findings)

    def bolts(self, case: CaseResult) -> tuple[BoltLoad | None, ...]:
        """What the bolts of each support hold in a case; None where the job names no bolts."""
        supports = zip(self.plan.job.supports, case.supports, strict=True)
        return tuple(
            bolt_loads(_group(wish.bolts), held.force, held.moment) if wish.bolts else None
            for wish, held in supports
        )

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object: mm, N, N m, MPa, Hz."""
        return {
            "job": self.plan.job.name,
            "cases": [_case_json(one, self.bolts(one)) for one in self.cases],
            "reserve": least(self.cases),
            "wanted": self.wanted,
            "frequency": self.note,
            "findings": problems_json(self.findings),
            "caution": CAUTION,
            "sound": self.sound,
            **({"file": str(self.file)} if self.file else {}),
        }


def _case_json(one: CaseResult, bolts: tuple[BoltLoad | None, ...]) -> dict[str, Any]:
    return {
        "case": one.case,
        "supports": [
            {**asdict(support), **({"bolts": asdict(held)} if held else {})}
            for support, held in zip(one.supports, bolts, strict=True)
        ],
        "deflection": one.deflection,
        "deflected": {"tube": one.deflected[0], "at": one.deflected[1]},
        "stress": one.stress,
        "reserve": one.reserve,
        "worst": {
            "tube": one.worst.tube,
            "at": one.worst.along,
            "point": list(one.worst.point),
            "by_weld": one.worst.by_weld,
        },
        "tubes": [asdict(tube) for tube in one.tubes],
        "buckling": one.buckling,
    }


def _group(bolts: Bolts) -> BoltGroup:
    if bolts.circle is not None:
        places = on_circle(bolts.count, bolts.circle)
    else:
        assert bolts.rectangle is not None
        places = at_corners(*bolts.rectangle)
    return BoltGroup(places, bolts.normal, bolts.along, bolts.size)


def strength_job(path: Path, wanted: float = WANTED, *, own_weight: bool = False) -> StrongJob:
    """Solve a job's frame under every load case.

    Parameters
    ----------
    wanted
        The least yield over stress, and the least factor on buckling, that may pass.
    own_weight
        Whether the tubes' own weight acts in every case too.

    Raises
    ------
    InputError
        One line naming what is wrong with the job, or what nothing holds.
    """
    return strength_of(plan_job(path), wanted, own_weight=own_weight)


def strength_of(planned: JobPlan, wanted: float = WANTED, *, own_weight: bool = False) -> StrongJob:
    """Solve the frame of a job that is planned: see `strength_job`."""
    if not 0 < wanted <= 100:
        raise InputError("--reserve: expected a number above 0, at most 100")
    frame = frame_of(planned, own_weight=own_weight)
    try:
        cases = _solved(frame)
        note = first_note(solver_of(_humming(frame)))
    except InputError as error:
        raise InputError(one_line(f"{planned.job.where}: {error}")) from None
    faults = [stop for tube in planned.tubes for stop in stops(tube.problems)]
    return StrongJob(planned, cases, note, wanted, (*faults, *_findings(cases, wanted)), frame)


def _solved(frame: Frame) -> tuple[CaseResult, ...]:
    """Solve each case by itself: what carries a load of one case stiffens no other."""
    names = list(dict.fromkeys(load.case for load in frame.loads))
    if not names:
        return solve_cases(solver_of(frame))
    found: list[CaseResult] = []
    for name in names:
        own = tuple(load for load in frame.loads if load.case == name)
        found += solve_cases(solver_of(replace(frame, loads=own)))
    return tuple(found)


def _humming(frame: Frame) -> Frame:
    """Leave what has mass of the loads."""
    return replace(frame, loads=tuple(load for load in frame.loads if load.mass > 0))


def _findings(cases: tuple[CaseResult, ...], wanted: float) -> list[Finding]:
    found = []
    for one in cases:
        where = f'case "{one.case}"'
        if one.reserve < wanted:
            by = ", beside a weld" if one.worst.by_weld else ""
            what = (
                f'"{one.worst.tube}" yields at {one.reserve:.2f} of {wanted:g} times the load{by}'
            )
            mend = "a thicker wall, a larger tube, a brace, or less load"
            found.append(Finding("stop", where, what, mend))
        if one.buckling < wanted:
            what = f"it buckles at {one.buckling:.2f} of {wanted:g} times the load"
            found.append(Finding("stop", where, what, "shorten what is pressed, or brace it"))
    return found


def frame_of(planned: JobPlan, *, own_weight: bool = False) -> Frame:
    """Bring together a job's tubes, joints, supports and loads as one frame.

    Raises
    ------
    InputError
        A tube has no shape, there is no support or no load, or something is given far off its tube.
    """
    job = planned.job
    tubes = {tube.name: needs_plan(tube, job.where) for tube in planned.tubes}
    if not job.supports:
        raise InputError(one_line(f"{job.where}: support: expected one at least; nothing holds it"))
    if not job.loads and not own_weight:
        raise InputError(one_line(f"{job.where}: load: expected one at least; it carries nothing"))
    made = tuple(_frame_tube(tube, job, planned.bench) for tube in tubes.values())
    return Frame(
        made,
        tuple(_held(one, tubes, job) for one in job.supports),
        tuple(
            Weld(tuple(_place(tubes[name], joint.at, job, "joint") for name in joint.tubes))
            for joint in job.joints
        ),
        tuple(_carried(load, tubes, job) for load in job.loads),
        own_weight,
    )


def _frame_tube(tube: TubePlan, job: Job, bench: Bench) -> FrameTube:
    tubing = tubing_of(job, job.tube(tube.name), bench)
    metal = bench.material(tubing.material)
    return FrameTube(
        tube.name,
        tube.shape,
        tube.setup.od,
        tube.setup.wall,
        metal.e,
        metal.yield_strength,
        metal.yield_beside_weld,
        metal.density,
    )


def _held(support: Support, tubes: dict[str, TubePlan], job: Job) -> Held:
    tube = tubes[support.tube]
    flags = [one in support.fix for one in ("x", "y", "z", "rx", "ry", "rz")]
    fix = (flags[0], flags[1], flags[2], flags[3], flags[4], flags[5])
    if isinstance(support.at, str):
        along = 0.0 if support.at == "A" else length(tube.shape)
        return Held(support.tube, along, support.at, fix)
    name, along = _place(tube, support.at, job, "support")
    return Held(name, along, " ".join(f"{value:g}" for value in support.at), fix)


def _place(tube: TubePlan, at: Vec3, job: Job, what: str) -> tuple[str, float]:
    along, off = _nearest(tube.shape, at)
    if off > OFF * tube.setup.od:
        raise InputError(
            one_line(f'{job.where}: {what} at {list(at)}: {off:.0f} mm off "{tube.name}"; move it')
        )
    return tube.name, along


def _nearest(line: Centreline, at: Vec3) -> tuple[float, float]:
    """Give the mm from the A end of the place nearest to a point, and how far off that is."""
    along, off = nearest_along(line, np.array([at], dtype=float))
    return float(along[0]), float(off[0])


def _carried(load: Load, tubes: dict[str, TubePlan], job: Job) -> Carried:
    onto = []
    for one in load.onto:
        if isinstance(one, str):
            along, _ = _nearest(tubes[one].shape, load.at)
            onto.append((one, along))
        else:
            near = {name: _nearest(tube.shape, one) for name, tube in tubes.items()}
            name = min(near, key=lambda name: near[name][1])
            along, off = near[name]
            if off > OFF * tubes[name].setup.od:
                what = f'load onto {list(one)}: "{name}", the nearest tube, is {off:.0f} mm off'
                raise InputError(one_line(f"{job.where}: {what}; give a point on a tube"))
            onto.append((name, along))
    return Carried(load.case, load.at, load.vector, tuple(onto), load.mass or 0.0)
