"""Make a tube step by step; each step confirmed is in the shop log before anything else is done."""

import json
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.check.inspect.choosing import check_distances
from soapstone.errors import InputError
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.flow.remembering import Remember
from soapstone.flow.rescuing import rescue_of, tube_of
from soapstone.flow.run_words import step_words
from soapstone.log.rows import LoggedTrial, Run, Stick, named, short
from soapstone.log.store import Log, open_log, read_log
from soapstone.plan.as_json import tube_json
from soapstone.plan.guide import Event, Rescuer, Said, State, after, fold
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.facts import NOT_BENT
from soapstone.plan.rescue.model import Rescue
from soapstone.textfiles import one_line

Clock = Callable[[], str]


@dataclass(frozen=True, slots=True)
class Running:
    """A tube being made: its plan, its run in the log, where it stands.

    `offer` is the rescue on offer, when a bend has gone too far. `resumed` tells whether the run
    was begun before.
    """

    planned: JobPlan
    drawn: TubePlan
    run: Run
    state: State
    offer: Rescue | None
    resumed: bool

    @property
    def words(self) -> tuple[str, ...]:
        """What to do now, a line each."""
        distances = check_distances(self.state.plan) if self.state.step.kind == "check" else ()
        return step_words(self.state, self.planned.job.units, distances, self.offer)

    def as_json(self) -> dict[str, Any]:
        """Give where the run stands as a JSON object, mm and degrees."""
        step = self.state.step
        return {
            "job": self.planned.job.name,
            "tube": self.drawn.name,
            "lot": self.run.lot,
            "run": self.run.id,
            "step": self.state.number,
            "kind": step.kind,
            "bend": step.bend.n if step.bend else None,
            "dial": step.dial,
            "measured": step.measured,
            "words": list(self.words),
            "left": len(self.state.todo) - 1,
            "made": [{"n": one.n, "angle": one.angle, "dial": one.dial} for one in self.state.made],
            "rescue": None if self.offer is None else self.offer.sound,
            "finished": self.state.finished,
        }


@contextmanager
def running(
    path: Path,
    tube: str,
    lot: str,
    log: Path,
    now: Clock,
    *,
    fresh: bool = False,
    begin: bool = True,
) -> Iterator["OpenRun"]:
    """Open the run of a job's tube: the unfinished one where there is one, else a new one.

    `now` gives date and time as text; `fresh` gives an unfinished run up and begins anew; without
    `begin` no run is begun.

    Raises
    ------
    InputError
        The job, the tube or the log is wrong, or the plan is another than when the run was begun.
    """
    with open_log(log) as store:
        if not begin and store.open_run(str(path.resolve()), _tube_named(path, tube)) is None:
            raise InputError(f"{tube or path.stem}: no run of it is open")
        yield _begun(store, path, tube, lot, now, fresh)


def run_named(given: Path, tube: str, log: Path) -> tuple[Path, str]:
    """Give the job file and the tube that are meant by a path, or by the name of an open run.

    An open run is named by the short name that the list shows, its job's name, its job file's name
    with or without ending, or its tube.

    Raises
    ------
    InputError
        There is neither such a file nor one such run.
    """
    name = str(given)
    if given.is_file() or not log.is_file():
        return given, tube
    with read_log(log) as store:
        every = store.runs(still_open=True)
    meant = [run for run in every if _is_called(run, name) and tube in ("", run.tube)]
    if len(meant) == 1:
        return Path(meant[0].job), meant[0].tube
    if meant:
        listed = ", ".join(f'{short(run.id)} "{run.tube}"' for run in meant[:6])
        raise InputError(one_line(f'"{name}" names several open runs; give one of {listed}'))
    raise InputError(
        one_line(f'there is no job file "{name}" and no open run of that name; see run --list')
    )


def _is_called(run: Run, name: str) -> bool:
    file = Path(run.job)
    return named(run.id, name) or name.casefold() in (
        run.title.casefold(),
        file.name.casefold(),
        file.stem.casefold(),
        run.tube.casefold(),
    )


def _tube_named(path: Path, tube: str) -> str:
    return tube or tube_of(plan_job(path, Remember(left_out=True)), "", path).name


def plan_text(drawn: TubePlan) -> str:
    """Give a tube's plan as its run keeps it, to tell later whether it is still the same."""
    return json.dumps(tube_json(drawn), sort_keys=True)


def remembered_by(run: Run, log: Path) -> Remember:
    """Say which logged bends a run was planned from."""
    return Remember(log, only=frozenset(json.loads(run.trials)), lot=run.lot)


def _begun(store: Log, path: Path, tube: str, lot: str, now: Clock, fresh: bool) -> "OpenRun":
    """Take up the unfinished run of a tube, with the bends it was planned from, or begin one."""
    job = str(path.resolve())
    name = _tube_named(path, tube)
    run = store.open_run(job, name)
    if run is not None and fresh:
        store.end(run.id, now())
        run = None
    how = Remember(store.path, lot=lot) if run is None else remembered_by(run, store.path)
    planned = plan_job(path, how)
    drawn = tube_of(planned, name, path)
    plan = plan_text(drawn)
    if run is None:
        used = json.dumps(_counted(planned))
        begun = Run(
            uuid.uuid4().hex, job, drawn.name, lot, now(), plan, None, planned.job.name, used
        )
        store.start(begun)
        return OpenRun(store, planned, drawn, begun, now, resumed=False)
    if run.plan != plan:
        raise InputError(
            f"{drawn.name}: its plan has changed since this run was begun; put job and bench back "
            "as they were, or begin anew with --fresh"
        )
    if lot and lot != run.lot:
        raise InputError(
            f"--lot: this run was begun with lot {run.lot or 'unnamed'!r}; begin anew with --fresh"
        )
    return OpenRun(store, planned, drawn, run, now, resumed=True)


def _counted(planned: JobPlan) -> list[str]:
    """All logged bends of the plan's dies and tubings, also those of lots before the last change.

    A run taken up again is planned from these and from none that were made since.
    """
    return sorted(trial.piece for trial in planned.bench.logged)


@dataclass(frozen=True, slots=True)
class OpenRun:
    """An open run and the log it is kept in."""

    store: Log
    planned: JobPlan
    drawn: TubePlan
    run: Run
    now: Clock
    resumed: bool

    @property
    def _rescuer(self) -> Rescuer:
        return lambda made: rescue_of(self.planned, self.drawn, made)

    def look(self) -> Running:
        """Give where the run stands by the log."""
        return self._told(self._state())

    def _state(self) -> State:
        said = [Event(**event) for event in self.store.events(self.run.id)]
        return fold(self.drawn, said, self._rescuer)

    def say(self, kind: Said, angle: float | None = None, number: int | None = None) -> Running:
        """Record what was done at the present step, or at step `number`, and go on from it.

        Raises
        ------
        InputError
            It does not fit the step, or the log could not keep it: then nothing has changed.
        """
        state = self._state()
        event = Event(state.number if number is None else number, kind, angle)
        later = after(state, event, self.drawn, self._rescuer)
        told = self._told(later)  # refuses an angle that cannot be, before it is recorded
        at = self.now()
        self.store.confirm(
            self.run.id,
            event.number,
            asdict(event),
            at,
            ended=later.finished,
            trials=self._trials(later, at) if later.finished else (),
            remnants=self._remnants(later, at) if later.finished else (),
        )
        return told

    def _told(self, state: State) -> Running:
        over = state.step.kind == "overshot"
        offer = rescue_of(self.planned, self.drawn, state.made) if over else None
        return Running(self.planned, self.drawn, self.run, state, offer, self.resumed)

    def _trials(self, state: State, at: str) -> list[LoggedTrial]:
        setup, run = self.drawn.setup, self.run
        return [
            LoggedTrial(
                f"{run.id}:{one.n}",
                setup.die,
                setup.tubing,
                run.lot,
                at[:10],
                one.dial,
                one.angle,
                "run",
                setup.od,
                setup.wall,
                setup.clr,
            )
            for one in state.made
            if one.dial is not None and one.angle >= NOT_BENT
        ]

    def _remnants(self, state: State, at: str) -> list[Stick]:
        run, tubing = self.run, self.drawn.setup.tubing
        return [
            Stick(f"{run.id}:{cut.end}", tubing, run.lot, at[:10], cut.offcut, cut_from=run.id)
            for cut in state.plan.cuts
            if cut.offcut > 0
        ]
