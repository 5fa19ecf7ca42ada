"""`soapstone log`: what was made, learnt and left over; out and in again; how dials drift."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal, TypeAlias

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table, today
from soapstone.errors import InputError
from soapstone.flow.asked import length_asked
from soapstone.flow.looking_back import (
    Drift,
    LotDrift,
    ToldRun,
    draw_drifts,
    drift,
    drifts,
    inspections,
    runs,
)
from soapstone.flow.showing import bench_at
from soapstone.flow.yard_stock import MOST, YardPiece, add_sticks, pieces_in_yard, use_piece
from soapstone.log.document import export_log, import_log
from soapstone.log.rows import LoggedTrial
from soapstone.log.store import Log, log_path, open_log
from soapstone.quantities import Units, format_fine

What: TypeAlias = Literal[
    "show", "runs", "sticks", "inspections", "add", "use", "drift", "export", "import"
]
TAKES = {"use": "the name of a stick", "export": "a file", "import": "a file"}


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Piece:
    """A stick or remnant, for add, use and sticks.

    Parameters
    ----------
    tubing
        add, sticks: the tubing's name in the bench.
    length
        add: its length.
    count
        add: how many of them.
    lot
        add: the lot they came from.
    remnant
        add: it is no whole stick, but was left over.
    left
        use: the length that is left of it and goes back into the yard.
    note
        add, use: a remark, such as what it is used for.
    """

    tubing: str = ""
    length: str | None = None
    count: int = 1
    lot: str = ""
    remnant: bool = False
    left: str | None = None
    note: str = ""


NONE = Piece()


def command(
    what: What,
    item: str | None = None,
    /,
    *,
    piece: Piece = NONE,
    log: Path | None = None,
    units: Annotated[Units | None, Parameter(help="mm or in; left out, the bench's.")] = None,
    json: Json = False,
) -> int:
    """Show the shop log, keep sticks and remnants, say how dials drift, take it out or bring it in.

    Parameters
    ----------
    what
        show: all of it in short; runs, sticks, inspections: a list; add: sticks or remnants that
        come into the yard; use: one that is used up; drift: springback by lot, and how each dial
        moves from bend to bend, drawn when a name is given; export, import: the whole log as one
        JSON file.
    item
        The stick's name for use; the file for drift (.svg), export and import.
    log
        The shop log; left out, the one SOAPSTONE_LOG names, or else your own.
    """
    if (what in TAKES and item is None) or (what not in (*TAKES, "drift") and item is not None):
        raise InputError(f"log {what}: expected {TAKES.get(what, 'nothing')} after it")
    path, say = log_path(log), partial(format_fine, units=units or bench_at(None).units)
    if what in ("add", "use", "sticks"):
        return _yard(what, item or "", piece, path, say, json)
    with open_log(path) as store:
        if what in ("export", "import"):
            return _moved(store, what, Path(item or ""), json)
        if what == "drift":
            return _drifted(store, item, json)
        if what == "runs":
            told = runs(store)
            emit(lambda: {"runs": [r.as_json() for r in told]}, lambda w: _runs(w, told), json)
        elif what == "inspections":
            held = inspections(store)
            emit(lambda: {"inspections": held}, lambda w: _inspections(w, held, say), json)
        else:
            emit(lambda: _held(store), lambda w: _show(w, store, say), json)
    return 0


def _yard(
    what: str, item: str, piece: Piece, path: Path, say: Callable[[float], str], json: bool
) -> int:
    unit = bench_at(None).units
    if what == "sticks":
        lies = pieces_in_yard(path, piece.tubing)
        payload = {"sticks": [one.as_json() for one in lies]}
        emit(lambda: payload, lambda w: w.print(_sticks("in the yard", lies, say)), json)
        return 0
    if what == "add":
        if piece.length is None:
            raise InputError("--length: expected the length of what comes in")
        length = length_asked(piece.length, unit, "--length")
        if not 1 <= piece.count <= MOST:
            raise InputError(f"--count: expected 1 to {MOST}")
        kind = "remnant" if piece.remnant else "stick"
        new = add_sticks(
            path,
            piece.tubing,
            [length] * piece.count,
            today(),
            lot=piece.lot,
            kind=kind,
            note=piece.note,
        )
        payload = {"sticks": [one.as_json() for one in new]}
        emit(lambda: payload, lambda w: w.print(_sticks("come into the yard", new, say)), json)
        return 0
    left = length_asked(piece.left, unit, "--left") if piece.left else 0.0
    used, rest = use_piece(path, item, today(), used_for=piece.note, left=left)
    payload_used = {"used": used.as_json(), "left": None if rest is None else rest.as_json()}

    def tell(where: Console) -> None:
        where.print(f"used up: {escape(used.name)}, {escape(used.tubing)}, {say(used.length)}")
        if rest is not None:
            where.print(f"back in the yard: {escape(rest.name)}, {say(rest.length)}")

    emit(lambda: payload_used, tell, json)
    return 0


def _moved(store: Log, what: str, file: Path, json: bool) -> int:
    rows = (export_log if what == "export" else import_log)(store, file)
    words = f"{rows} rows {'written' if what == 'export' else 'new in the log'}"
    emit(lambda: {"file": str(file), "rows": rows}, lambda where: where.print(words), json)
    return 0


def _drifted(store: Log, item: str | None, json: bool) -> int:
    trials = store.trials()
    lots, found = drift(trials), drifts(trials)
    file = None if item is None else draw_drifts(found, Path(item))
    payload = {
        "lots": [one.as_json() for one in lots],
        "dials": [one.as_json() for one in found],
        "file": str(file) if file else None,
    }

    def tell(where: Console) -> None:
        _drift(where, lots, found)
        if file is not None:
            where.print(f"drawn: [bold]{escape(str(file))}[/]", soft_wrap=True)

    emit(lambda: payload, tell, json)
    return 0 if all(one.sound for one in found) else 1


def _held(store: Log) -> dict[str, Any]:
    return {
        "log": str(store.path),
        "trials": [asdict(one) for one in store.trials()],
        "remnants": [asdict(one) for one in store.remnants()],
        "runs": [one.as_json() for one in runs(store)],
        "inspections": inspections(store),
    }


def _show(where: Console, store: Log, say: Callable[[float], str]) -> None:
    where.print(escape(str(store.path)), soft_wrap=True)
    where.print(_trials(store.trials()))
    where.print(_sticks("in the yard", pieces_in_yard(store.path), say))
    _runs(where, runs(store))
    _inspections(where, inspections(store), say)


def _trials(trials: Sequence[LoggedTrial]) -> Any:
    rows = [
        (
            one.date,
            one.die,
            one.tubing,
            one.lot or "–",
            f"{one.dial:.1f}°",
            f"{one.angle:.1f}°",
            one.source,
        )
        for one in trials
    ]
    return table("bends made", ("date", "die", "tubing", "lot", "dial", "angle", "told by"), rows)


def _sticks(title: str, pieces: Sequence[YardPiece], say: Callable[[float], str]) -> Any:
    rows = [
        (one.name, one.kind, one.tubing, one.lot or "–", one.since, say(one.length), one.note)
        for one in pieces
    ]
    return table(title, ("name", "kind", "tubing", "lot", "since", "length", "note"), rows)


def _runs(where: Console, told: Sequence[ToldRun]) -> None:
    rows = [
        (
            one.name,
            one.title,
            one.tube,
            one.lot or "–",
            one.started[:16],
            one.ended[:16] if one.ended else f"open, step {one.step}",
        )
        for one in told
    ]
    where.print(table("runs", ("run", "job", "tube", "lot", "begun", "ended"), rows))


def _inspections(
    where: Console, held: Sequence[dict[str, Any]], say: Callable[[float], str]
) -> None:
    rows = [
        (
            one["date"],
            one["name"],
            one["tube"],
            one["lot"] or "–",
            "good" if one["sound"] else "not sound",
            say(one["ends"]),
        )
        for one in held
    ]
    columns = ("date", "piece", "tube", "lot", "found", "B end off")
    where.print(table("inspections", columns, rows))


def _drift(where: Console, lots: Sequence[LotDrift], found: Sequence[Drift]) -> None:
    rows = [
        (
            one.die,
            one.tubing,
            one.lot or "–",
            one.first,
            str(one.bends),
            f"{100 * one.springback:.1f} % ± {100 * 1.96 * one.springback_sd:.1f}",
        )
        for one in lots
    ]
    where.print(table("", ("die", "tubing", "lot", "from", "bends", "springback"), rows))
    for one in found:
        say_findings(where, one.findings)
    if found and all(one.sound for one in found):
        where.print("no dial drifts, as far as these bends tell")
