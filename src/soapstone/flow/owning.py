"""What the shop owns: dies and tubing added, copied, renamed and taken away, and what follows.

A change is a function from the bench file's text to its text, for `keeping.change_bench`. Trial
bends are never lost: those of a die that is renamed go along, those of one that is taken away stay
in the file as remarks, and files of trials are not touched.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal, TypeAlias

from soapstone.bench.files import read_bench, starter_text
from soapstone.bench.model import Bench
from soapstone.bench.values import read_name
from soapstone.errors import InputError
from soapstone.exchange.bench_toml import Figure, with_figures, with_name
from soapstone.exchange.toml_entries import (
    entry_changed,
    entry_made,
    entry_texts,
    with_entries_as_remarks,
    with_entry_text,
    without_entry_text,
)
from soapstone.flow.keeping import Edit, figure_of
from soapstone.flow.remembering import remembered
from soapstone.flow.yard_stock import pieces_in_yard
from soapstone.job.files import own_bench_path, read_job
from soapstone.job.model import Job
from soapstone.job.tooling import die_of, tubing_of
from soapstone.log.store import log_path
from soapstone.quantities import Units
from soapstone.textfiles import parse_toml

Kind: TypeAlias = Literal["die", "tubing"]
"""What a shop owns several of, as the bench file calls it."""

KINDS: tuple[Kind, ...] = ("die", "tubing")


@dataclass(frozen=True, slots=True)
class Leaving:
    """What goes with a die or a tubing that is taken away.

    `jobs` are made with it, each with its tubes; `trials` counts the trial bends that stand in the
    bench file, `files` names those of the others; `logged` counts the bends that the shop log holds
    of it, `lying` its sticks in the yard; `last`: the bench has no other.
    """

    jobs: tuple[tuple[str, tuple[str, ...]], ...]
    trials: int
    files: tuple[str, ...]
    logged: int
    lying: int
    last: bool


def added(kind: Kind, typed: Mapping[str, str], like: str = "") -> Edit:
    """Give the change that adds a die or a tubing, as typed; `like` names one to start from.

    What is not typed is as it is with that one, remarks with it, and without one as is usual.
    """
    return partial(_with_new, kind=kind, typed=typed, like=like)


def put_right(kind: Kind, name: str, typed: Mapping[str, str]) -> Edit:
    """Give the change of a die's or tubing's figures as typed; its trial bends follow its name."""
    return partial(_with_figures, kind=kind, name=name, typed=typed)


def taken_away(kind: Kind, name: str) -> Edit:
    """Give the change that takes a die or a tubing away; its trial bends become remarks."""
    return partial(_without, kind=kind, name=name)


def bare_text(units: Units) -> str:
    """Give the text of a bench to start from that has neither dies nor tubing yet."""
    text = starter_text(units)
    for kind in KINDS:
        for row in _rows(text, kind):
            text = _without(text, kind, _said(row, "name"))
    return text


def leaving(path: Path, kind: Kind, name: str, jobs: Iterable[Path] = ()) -> Leaving:
    """Say what goes with a die or a tubing that is taken off the bench of a file.

    Raises
    ------
    InputError
        The bench cannot be read.
    """
    bench = read_bench(path)
    own = [trial for trial in bench.trials if getattr(trial, kind) == name]
    named = []
    for job in jobs_on(path, jobs):
        idle = {tube.name for tube in job.tubes if tube.straight} if kind == "die" else set()
        held = (tube for tube, found in _tools(job, bench, kind) if found == name)
        tubes = tuple(tube for tube in held if tube not in idle)
        if tubes:
            named.append((_title(job), tubes))
    return Leaving(
        tuple(named),
        sum(len(trial.bends or ()) for trial in own if not trial.file),
        tuple(dict.fromkeys(trial.file for trial in own if trial.file)),
        logged_bends(path, kind, name),
        _lying(kind, name),
        len(bench.dies if kind == "die" else bench.tubings) == 1,
    )


def jobs_on(path: Path, jobs: Iterable[Path]) -> Iterator[Job]:
    """Go through those jobs that are made on the bench of a file; one that cannot be read is none.

    A job that names no bench is made on the shop's own.
    """
    for one in jobs:
        try:
            job = read_job(one)
        except InputError:
            continue
        bench = job.bench_path or own_bench_path()
        if bench is not None and bench.resolve() == path.resolve():
            yield job


def named_elsewhere(
    path: Path, kind: Kind, old: str, new: str, jobs: Iterable[Path]
) -> dict[Path, Edit]:
    """Give the changes of job files that go along with another name of a die or a tubing.

    Raises
    ------
    InputError
        The shop log holds bends or sticks under the old name, which another would lose.
    """
    if not new.strip() or new.strip() == old:
        return {}
    if logged := logged_bends(path, kind, old):
        raise InputError(
            f'the shop log holds {counted(logged, "bend")} under "{old}", which would no longer '
            "count: it keeps its name"
        )
    if lying := _lying(kind, old):
        raise InputError(
            f'the yard holds {counted(lying, "stick")} of "{old}", which would be lost to it: it '
            "keeps its name"
        )
    return renamed_in(jobs_on(path, jobs), kind, old, new)


def renamed_in(jobs: Iterable[Job], kind: Kind, old: str, new: str) -> dict[Path, Edit]:
    """Give the changes of the job files that name a die or a tubing which gets another name."""
    edit = partial(with_name, table="tube", key=kind, old=old, new=new.strip())
    return {
        job.path: edit
        for job in jobs
        if job.path is not None and any(getattr(tube, kind) == old for tube in job.tubes)
    }


def lost(before: Bench, after: Bench, jobs: Iterable[Job]) -> tuple[str, ...]:
    """Name the jobs, a line each, with tubes that found die and tubing before and now do not."""
    said: list[str] = []
    if (before.dies, before.tubings) == (after.dies, after.tubings):
        return ()
    for job in jobs:
        for kind in KINDS:
            held = {tube for tube, found in _tools(job, before, kind) if found}
            gone = [tube for tube, found in _tools(job, after, kind) if tube in held and not found]
            if gone:
                said.append(f"{_title(job)}: {_listed(gone)} {_GONE[kind]}")
    return tuple(said)


_GONE = {"die": "no longer finds its die", "tubing": "no longer finds its tubing"}


def logged_bends(path: Path, kind: Kind, name: str) -> int:
    """Count the bends that the shop log holds of a die or a tubing of that name.

    Raises
    ------
    InputError
        The bench or the log cannot be read.
    """
    logged = remembered(read_bench(path)).bench.logged
    return sum(len(trial.bends or ()) for trial in logged if getattr(trial, kind) == name)


def counted(number: int, what: str) -> str:
    """Write how many there are of something: "a bend", "3 bends"."""
    return f"a {what}" if number == 1 else f"{number} {what}s"


def _lying(kind: Kind, name: str) -> int:
    return len(pieces_in_yard(log_path(None), name)) if kind == "tubing" else 0


def _tools(job: Job, bench: Bench, kind: Kind) -> Iterator[tuple[str, str]]:
    """Give the name of each tube with that of its die or tubing; empty where it finds none."""
    find = die_of if kind == "die" else tubing_of
    for tube in job.tubes:
        try:
            yield tube.name, find(job, tube, bench).name
        except InputError:
            yield tube.name, ""


def _title(job: Job) -> str:
    return job.name or (job.path.stem if job.path else "a job")


def _listed(names: list[str]) -> str:
    most = 4
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _with_new(text: str, kind: Kind, typed: Mapping[str, str], like: str) -> str:
    figures = _figures(typed)
    figures["name"] = _free_name(text, kind, typed.get("name", ""))
    if like:
        model = entry_texts(text, kind)[_place(text, kind, like)]
        return with_entry_text(text, kind, entry_changed(model, kind, figures))
    rest = {key: value for key, value in figures.items() if key != "name" and value is not None}
    return with_entry_text(text, kind, entry_made(kind, {"name": figures["name"], **rest}))


def _with_figures(text: str, kind: Kind, name: str, typed: Mapping[str, str]) -> str:
    figures = _figures(typed)
    if "name" not in typed or typed["name"].strip() == name:
        return with_figures(text, kind, name, {k: v for k, v in figures.items() if k != "name"})
    figures["name"] = _free_name(text, kind, typed["name"], but=name)
    changed = with_figures(text, kind, name, figures)
    return with_name(changed, "trial", kind, name, str(figures["name"]))


def _without(text: str, kind: Kind, name: str) -> str:
    place = _place(text, kind, name)
    trials = [at for at, row in enumerate(_rows(text, "trial")) if _said(row, kind) == name]
    if trials:
        why = f'Trial bends of the {kind} "{name}", which was taken off this bench:'
        text = with_entries_as_remarks(text, "trial", trials, why)
    return without_entry_text(text, kind, place)


def _figures(typed: Mapping[str, str]) -> dict[str, Figure]:
    return {key: figure_of(key, text) for key, text in typed.items()}


def _free_name(text: str, kind: Kind, typed: str, but: str = "") -> str:
    """Give a name as typed, where nothing of its kind has it, or one that is only spelt otherwise.

    Raises
    ------
    ValueError
        It is no name, or something has it.
    """
    if not typed.strip():
        raise ValueError(f"give the {kind} a name")
    name = read_name(typed)
    for row in _rows(text, kind):
        other = _said(row, "name")
        if other != but and _plain(other) == _plain(name):
            raise ValueError(f'there is a {kind} "{other}" already: give this one another name')
    return name


def _plain(name: str) -> str:
    return "".join(name.casefold().split())


def _place(text: str, kind: Kind, name: str) -> int:
    for place, row in enumerate(_rows(text, kind)):
        if _said(row, "name") == name:
            return place
    raise ValueError(f'no {kind} "{name}" stands in the file any more')


def _rows(text: str, table: str) -> list[dict[str, object]]:
    rows = parse_toml(text, "bench").get(table, [])
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def _said(row: Mapping[str, object], key: str) -> str:
    return str(row.get(key, "")).strip()
