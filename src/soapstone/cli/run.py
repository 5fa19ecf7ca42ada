"""`soapstone run`: make a tube step by step at the bender."""

import datetime
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, console, emit, escape, table
from soapstone.errors import InputError
from soapstone.flow.looking_back import ToldRun, runs
from soapstone.flow.running import OpenRun, Running, run_named, running
from soapstone.log.store import log_path, open_log
from soapstone.plan.guide import Said as Kind
from soapstone.quantities import parse_angle


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Said:
    """What is said of the present step.

    Parameters
    ----------
    show
        Print the present step.
    done
        The present step is done.
    angle
        The angle measured after release, in degrees.
    undo
        Take the last step back.
    rescue
        Go on by the rescue on offer.
    step
        The number of the step that is meant; refused when it is not the present one.
    """

    show: bool = False
    done: bool = False
    angle: float | None = None
    undo: bool = False
    rescue: bool = False
    step: int | None = None

    @property
    def count(self) -> int:
        """How many different things are said."""
        return sum((self.show, self.done, self.angle is not None, self.undo, self.rescue))

    def to(self, run: OpenRun) -> Running:
        """Say it, or when nothing is said, look."""
        if self.angle is not None:
            return run.say("angle", self.angle, self.step)
        if self.done or self.undo or self.rescue:
            kind: Kind = "done" if self.done else "undo" if self.undo else "rescue"
            return run.say(kind, number=self.step)
        return run.look()


NOTHING = Said()


def command(
    job: Path | None = None,
    /,
    *,
    tube: str = "",
    lot: str = "",
    log: Path | None = None,
    said: Said = NOTHING,
    fresh: bool = False,
    list_: Annotated[bool, Parameter(name="--list")] = False,
    json: Json = False,
) -> int:
    """Make a tube step by step; an unfinished run is taken up where it was left.

    At a terminal it asks: Enter when a step is done, a number for an angle, u to take the last step
    back, r to take a rescue, q to stop for now.

    Parameters
    ----------
    job
        A job file (.toml), or the name of an open run: as listed, its job's or its tube's.
    tube
        Which tube; needed where the job has several that are bent.
    lot
        The lot of tubing it is made from.
    log
        The shop log; left out, the one SOAPSTONE_LOG names, or else your own.
    fresh
        Give up an unfinished run of this tube and begin anew.
    list_
        List the runs that are not finished.
    """
    if list_:
        return _list(log_path(log), json)
    if job is None:
        raise InputError("run: expected a job file or the name of an open run; see run --list")
    if said.count > 1:
        raise InputError("run: expected one of --show, --done, --angle, --undo, --rescue")
    job, tube = run_named(job, tube, log_path(log))
    with running(job, tube, lot, log_path(log), _now, fresh=fresh) as run:
        if not (said.count or json) and sys.stdin is not None and sys.stdin.isatty():
            return _ask(run)
        now = said.to(run)
        emit(now.as_json, lambda where: _show(where, now), json)
    return 0


def _list(log: Path, json: bool) -> int:
    """List open runs; a log that is not there yet has none."""
    told: tuple[ToldRun, ...] = ()
    if log.is_file():
        with open_log(log) as store:
            told = runs(store, still_open=True)
    columns = ("run", "job", "tube", "lot", "begun", "next step")
    rows = [(r.name, r.title, r.tube, r.lot, r.started[:16], str(r.step)) for r in told]
    emit(
        lambda: {"runs": [one.as_json() for one in told]},
        lambda where: where.print(table("open runs", columns, rows) if rows else "no open run"),
        json,
    )
    return 0


def _ask(run: OpenRun) -> int:
    """Go on step by step until the tube is finished or the user stops."""
    where, now = console(), run.look()
    while True:
        _show(where, now)
        if now.state.finished:
            return 0
        try:
            answer = where.input("> ").strip().lower()
        except EOFError:
            return 0
        if answer == "q":
            return 0
        try:
            now = _answered(run, answer, now.state.number)
        except InputError as fault:
            where.print(escape(str(fault)))
            now = run.look()


def _answered(run: OpenRun, answer: str, number: int) -> Running:
    if answer == "":
        return run.say("done", number=number)
    if answer in {"u", "r"}:
        return run.say("undo" if answer == "u" else "rescue", number=number)
    try:
        angle = parse_angle(answer)
    except ValueError as fault:
        raise InputError(f"{fault}; or Enter, u, r, q") from None
    return run.say("angle", angle, number)


def _show(where: Console, now: Running) -> None:
    title, *lines = now.words
    where.print(f"[bold]{escape(now.drawn.name)}[/], step {now.state.number}: {escape(title)}")
    for line in lines:
        where.print(f"  {escape(line)}")


def _now() -> str:
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")
