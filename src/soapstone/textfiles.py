"""Text files given by a user: read whole, or refused in one line that names the file."""

import contextlib
import csv
import io
import os
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError

LARGEST_TOML = 4_000_000  # bytes; a job of a thousand tubes takes a tenth of it
LARGEST_TABLE = 64_000_000  # bytes; ten thousand tubes in corners take a tenth of it


def one_line(text: str) -> str:
    """Replace what would break or garble a line of a terminal."""
    return "".join(c if c.isprintable() else " " for c in text)


def refuse_file(path: Path | str, what: str) -> InputError:
    """Give the error for a file: its name, then what is expected."""
    return InputError(one_line(f"{path}: {what}"))


def read_text(path: Path, largest: int) -> str:
    """Read a UTF-8 text file, with or without a byte order mark, of at most `largest` bytes.

    Raises
    ------
    InputError
        There is no such file, it cannot be read, is no UTF-8 text, or is too large.
    """
    try:
        if path.is_dir():
            raise refuse_file(path, "expected a file, this is a directory")
        with path.open("rb") as file:
            content = file.read(largest + 1)
    except FileNotFoundError:
        raise refuse_file(path, "there is no such file") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or "not a file name"
        raise refuse_file(path, f"the file cannot be read ({reason.lower()})") from None
    if len(content) > largest:
        raise refuse_file(path, f"expected at most {largest // 1_000_000} MB, the file is larger")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refuse_file(path, f"line {line}: expected text in UTF-8") from None


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file into plain tables, lists, numbers and strings.

    Raises
    ------
    InputError
        As `read_text`, and when the text is no TOML; the line is named.
    """
    return parse_toml(read_text(path, LARGEST_TOML), path)


def parse_toml(text: str, path: Path | str) -> dict[str, Any]:
    """Read TOML text; `path` is the file it came from, for the error."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason = str(error)
        reason = reason[:1].lower() + reason[1:]
        raise refuse_file(path, f"expected TOML: {reason}") from None
    except RecursionError:
        raise refuse_file(path, "expected TOML: lists nested too deep") from None
    except ValueError:  # an integer of thousands of digits
        raise refuse_file(path, "expected TOML: a number is too long") from None


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: its line in the file and its cells by column, stripped of blanks."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a header row. `decimal_comma`: numbers are written 12,5."""

    path: Path
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    decimal_comma: bool

    def number(self, row: Row, column: str) -> float | None:
        """Read a cell as a finite number; None when it is empty or there is no such column.

        Raises
        ------
        InputError
            The cell holds something else.
        """
        text = row.cells.get(column, "")
        if not text:
            return None
        plain = text.replace(",", ".") if self.decimal_comma else text
        try:
            value = float(plain) if plain.isascii() and "_" not in plain else float("nan")
        except ValueError:
            value = float("nan")
        if not abs(value) < 1e15:
            raise self.fault(row, f"{column}: expected a number, found {text[:40]!r}")
        return value

    def fault(self, row: Row, what: str) -> InputError:
        """Give the error for a row: file, row and what is expected."""
        return refuse_file(self.path, f"row {row.line}: {what}")


def read_table(path: Path) -> Table:
    """Read a table of values separated by commas, semicolons or tabs; the first row names columns.

    Column names are brought to lower case with single underscores for blanks. Blank rows and rows
    that start with "#" are passed over. With semicolons or tabs, a comma in a number is a decimal
    comma.

    Raises
    ------
    InputError
        As `read_text`; there is no header; a row has more cells than the header; a column twice.
    """
    text = read_text(path, LARGEST_TABLE)
    head = next((line for line in text.splitlines() if _holds(line.split(","))), "")
    separator = next((mark for mark in (";", "\t") if mark in head), ",")
    rows = _rows(path, text, separator)
    _, header = next(rows, (0, []))
    columns = _columns(path, header)
    found = []
    for line, cells in rows:
        while len(cells) > len(columns) and not cells[-1]:
            cells.pop()
        if len(cells) > len(columns):
            raise refuse_file(path, f"row {line}: expected {len(columns)} cells, not {len(cells)}")
        found.append(Row(line, dict(zip(columns, cells, strict=False))))
    return Table(path, columns, tuple(found), separator != ",")


def _rows(path: Path, text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Give line number and stripped cells of the rows that hold something."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if _holds(stripped):
                yield reader.line_num, stripped
    except csv.Error:
        raise refuse_file(path, f"row {reader.line_num}: expected cells, found no table") from None


def _holds(cells: Sequence[str]) -> bool:
    """Whether a row is neither blank nor a remark."""
    return any(cell.strip(" \t;") for cell in cells) and not cells[0].lstrip().startswith("#")


def _columns(path: Path, header: Sequence[str]) -> tuple[str, ...]:
    names = ["_".join(name.lower().split()) for name in header]
    while names and not names[-1]:
        names.pop()
    if not names:
        raise refuse_file(path, "expected a row that names the columns, the file is empty")
    for name in names:
        if not name or names.count(name) > 1:
            fault = f"the column {name!r} stands twice" if name else "a column has no name"
            raise refuse_file(path, f"expected a row that names the columns; {fault}")
    return tuple(names)


def refuse_unwritable(path: Path) -> None:
    """Refuse a place where no file can be written, before the work is done that is to go there.

    Raises
    ------
    InputError
        It is a folder, or there is no folder that it could be in.
    """
    if not path.name or path.is_dir():
        raise refuse_file(path, "expected the name of a file to write, this is a directory")
    if not path.absolute().parent.is_dir():
        raise refuse_file(path, "the file cannot be written (no such file or directory)")


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: a reader never finds half of it, nor does a power cut.

    Raises
    ------
    InputError
        The file cannot be written there; what stood there before is untouched.
    """
    refuse_unwritable(path)
    beside = path.with_name(f".{path.name[:80]}.part")
    try:
        with beside.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(path)
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            beside.unlink()
        reason = getattr(error, "strerror", None) or "not a file name"
        raise refuse_file(path, f"the file cannot be written ({reason.lower()})") from None
