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
from soapstone.flow.rescuing import rescue_of, tube_of
from soapstone.flow.run_words import step_words
from soapstone.log.store import Log, LoggedTrial, Remnant, Run, open_log
from soapstone.plan.as_json import tube_json
from soapstone.plan.guide import Event, Rescuer, Said, State, after, fold
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.facts import NOT_BENT
from soapstone.plan.rescue.model import Rescue

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
    planned = plan_job(path)
    drawn = tube_of(planned, tube, path)
    with open_log(log) as store:
        if not begin and store.open_run(str(path.resolve()), drawn.name) is None:
            raise InputError(f"{drawn.name}: no run of it is open")
        yield _begun(store, planned, drawn, str(path.resolve()), lot, now, fresh)


def plan_text(drawn: TubePlan) -> str:
    """Give a tube's plan as its run keeps it, to tell later whether it is still the same."""
    return json.dumps(tube_json(drawn), sort_keys=True)


def _begun(
    store: Log, planned: JobPlan, drawn: TubePlan, job: str, lot: str, now: Clock, fresh: bool
) -> "OpenRun":
    plan = plan_text(drawn)
    run = store.open_run(job, drawn.name)
    if run is not None and fresh:
        store.end(run.id, now())
        run = None
    if run is None:
        begun = Run(uuid.uuid4().hex, job, drawn.name, lot, now(), plan)
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
                f"{run.id}:{one.n}", setup.die, setup.tubing, run.lot, at[:10], one.dial, one.angle
            )
            for one in state.made
            if one.dial is not None and one.angle >= NOT_BENT
        ]

    def _remnants(self, state: State, at: str) -> list[Remnant]:
        run, tubing = self.run, self.drawn.setup.tubing
        return [
            Remnant(f"{run.id}:{cut.end}", tubing, run.lot, at[:10], cut.offcut)
            for cut in state.plan.cuts
            if cut.offcut > 0
        ]
