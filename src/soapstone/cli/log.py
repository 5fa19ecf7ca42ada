"""`soapstone log`: what was made, taken out and brought in; how springback drifts."""

from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal

from rich.console import Console

from soapstone.cli.output import Json, emit, escape, table
from soapstone.errors import InputError
from soapstone.flow.looking_back import LotDrift, drift
from soapstone.log.document import export_log, import_log
from soapstone.log.store import Log, log_path, open_log


def command(
    what: Literal["show", "export", "import", "drift"],
    file: Path | None = None,
    /,
    *,
    log: Path | None = None,
    json: Json = False,
) -> int:
    """Show the shop log, take it out, bring it in, or say how springback drifts.

    Parameters
    ----------
    what
        show: bends made and remnants; drift: springback by die and lot; export, import: the whole
        log as one JSON file.
    file
        The file to export to or import from.
    log
        The shop log; left out, the one SOAPSTONE_LOG names, or else your own.
    """
    moves = {"export": export_log, "import": import_log}
    if (what in moves) != (file is not None):
        raise InputError(f"log {what}: expected {'a file' if what in moves else 'no file'}")
    with open_log(log_path(log)) as store:
        if file is not None:
            rows = moves[what](store, file)
            emit(lambda: {"file": str(file), "rows": rows}, lambda w: _moved(w, what, rows), json)
        elif what == "drift":
            lots = drift(store.trials())
            emit(lambda: {"lots": [one.as_json() for one in lots]}, lambda w: _drift(w, lots), json)
        else:
            emit(lambda: _held(store), lambda w: _show(w, store), json)
    return 0


def _held(store: Log) -> dict[str, Any]:
    return {
        "log": str(store.path),
        "trials": [asdict(one) for one in store.trials()],
        "remnants": [asdict(one) for one in store.remnants()],
    }


def _moved(where: Console, what: str, rows: int) -> None:
    where.print(f"{rows} rows {'written' if what == 'export' else 'new in the log'}")


def _show(where: Console, store: Log) -> None:
    where.print(escape(str(store.path)), soft_wrap=True)
    bends = [
        (one.date, one.die, one.tubing, one.lot, f"{one.dial:.1f}°", f"{one.angle:.1f}°")
        for one in store.trials()
    ]
    where.print(table("bends made", ("date", "die", "tubing", "lot", "dial", "angle"), bends))
    left = [(one.date, one.tubing, one.lot, f"{one.length:.0f} mm") for one in store.remnants()]
    where.print(table("remnants", ("date", "tubing", "lot", "length"), left))


def _drift(where: Console, lots: tuple[LotDrift, ...]) -> None:
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
