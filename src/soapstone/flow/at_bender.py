"""What a page at the bender shows: where a tube's run stands by the log, without beginning one.

Every call opens the log, reads or writes it and closes it, in whatever thread it is called from;
nothing is kept between calls, so that the log alone says where a run stands.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from soapstone.check.inspect.choosing import check_distances
from soapstone.errors import InputError
from soapstone.flow.looking_back import drift
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.flow.remembering import Remember
from soapstone.flow.rescuing import rescue_of, tube_of
from soapstone.flow.running import OpenRun, Running, plan_text, remembered_by, running
from soapstone.job.model import Job
from soapstone.log.store import Log, Run, open_log
from soapstone.plan.guide import Event, fold
from soapstone.plan.model import BendStep, TubePlan
from soapstone.plan.rescue.model import Rescue
from soapstone.quantities import Units, format_angle, format_fine, format_length
from soapstone.sheets.words import is_still, roll_way, short_degrees

Clock = Callable[[], str]

_CHANGED = (
    "Its plan has changed since this run was begun: put job and bench back as they were, or make "
    "the tube anew."
)
_OVER = "That run is over, or was begun anew elsewhere. This is where the tube stands now."
_TAKEN = "Somebody has confirmed that step already. This is where the tube stands now."

MOVED = 0.05
"""Degrees, and mm, by which a number of a rescue must differ to be worth a word."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One bent tube of a job, and where its making stands.

    `now` is its run, the unfinished one or else the one finished last; None before the first, and
    where the plan has changed since. `run` is the run in the log. `images` are the names of the
    tubes that mirror it. `stamp` changes when anything does; `trouble` says why an unfinished run
    cannot be gone on with.
    """

    planned: JobPlan
    drawn: TubePlan
    stamp: str
    run: Run | None = None
    now: Running | None = None
    trouble: str = ""

    @property
    def open(self) -> bool:
        """Whether a run waits to be gone on with."""
        over = self.now is not None and self.now.state.finished
        return self.run is not None and self.run.ended is None and not over

    @property
    def images(self) -> tuple[str, ...]:
        """The tubes that are mirror images of this one."""
        return tuple(one.name for one in self.planned.planned if one.of == self.drawn.name)


def date_and_time() -> str:
    """Give date and time as a run records them, to the second."""
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")


def standings(path: Path, log: Path) -> tuple[Standing, ...]:
    """Give where every bent tube of a job stands; tubes never begun share one plan."""
    planned = plan_job(path, Remember(log))
    bent = [one for one in planned.planned if one.bends]
    with open_log(log) as store:
        begun = {one.name: _last_run(store, path, one.name) for one in bent}
        told = {one.name: _stamp(store, begun[one.name], path) for one in bent}
    return tuple(
        Standing(planned, one, told[one.name], None)
        if begun[one.name] is None
        else standing(path, one.name, log)
        for one in bent
    )


def standing(path: Path, tube: str, log: Path) -> Standing:
    """Give where one tube stands.

    Raises
    ------
    InputError
        The job, the tube or the log is wrong.
    """
    with open_log(log) as store:
        run = _last_run(store, path, tube)
        told = _stamp(store, run, path)
        # a run keeps the bends that it was planned from: those made since change nothing of it
        how = Remember(log) if run is None else remembered_by(run, log)
        if run is None or run.ended is not None:
            planned = plan_job(path, how)
            at = Standing(planned, tube_of(planned, tube, path), told, run)
            return at if run is None else _finished(store, at, run)
    try:
        with running(path, tube, "", log, date_and_time, begin=False) as taken_up:
            now = taken_up.look()
    except InputError as fault:
        planned = plan_job(path, how)
        drawn = tube_of(planned, tube, path)
        why = _CHANGED if run.plan != plan_text(drawn) else str(fault)
        return Standing(planned, drawn, told, run, trouble=why)
    return Standing(now.planned, now.drawn, told, now.run, now)


def stamp(path: Path, tube: str, log: Path) -> str:
    """Give the stamp of a tube's standing alone: cheap enough to ask for every second."""
    with open_log(log) as store:
        return _stamp(store, _last_run(store, path, tube), path)


def begin(path: Path, tube: str, lot: str, log: Path, clock: Clock, given_up: str = "") -> Standing:
    """Begin a run; one that is open goes on unless it is the one `given_up`, named by its id."""
    with open_log(log) as store:
        found = store.open_run(str(path.resolve()), tube)
    if found is None or found.id == given_up:
        with running(path, tube, lot, log, clock, fresh=found is not None):
            pass
    return standing(path, tube, log)


def say(
    path: Path, tube: str, log: Path, clock: Clock, run: str, event: Event
) -> tuple[Standing, str]:
    """Confirm a step of the run named; gives where it stands then, and why it was not kept if so.

    It is not kept when another phone has confirmed that step, or has ended or begun the run anew.

    Raises
    ------
    InputError
        It cannot be said of that step, or the log could not keep it: nothing has changed then.
    """
    with open_log(log) as store:
        found = store.open_run(str(path.resolve()), tube)
    if found is None or found.id != run:
        return standing(path, tube, log), _OVER
    with running(path, tube, "", log, clock, begin=False) as taken_up:
        if taken_up.run.id != run:
            return standing(path, tube, log), _OVER
        try:
            now = taken_up.say(event.kind, event.angle, event.number)
        except InputError:
            if taken_up.look().state.number == event.number:
                raise
            return standing(path, tube, log), _TAKEN
        after = _stamp(taken_up.store, _last_run(taken_up.store, path, tube), path)
    return Standing(now.planned, now.drawn, after, now.run, now), ""


def looked_back(now: Running, back: int) -> Running:
    """Give a step already done, `back` steps before the present one; nothing is undone."""
    said = now.state.said[: len(now.state.said) - back]
    events = [replace(event, number=n) for n, event in enumerate(said, 1)]
    state = fold(now.drawn, events, lambda made: rescue_of(now.planned, now.drawn, made))
    return replace(now, state=state, offer=None)


def answer(now: Running, back: int) -> Event:
    """Give what was said of the step `back` before the present one."""
    return now.state.said[-back]


def changes(before: TubePlan, offer: Rescue, units: Units) -> tuple[str, ...]:
    """Say what a rescue changes of what is still to be done, a line each."""
    old = {bend.n: bend for bend in before.bends}
    further = (
        f"bend {one.n} back into the die: from {format_angle(one.angle_now)} on to "
        f"{format_angle(one.angle)}, dial {one.dial_stop:.4g}°"
        for one in offer.further
    )
    bends = (_changed(old[bend.n], bend, offer.plan, units) for bend in offer.rest)
    cuts = (
        f"cut of the {new.end} end: at {format_length(new.stock_mark, units, before.setup.tape)}"
        for cut, new in zip(before.cuts, offer.plan.cuts, strict=True)
        if new.offcut > 0 and abs(new.stock_mark - cut.stock_mark) > MOVED
    )
    return (*further, *(line for line in bends if line), *cuts)


def _changed(old: BendStep, new: BendStep, plan: TubePlan, units: Units) -> str:
    parts = []
    if abs(new.stock_mark - old.stock_mark) > MOVED:
        at = [format_length(one.stock_mark, units, plan.setup.tape) for one in (old, new)]
        parts.append(f"mark {at[0]} → {at[1]}")
    if abs(new.roll - old.roll) > MOVED:
        rolls = [
            "no roll" if is_still(one.roll) else f"{short_degrees(abs(one.roll))}"
            for one in (old, new)
        ]
        parts.append(f"roll {rolls[0]} → {rolls[1]} {roll_way(new.roll)}")
    if abs(new.dial_stop - old.dial_stop) > MOVED:
        parts.append(f"dial {old.dial_stop:.4g}° → {new.dial_stop:.4g}°")
    return f"bend {new.n}: {', '.join(parts)}" if parts else ""


def distances(now: Running) -> tuple[tuple[str, str], ...]:
    """Give what to tape on the finished tube: from where to where, and what it should read."""
    units = now.planned.job.units
    return tuple(
        (f"{one.start} to {one.end}", format_fine(one.length, units))
        for one in check_distances(now.state.plan)
    )


def learnt(now: Running, log: Path) -> tuple[str, ...]:
    """Say what a tube made has taught of its die and lot, a line each."""
    plan = now.state.plan
    wanted = {bend.n: bend.angle for bend in plan.bends if bend.n not in plan.made}
    drawn = {bend.n: bend.angle for bend in now.drawn.bends}
    made = [
        f"Bend {one.n}: dial {one.dial:.4g}° gave {format_angle(one.angle)}, "
        f"wanted {format_angle(wanted.get(one.n, drawn[one.n]))}."
        for one in now.state.made
        if one.dial is not None
    ]
    return (*made, *_lot_words(now, log), *_left(plan, now.planned.job))


def _lot_words(now: Running, log: Path) -> tuple[str, ...]:
    setup, lot = now.drawn.setup, now.run.lot
    with open_log(log) as store:
        bends = [
            one
            for one in store.trials()
            if (one.die, one.tubing, one.lot) == (setup.die, setup.tubing, lot)
        ]
    known = setup.calibration.springback * 100
    return tuple(
        f"{f'Lot {lot}' if lot else 'This tubing'} springs back {one.springback * 100:.1f} % "
        f"(±{2 * one.springback_sd * 100:.1f}) by its {one.bends} bends in the log; "
        f"the plan was made with {known:.1f} %."
        for one in drift(bends)
    )


def _left(plan: TubePlan, job: Job) -> tuple[str, ...]:
    return tuple(
        f"{format_length(cut.offcut, job.units, plan.setup.tape)} left over from the {cut.end} "
        "end: kept in the log as a remnant."
        for cut in plan.cuts
        if cut.offcut > 0
    )


def _last_run(store: Log, path: Path, tube: str) -> Run | None:
    job = str(path.resolve())
    return store.open_run(job, tube) or store.last_run(job, tube)


def _stamp(store: Log, run: Run | None, path: Path) -> str:
    try:
        changed = path.stat().st_mtime_ns
    except OSError:
        changed = 0
    told = "" if run is None else f"{run.id}.{len(store.events(run.id))}.{run.ended or ''}"
    return f"{changed}.{told}"


def _finished(store: Log, at: Standing, run: Run) -> Standing:
    """Look at a run that is over; of one that was given up nothing is told."""
    if run.plan != plan_text(at.drawn):
        return replace(at, run=None)
    now = OpenRun(store, at.planned, at.drawn, run, date_and_time, resumed=True).look()
    return replace(at, now=now) if now.state.finished else replace(at, run=None)
