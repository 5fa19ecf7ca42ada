"""A made tube, measured with a tape, is held against its job; its bends teach the bench."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.files import read_bench
from soapstone.check.inspect.answer import inspect
from soapstone.check.inspect.choosing import check_plan
from soapstone.check.inspect.files import blank, read_readings, taken_on
from soapstone.check.inspect.model import ToleranceTable
from soapstone.check.inspect.result import Inspection
from soapstone.check.inspect.tolerance import limits_for
from soapstone.errors import InputError
from soapstone.exchange.bench_toml import with_trial
from soapstone.faults import near
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.textfiles import LARGEST_TOML, one_line, read_text, refuse_file, write_whole


@dataclass(frozen=True, slots=True)
class Inspected:
    """What readings say of a made tube; `learnt` is the bench file that its bends were added to."""

    result: Inspection
    learnt: Path | None

    def as_json(self) -> dict[str, Any]:
        """Give the inspection as a JSON object, mm and degrees."""
        return {**self.result.as_json(), "learnt": str(self.learnt) if self.learnt else None}


@dataclass(frozen=True, slots=True)
class Asked:
    """A file of readings to fill in, where it was written, and what it asks for."""

    tube: str
    file: Path
    distances: int
    untold: tuple[tuple[str, int], ...]

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object."""
        return {
            "tube": self.tube,
            "file": str(self.file),
            "distances": self.distances,
            "untold": [{"what": what, "bend": bend} for what, bend in self.untold],
        }


def inspect_tube(
    job: Path, readings: Path, tube: str = "", learn: Path | None = None, date: str = ""
) -> Inspected:
    """Hold a made tube against its drawing; with `learn`, add its bends to that bench's trials.

    A tube with mistakes that are left open teaches no bench. `date` goes to the trial bends.

    Raises
    ------
    InputError
        One line naming the file, the key and what is expected.
    """
    data = read_readings(readings)
    if tube and data.tube and tube != data.tube:
        raise refuse_file(readings, f'tube: it is of "{data.tube}", and "{tube}" was asked for')
    planned = plan_job(job)
    plan = _tube(planned, tube or data.tube or "")
    taken = taken_on(plan, data, readings)
    result = inspect(
        taken, limits_for(plan, _wanted(planned, plan, data.tolerance)), planned.job.units
    )
    if learn is None or not result.trials or any(not one.sure for one in result.suspects):
        return Inspected(result, None)
    bench = read_bench(learn)
    bench.die(plan.setup.die)
    bench.tubing(plan.setup.tubing)
    bends = [(round(one.dial, 2), round(one.angle, 2)) for one in result.trials]
    setup = plan.setup
    try:
        text = with_trial(
            read_text(learn, LARGEST_TOML), setup.die, setup.tubing, bends, data.lot, date
        )
    except ValueError as fault:
        raise refuse_file(learn, str(fault)) from None
    write_whole(learn, text.encode())
    return Inspected(result, learn.absolute())


def blank_readings(job: Path, readings: Path, tube: str = "") -> Asked:
    """Write a file of readings to fill in for a tube; one that is there already is left alone."""
    if readings.exists():
        raise InputError(f"{readings}: it is there already; give a new name")
    if readings.suffix.lower() != ".toml":
        raise InputError(f"{readings}: expected a name ending in .toml")
    planned = plan_job(job)
    plan = _tube(planned, tube)
    chosen = check_plan(plan)
    write_whole(readings, blank(plan, planned.job.units).encode())
    return Asked(plan.name, readings.absolute(), len(chosen.distances), chosen.untold)


def _wanted(planned: JobPlan, plan: TubePlan, told: ToleranceTable) -> ToleranceTable:
    """Take from the job what the readings do not say of ends and class."""
    ends, grade = planned.job.tolerance_of(plan.name)
    if told.iso_13920 is not None:
        return told
    known = {"ends": told.ends or ends, "iso_13920": grade}
    return told.model_copy(update={key: value for key, value in known.items() if value})


def _tube(planned: JobPlan, name: str) -> TubePlan:
    """Give the plan of the tube asked for; a job of one tube needs no name."""
    names = [tube.name for tube in planned.tubes]
    if not name and len(names) != 1:
        listed = ", ".join(f'"{one}"' for one in names[:6]) or "a tube of the job, it has none"
        raise InputError(one_line(f"--tube: expected one of {listed}"))
    for tube in planned.tubes:
        if tube.name == (name or names[0]):
            if isinstance(tube, Unplanned):
                why = "; ".join(str(one) for one in tube.problems)
                raise InputError(one_line(f'tube "{tube.name}" has no plan to be held to: {why}'))
            return tube
    raise InputError(one_line(f'{planned.job.where}: no tube "{name}"{near(name, names)}'))
