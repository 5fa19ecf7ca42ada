"""Tubes as CSV, both ways: corners, or legs and bends (LRA).

Form "corners" has a row for each corner, with the columns tube, tubing, die, x_mm, y_mm, z_mm. Form
"legs" has a row for each straight, with the bend after it: tube, tubing, die, leg_mm, angle,
rotation; the last straight has no bend. A tube's first row then also says where it starts:
from_x_mm ..., along_x ..., up_x .... Lengths may be in inches, their columns then end in _in.
"""

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Context
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal, TextIO, TypeAlias

from pydantic import ValidationError

from soapstone.bench.values import Known, written
from soapstone.errors import InputError
from soapstone.faults import Fault, model_faults, refuse_faults
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.quantities import INCH, Units, bare_length, parse_angle, parse_length
from soapstone.textfiles import Row, Table, read_table, refuse_file
from soapstone.written import refuse

Form: TypeAlias = Literal["corners", "legs"]

WHO = ("tube", "tubing", "die")
_PLACE = {units: tuple(f"from_{axis}_{units}" for axis in "xyz") for units in ("mm", "in")}
_ALONG, _UP = (tuple(f"{name}_{axis}" for axis in "xyz") for name in ("along", "up"))
_CORNERS = {units: tuple(f"{axis}_{units}" for axis in "xyz") for units in ("mm", "in")}
_BEND = {units: (f"leg_{units}", "angle", "rotation") for units in ("mm", "in")}
_LEGS = {units: (*_BEND[units], *_PLACE[units], *_ALONG, *_UP) for units in ("mm", "in")}
_DECIMAL = re.compile(r"[-+]?[0-9]{1,6}(\.[0-9]{0,20})?")


UNNAMED = "no tubing named"
"""Stands for the tubing of a tube whose rows name none, where that is known from elsewhere."""


@dataclass(frozen=True, slots=True)
class TubeShape:
    """A tube to write: names of tube, tubing and die, its free centreline and its corners in mm."""

    name: str
    tubing: str
    die: str
    line: Centreline
    points: Sequence[Vec3]


def write_tube_csv(
    target: Path | TextIO, tubes: Iterable[TubeShape], form: Form, units: Units = "mm"
) -> None:
    """Write tubes as CSV, every number with all its digits: read back, it is the very same.

    Parameters
    ----------
    target
        The file to write, or a text stream open for writing.
    tubes
        The tubes.
    form
        "corners" or "legs".
    units
        The unit of lengths, "mm" or "in"; it ends the names of their columns.
    """
    if isinstance(target, Path):
        with target.open("w", encoding="utf-8", newline="") as stream:
            write_tube_csv(stream, tubes, form, units)
        return
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow([*WHO, *(_CORNERS if form == "corners" else _LEGS)[units]])
    for tube in tubes:
        rows = _corner_rows(tube, units) if form == "corners" else _leg_rows(tube, units)
        writer.writerows([tube.name, tube.tubing, tube.die, *row] for row in rows)


def not_in_csv(job: Job) -> list[str]:
    """Name what a job has and tubes in CSV cannot hold."""
    tables = {
        "keep-outs": job.keepouts,
        "names of points": job.points,
        "supports": job.supports,
        "joints": job.joints,
        "loads": job.loads,
        "copes": job.copes,
        "the bench": job.bench,
        "routes": any(tube.route for tube in job.tubes),
        "mirror images": any(tube.mirror for tube in job.tubes),
        "gaps": any(tube.gap for tube in job.tubes),
        "tolerances": job.tolerance
        or job.iso_13920
        or any(tube.tolerance or tube.iso_13920 for tube in job.tubes),
        "notes": job.note or any(tube.note for tube in job.tubes),
        "tubing written in place": any(
            tube.tubing and not isinstance(tube.tubing, str) for tube in job.tubes
        ),
        "dies written in place": any(
            tube.die and not isinstance(tube.die, str) for tube in job.tubes
        ),
    }
    return [name for name, there in tables.items() if there]


def read_tube_csv(path: Path | str, *, tubing_known: bool = False) -> Job:
    """Read tubes from CSV as a job that has nothing else; the form and unit are seen by its header.

    Semicolons, decimal commas beside them, blank rows and other columns do no harm. Where a row
    leaves tube, tubing or die out, that of the row before holds. Where the tubing is known from
    elsewhere rows need not name it, and `UNNAMED` stands for it then.

    Raises
    ------
    InputError
        One line that names the file and the rows that are wrong.
    """
    path = Path(path)
    table = read_table(path)
    form, units = _form_and_units(table, tubing_known=tubing_known)
    if not table.rows:
        raise refuse_file(path, "expected rows of tubes below the row of columns")
    faults: list[Fault] = []
    tubes = []
    for rows in _by_tube(table, faults):
        try:
            given = _who(rows, path.stem)
            if tubing_known:
                given.setdefault("tubing", UNNAMED)
            if form == "corners":
                given["points"] = _points(table, rows, units)
            else:
                given["bends"] = _bends(table, rows, units)
            tubes.append(Tube.model_validate(given, context=Known()))
        except ValidationError as error:
            faults += [
                Fault(f"row {rows[0].line}, {fault.key}".removesuffix(", "), fault.what)
                for fault in model_faults(Tube, error, {})
            ]
        except _RowError as error:
            faults.append(Fault(f"row {error.line}", str(error)))
    if faults:
        raise refuse_faults(path, faults)
    return Job(name=path.stem[:200], units=units, tubes=tuple(tubes)).at_path(path)


class _RowError(InputError):
    """What is wrong with a row."""

    def __init__(self, row: Row, what: str) -> None:
        super().__init__(what)
        self.line = row.line


def _corner_rows(tube: TubeShape, units: Units) -> Iterator[list[str]]:
    for point in tube.points:
        yield [_length_text(value, units) for value in point]


def _leg_rows(tube: TubeShape, units: Units) -> Iterator[list[str]]:
    line = tube.line
    place = [
        *(_length_text(value, units) for value in line.start),
        *(str(written(value)) for value in (*line.along, *line.up)),
    ]
    for number, leg in enumerate(line.legs):
        bend = ["", ""]
        if number < len(line.angles):
            bend = [str(written(line.angles[number])), str(written(line.rotations[number]))]
        yield [_length_text(leg, units), *bend, *(place if number == 0 else [""] * len(place))]


def _length_text(mm: float, units: Units) -> str:
    """Write a length so that reading it gives the very same float."""
    short = str(written(bare_length(mm, units)))
    if units == "mm" or parse_length(short, units) == mm:
        return short
    exact = Fraction(mm) / INCH
    return str(Context(prec=20).divide(exact.numerator, exact.denominator))


def _form_and_units(table: Table, *, tubing_known: bool) -> tuple[Form, Units]:
    forms: dict[Form, Mapping[str, Sequence[str]]] = {"corners": _CORNERS, "legs": _BEND}
    both: tuple[Units, ...] = ("mm", "in")
    found = [
        (form, units)
        for form, columns in forms.items()
        for units in both
        if set(columns[units]) <= set(table.columns)
    ]
    if len(found) != 1 or not (tubing_known or "tubing" in table.columns):
        raise refuse_file(
            table.path,
            "expected columns tube, tubing, die and either x_mm, y_mm, z_mm or leg_mm, angle, "
            f"rotation (_in for inches); found {', '.join(table.columns)[:120]}",
        )
    return found[0]


def _by_tube(table: Table, faults: list[Fault]) -> Iterator[list[Row]]:
    """Part the rows by tube; rows of one tube stand together."""
    seen: set[str] = set()
    rows: list[Row] = []
    for row in table.rows:
        name = row.cells.get("tube", "")
        if rows and name in ("", rows[0].cells.get("tube", "")):
            rows.append(row)
            continue
        if rows:
            yield rows
        if name in seen:
            faults.append(Fault(f"row {row.line}", f'tube "{name}" stands twice'))
        seen.add(name)
        rows = [row]
    if rows:
        yield rows


def _who(rows: Sequence[Row], only: str) -> dict[str, Any]:
    """Give the names of tube, tubing and die; whatever row says them, they agree.

    `only` is the name where the table has no column for it, and so but one tube.
    """
    given: dict[str, Any] = {"name": rows[0].cells.get("tube", only)}
    for key in WHO[1:]:
        for row in rows:
            said = row.cells.get(key, "")
            if said and given.setdefault(key, said) != said:
                raise _RowError(row, f'{key}: expected "{given[key]}" as above, found "{said}"')
    return given


def _points(table: Table, rows: Sequence[Row], units: Units) -> list[list[float]]:
    return [[_length(table, row, column, units) for column in _CORNERS[units]] for row in rows]


def _bends(table: Table, rows: Sequence[Row], units: Units) -> dict[str, Any]:
    legs, angles, rotations = [], [], []
    for row in rows:
        legs.append(_length(table, row, f"leg_{units}", units))
        angle = _cell(table, row, "angle", parse_angle, plain=True)
        last = row is rows[-1]
        if angle is None and not last:
            raise _RowError(row, "angle: expected a bend after each straight but the last")
        if angle is not None and last:
            raise _RowError(row, "expected a row after it, as a straight follows the last bend")
        if angle is not None:
            angles.append(angle)
            turned = _cell(table, row, "rotation", parse_angle, plain=True)
            rotations.append(turned or 0.0)
    placed = {
        "from": _three(table, rows[0], _PLACE[units], units),
        "along": _three(table, rows[0], _ALONG),
        "up": _three(table, rows[0], _UP),
    }
    said = {key: place for key, place in placed.items() if place}
    return {"legs": legs, "angles": angles, "rotations": rotations, **said}


def _three(
    table: Table, row: Row, columns: Sequence[str], units: Units | None = None
) -> list[float] | None:
    """Read a place (with `units`) or a direction; None when all its cells are empty."""
    if not any(row.cells.get(column) for column in columns):
        return None
    if units:
        return [_length(table, row, column, units) for column in columns]
    return [_cell(table, row, column, _number, plain=True) or 0.0 for column in columns]


def _length(table: Table, row: Row, column: str, units: Units) -> float:
    value = _cell(table, row, column, lambda text: parse_length(text, units), plain=units == "mm")
    if value is None:
        raise _RowError(row, f"{column}: expected a length, the cell is empty")
    return value


def _number(text: str) -> float:
    if not text.isascii() or "_" in text:
        refuse("a number", text)
    try:
        return float(text)
    except ValueError:
        refuse("a number", text)


def _cell(
    table: Table, row: Row, column: str, read: Callable[[str], float], *, plain: bool
) -> float | None:
    """Read a cell, None when it is empty; `plain`: a bare decimal there is the value itself."""
    text = row.cells.get(column, "")
    if not text:
        return None
    if table.decimal_comma:
        text = text.replace(",", ".")
    if plain and _DECIMAL.fullmatch(text):  # most cells, and ten times faster
        return float(text)
    try:
        return read(text)
    except ValueError as error:
        raise _RowError(row, f"{column}: {error}") from None
