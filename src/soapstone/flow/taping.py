"""Readings of a made tube put down one by one, in the file that `inspect` reads."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeAlias

from soapstone.bench.values import written
from soapstone.check.inspect.asked import AskedRow, RowKind, asked_rows
from soapstone.check.inspect.files import readings_from
from soapstone.check.inspect.result import Inspection
from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_value
from soapstone.exchange.readings_toml import with_reading
from soapstone.flow.inspecting import blank_for, hold
from soapstone.flow.planning import JobPlan
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units, parse_angle, parse_length
from soapstone.textfiles import LARGEST_TOML, parse_toml, read_text, write_whole

Key: TypeAlias = Literal["length", "height", "angle", "dial"]

MARKS = ("in", "m", "ft", "'", '"')
"""What tells that a length was typed with its unit."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A made tube that is being measured.

    Attributes
    ----------
    job, tube
        The job's file, and the tube's name in it.
    file
        The file of readings; it need not be there yet.
    planned
        The job's plan as it is now, where it is at hand.
    log
        The shop log, None for the usual one.
    """

    job: Path
    tube: str
    file: Path
    planned: JobPlan | None = None
    log: Path | None = None

    @property
    def text(self) -> str:
        """The file as it is, or as it begins."""
        if self.file.is_file():
            return read_text(self.file, LARGEST_TOML)
        return blank_for(self.job, self.tube, self.log, self.planned)[1]


@dataclass(frozen=True, slots=True)
class Taking:
    """A file of readings being filled in.

    Attributes
    ----------
    plan
        The tube as drawn, by the plan that it was made by.
    units
        Of bare numbers in the file.
    rows
        What is asked for, and what it reads as drawn.
    typed
        What stands in the file, by kind, place and key.
    result
        The verdict; None while nothing was measured.
    lot
        The lot of tubing, as the file has it.
    """

    plan: TubePlan
    units: Units
    rows: tuple[AskedRow, ...]
    typed: dict[tuple[RowKind, int, Key], str]
    result: Inspection | None
    lot: str = ""


def take(piece: Piece) -> Taking:
    """Look at a tube's readings as far as they go; a file that is not there yet has none.

    Raises
    ------
    InputError
        The file, or what it says of the tube, does not read; one line says where.
    """
    text, name = piece.text, piece.file.name
    tables = parse_toml(text, name)
    data = readings_from(tables, name)
    held = hold(piece.job, data, piece.tube, piece.log, name, piece.planned)
    typed: dict[tuple[RowKind, int, Key], str] = {}
    keys: dict[RowKind, tuple[Key, ...]] = {
        "tape": ("length",),
        "height": ("height",),
        "bend": ("angle", "dial"),
    }
    for kind, wanted in keys.items():
        for number, row in enumerate(tables.get(kind, [])):
            typed.update({(kind, number, k): str(row[k]) for k in wanted if k in row})
    measured = any(key != "dial" for _, _, key in typed)
    return Taking(
        held.plan,
        data.units,
        asked_rows(held.plan, data, name),
        typed,
        held.result if measured else None,
        data.lot,
    )


def begin(piece: Piece) -> None:
    """Write a file of readings to fill in, which is not there yet."""
    _write(piece.file, piece.text)


def put_down(piece: Piece, row: AskedRow, key: Key, typed: str) -> None:
    """Put a reading, as it was typed, into its row of a file; the first one begins the file.

    Nothing typed takes it out again.

    Raises
    ------
    InputError
        It is no reading, or the file asks for something else there by now.
    """
    text, file = piece.text, piece.file
    tables = parse_toml(text, file.name)
    if _about(tables, row) != _asked(row):
        raise InputError(f"{file.name}: asks for something else by now; look at the page again")
    units: Units = "in" if tables.get("units") == "in" else "mm"
    value = _reading(key, typed.strip(), units)
    _write(file, with_reading(text, row.kind, row.number, key, value))


def put_lot(piece: Piece, lot: str) -> None:
    """Put down the lot of tubing."""
    _write(piece.file, with_value(piece.text, ("lot",), lot.strip() or None))


def _write(file: Path, text: str) -> None:
    readings_from(parse_toml(text, file.name), file.name)
    write_whole(file, text.encode())


def _about(tables: dict[str, Any], row: AskedRow) -> tuple[object, ...] | None:
    """Say what a row of the file is about."""
    rows = tables.get(row.kind, [])
    if not 0 <= row.number < len(rows):
        return None
    there = rows[row.number]
    if row.kind == "bend":
        return (there.get("n"),)
    if row.kind == "tape":
        return tuple(_plain(there.get(key)) for key in ("from", "to"))
    return (_plain(there.get("place")), there.get("flat"))


def _asked(row: AskedRow) -> tuple[object, ...]:
    if row.kind == "bend":
        return (row.bend,)
    names = tuple(map(_plain, row.names))
    return names if row.kind == "tape" else (*names, row.bend)


def _plain(name: object) -> str:
    """Write a place's name as the readings do, which may have it otherwise."""
    words = " ".join(str(name).lower().split())
    return {"end a": "a end", "end b": "b end"}.get(words, words.replace("back of bend", "back"))


def _reading(key: Key, typed: str, units: Units) -> str | float | None:
    """Give what was typed as it is to stand in the file."""
    if not typed:
        return None
    try:
        if key in ("angle", "dial"):
            return written(parse_angle(typed))
        length = parse_length(typed, units)
    except ValueError as error:
        raise InputError(f"{key}: {error}") from None
    if any(mark in typed for mark in MARKS):
        return typed
    try:
        return written(float(typed))
    except ValueError:  # a bare fraction, such as 38 1/4
        return written(length / (25.4 if units == "in" else 1.0))
