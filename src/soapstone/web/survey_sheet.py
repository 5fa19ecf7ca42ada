"""A survey on its file: distances taped at the boat, put down as they are read."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.bench.values import written
from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_entry, with_value, without_entry
from soapstone.job.survey import Survey, SurveyResult, survey, survey_from
from soapstone.quantities import Units, parse_length
from soapstone.textfiles import LARGEST_TOML, parse_toml, read_text, write_whole

ROWS = ("tape", "level", "plumb", "side")

START = 'format = 1\nunits = "{}"\n\n[datum]\n'


def survey_file(job: Path) -> Path:
    """Give the file of a job's survey, beside the job: the one that is there, else a free name.

    A job that is called like another job's survey is left alone.
    """
    names = (f"{job.stem} survey{number}.toml" for number in ("", *map(" {}".format, range(2, 50))))
    files = [job.with_name(name) for name in names]
    mine = (file for file in files if file.is_file() and not _is_job(file))
    free = (file for file in files if not file.exists())
    return next(mine, None) or next(free, files[0])


def _is_job(file: Path) -> bool:
    try:
        return "tube" in parse_toml(read_text(file, LARGEST_TOML), file.name)
    except InputError:
        return False  # to be put right, and the page says how


@dataclass(slots=True)
class SurveySheet:
    """The file of a survey; it is begun with the first line that is put down."""

    path: Path
    begun_in: Units
    """The units that a file which is not there yet is begun in."""

    @property
    def units(self) -> Units:
        """The units of bare numbers: the file's own."""
        return "in" if self.tables.get("units", self.begun_in) == "in" else "mm"

    @property
    def text(self) -> str:
        """The file as it stands, or as it would begin."""
        if not self.path.is_file():
            return START.format(self.begun_in)
        return read_text(self.path, LARGEST_TOML)

    @property
    def tables(self) -> dict[str, Any]:
        """The file's tables as they are written; an InputError says what is wrong with it."""
        return self._checked(self.text)

    def put_datum(self, name: str, place: tuple[str, str, str]) -> None:
        """Put down a point whose place is known; coordinates as typed."""
        at = [_length(value, self.units, axis) for axis, value in zip("xyz", place, strict=True)]
        self._keep(with_value(self.text, ("datum", _name(name)), at))

    def drop_datum(self, name: str) -> None:
        """Take a known point away."""
        self._keep(with_value(self.text, ("datum", name), None))

    def put_tape(self, start: str, end: str, length: str) -> None:
        """Put down a distance as it was read off the tape, above 0, between two points."""
        row = {"from": _name(start), "to": _name(end), "length": _kept(length, self.units)}
        if row["from"] == row["to"]:
            raise InputError(f"{row['from']} to {row['from']}: a tape goes from one to another")
        if parse_length(length, self.units) <= 0:
            raise InputError(f"length: expected more than 0, found {length.strip()}")
        self._keep(with_entry(self.text, "tape", row))

    def put_points(self, kind: str, names: str) -> None:
        """Put down that points are level with, or plumb over, each other: names with commas."""
        points = [name.strip() for name in names.split(",") if name.strip()]
        if len(points) < 2:
            raise InputError("name two points or more, with commas between them")
        self._keep(with_entry(self.text, kind, {"points": points}))

    def put_side(self, point: str, toward: str) -> None:
        """Say which of two places a point is at: the one farthest toward."""
        self._keep(with_entry(self.text, "side", {"point": _name(point), "toward": toward}))

    def drop(self, kind: str, number: int, row: object) -> None:
        """Take a row away: "tape", "level", "plumb" or "side", its place from 0, and the row."""
        rows = self.tables.get(kind, [])
        if number >= len(rows) or rows[number] != row:
            raise InputError(f"that {kind} is not there any more; look at the list again")
        try:
            self._keep(without_entry(self.text, kind, number))
        except ValueError as error:
            raise InputError(str(error)) from None

    def read(self) -> Survey:
        """Read the survey; an InputError says what is still missing or wrong."""
        return survey_from(self.tables, self.path.name)

    def answer(self) -> SurveyResult:
        """Find the points."""
        return survey(self.read())

    def _keep(self, text: str) -> None:
        self._checked(text)
        write_whole(self.path, text.encode())

    def _checked(self, text: str) -> dict[str, Any]:
        """Read tables that have the form of a survey's, whatever stands in them."""
        tables = parse_toml(text, self.path.name)
        if "tube" in tables or "bench" in tables:
            raise InputError(f"{self.path.name}: it is a job, and no survey; rename one of them")
        if not isinstance(tables.get("datum", {}), dict):
            raise InputError(f"{self.path.name}: datum: expected a table of points")
        if not all(isinstance(place, list) for place in tables.get("datum", {}).values()):
            raise InputError(f"{self.path.name}: datum: expected places [x, y, z]")
        for kind in ROWS:
            rows = tables.get(kind, [])
            if not (isinstance(rows, list) and all(isinstance(row, dict) for row in rows)):
                raise InputError(f"{self.path.name}: {kind}: expected [[{kind}]] rows")
        return tables


def _name(text: str) -> str:
    name = text.strip()
    if not name:
        raise InputError("give the point a name")
    return name


def _length(typed: str, units: Units, what: str) -> str | float | int:
    try:
        parse_length(typed, units)
    except ValueError as error:
        raise InputError(f"{what}: {error}") from None
    return _kept(typed, units)


def _kept(typed: str, units: Units) -> str | float | int:
    """Give a length as its file writes it: a plain number as one, else as it was typed."""
    try:
        length = parse_length(typed, units)
    except ValueError as error:
        raise InputError(f"length: {error}") from None
    try:
        return written(float(typed))
    except ValueError:
        marked = any(mark in typed for mark in ("in", "mm", "cm", "ft", "m", "'", '"'))
        if marked:
            return typed.strip()
        return length / (25.4 if units == "in" else 1.0)
