"""A made tube, measured with a tape, is held against its job; its bends teach the bench."""

import hashlib
import json
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.files import read_bench
from soapstone.check.inspect.answer import inspect
from soapstone.check.inspect.choosing import check_plan
from soapstone.check.inspect.files import blank, read_readings, taken_on
from soapstone.check.inspect.model import Readings, ToleranceTable
from soapstone.check.inspect.result import Inspection
from soapstone.check.inspect.tolerance import limits_for
from soapstone.errors import InputError
from soapstone.exchange.bench_toml import with_trial
from soapstone.faults import near
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.flow.remembering import Remember
from soapstone.log.rows import Inspected as InspectedRow
from soapstone.log.rows import LoggedTrial, Run
from soapstone.log.store import log_path, open_log, read_log
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.textfiles import LARGEST_TOML, one_line, read_text, refuse_file, write_whole


@dataclass(frozen=True, slots=True)
class Inspected:
    """What readings say of a made tube.

    `learnt` is the bench file or the shop log that its bends were added to; `new` how many bends
    the log did not hold yet.
    """

    result: Inspection
    learnt: Path | None
    new: int | None = None

    def as_json(self) -> dict[str, Any]:
        """Give the inspection as a JSON object, mm and degrees."""
        return {
            **self.result.as_json(),
            "learnt": str(self.learnt) if self.learnt else None,
            "new": self.new,
        }


@dataclass(frozen=True, slots=True)
class Asked:
    """A file of readings to fill in, where it was written, and what it asks for."""

    tube: str
    file: Path
    distances: int
    untold: tuple[tuple[str, int], ...]
    heights: int = 0

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object."""
        return {
            "tube": self.tube,
            "file": str(self.file),
            "distances": self.distances,
            "heights": self.heights,
            "untold": [{"what": what, "bend": bend} for what, bend in self.untold],
        }


def inspect_tube(
    job: Path,
    readings: Path,
    tube: str = "",
    learn: Path | None = None,
    date: str = "",
    log: Path | None = None,
    *,
    keep: bool = False,
) -> Inspected:
    """Hold a made tube against its drawing; with `learn`, add its bends to that bench's trials.

    With `keep` they go into the shop log at `log`, the usual one for None, and so does the whole
    inspection. A tube with mistakes that
    are left open teaches nothing. `date` goes to the trial bends. A tube made with `run` is held
    against the plan of its run.

    Raises
    ------
    InputError
        One line naming the file, the key and what is expected.
    """
    data = read_readings(readings)
    held = hold(job, data, tube, log, readings)
    planned, plan, result = held.planned, held.plan, held.result
    teaches = bool(result.trials) and all(one.sure for one in result.suspects)
    if keep:
        return Inspected(result, *_keep(log_path(log), planned, plan, data, result, date, teaches))
    if learn is None or not teaches:
        return Inspected(result, None)
    bench = read_bench(learn)
    bench.die(plan.setup.die)
    bench.tubing(plan.setup.tubing)
    bends = [(round(one.dial, 2), round(one.angle, 2)) for one in result.trials]
    setup = plan.setup
    try:
        text = with_trial(
            read_text(learn, LARGEST_TOML),
            setup.die,
            setup.tubing,
            bends,
            data.lot,
            date,
            data.piece,
        )
    except ValueError as fault:
        raise refuse_file(learn, str(fault)) from None
    write_whole(learn, text.encode())
    return Inspected(result, learn.absolute())


@dataclass(frozen=True, slots=True)
class Held:
    """Readings held against the plan that their tube was made by."""

    planned: JobPlan
    plan: TubePlan
    result: Inspection


def hold(
    job: Path,
    data: Readings,
    tube: str,
    log: Path | None,
    where: Path | str = "readings",
    planned: JobPlan | None = None,
) -> Held:
    """Hold readings against the drawing; `where` names them in errors.

    `planned` is the job's plan as it is now, where it is at hand.

    Raises
    ------
    InputError
        They are of another tube, or name what it has not; or the tube has no plan.
    """
    if tube and data.tube and tube != data.tube:
        raise refuse_file(where, f'tube: it is of "{data.tube}", and "{tube}" was asked for')
    run = _run_of(log_path(log), data.piece)
    if planned is None or run is not None:
        planned = plan_job(job, _as_then(run, log))
    plan = _tube(planned, tube or data.tube or "")
    limits = limits_for(plan, _wanted(planned, plan, data.tolerance))
    result = inspect(taken_on(plan, data, where), limits, planned.job.units)
    return Held(planned, plan, result)


def _keep(
    log: Path,
    planned: JobPlan,
    plan: TubePlan,
    data: Readings,
    result: Inspection,
    date: str,
    teaches: bool,
) -> tuple[Path, int]:
    """Put an inspection into the log, and what it teaches; give the log and how much is new."""
    text = json.dumps(data.model_dump(mode="json", by_alias=True, exclude_none=True))
    piece = data.piece or hashlib.sha256(text.encode()).hexdigest()[:32]
    job = str(planned.job.path.resolve()) if planned.job.path else ""
    told = json.dumps(result.as_json())
    kept = InspectedRow(piece, job, plan.name, data.lot, date, text, told)
    setup = plan.setup
    trials = [
        LoggedTrial(
            f"{piece}:{one.bend}",
            setup.die,
            setup.tubing,
            data.lot,
            date,
            round(one.dial, 2),
            round(one.angle, 2),
            "inspection",
            setup.od,
            setup.wall,
            setup.clr,
        )
        for one in result.trials
        if teaches
    ]
    with open_log(log) as store:
        return log, len(store.learn(trials, kept))


def _run_of(log: Path, piece: str) -> Run | None:
    """Give the run that made a piece, where the log knows it."""
    if not piece or not log.is_file():
        return None
    with read_log(log) as store:
        return next((run for run in store.runs() if run.id == piece), None)


def _as_then(run: Run | None, log: Path | None) -> Remember:
    """Plan as a run was planned; without one, by all that is known."""
    if run is None:
        return Remember(log)
    return Remember(log, only=frozenset(json.loads(run.trials)), lot=run.lot)


def _made_last(log: Path, job: Path, tube: str) -> Run | None:
    """Give the run that a tube was finished in last and that was not inspected yet."""
    if not log.is_file():
        return None
    with read_log(log) as store:
        done = {one.id for one in store.inspections()}
        made = [one for one in store.runs() if one.ended and one.id not in done]
        told = {one.id.partition(":")[0] for one in store.trials()}
    where = str(job.resolve())
    found = [r for r in made if (r.job, r.tube) == (where, tube) and r.id in told]
    return max(found, key=lambda run: str(run.ended), default=None)


def blank_readings(job: Path, readings: Path, tube: str = "", log: Path | None = None) -> Asked:
    """Write a file of readings to fill in for a tube; one that is there already is left alone.

    It is of the piece that was made last with `run` and not inspected yet, where there is one.
    """
    if readings.exists():
        raise InputError(f"{readings}: it is there already; give a new name")
    if readings.suffix.lower() != ".toml":
        raise InputError(f"{readings}: expected a name ending in .toml")
    plan, text = blank_for(job, tube, log)
    write_whole(readings, text.encode())
    chosen = check_plan(plan)
    return Asked(
        plan.name,
        readings.absolute(),
        len(chosen.distances),
        chosen.untold,
        len(chosen.heights),
    )


def blank_for(
    job: Path, tube: str = "", log: Path | None = None, planned: JobPlan | None = None
) -> tuple[TubePlan, str]:
    """Give the plan a tube was made by, and the text of a file of readings to fill in for it.

    `planned` is the job's plan as it is now, where it is at hand.
    """
    if planned is None:
        planned = plan_job(job, Remember(log))
    plan = _tube(planned, tube)
    run = _made_last(log_path(log), job, plan.name)
    if run is not None:
        planned = plan_job(job, _as_then(run, log))
        plan = _tube(planned, plan.name)
    piece, lot = (uuid.uuid4().hex, "") if run is None else (run.id, run.lot)
    return plan, blank(plan, planned.job.units, piece, lot)


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
