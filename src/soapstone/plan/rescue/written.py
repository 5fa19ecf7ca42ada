"""What was made, as a fabricator writes it: "2: 44.2", or a file with a row for each bend."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.plan.rescue.model import MadeBend
from soapstone.quantities import Units, parse_angle, parse_length
from soapstone.textfiles import one_line, read_table, read_toml, refuse_file

EXAMPLE = '"2: 44.2", or "2: 44.2, roll 91, dial 47.5, leg 310"'

_PARTS = re.compile(
    r"\s*(?:bend\s*)?(\d{1,3})\s*[:=]\s*([^,;]+)((?:[,;][^,;]+)*)\s*", re.IGNORECASE
)
_PART = re.compile(r"[,;]\s*(roll|dial|mark|leg)\s*[:=]?\s*([^,;]+)", re.IGNORECASE)


def made_from(text: str, units: Units) -> MadeBend:
    """Read one bend as made; lengths are in the job's units where they carry none.

    Raises
    ------
    InputError
        It is not written so, or a number is none.
    """
    whole = _PARTS.fullmatch(text)
    parts = list(_PART.finditer(whole[3])) if whole else []
    if whole is None or "".join(part[0] for part in parts) != whole[3]:
        raise InputError(
            one_line(f"--made {text[:60]!r}: expected a bend's number and its angle, {EXAMPLE}")
        )
    found: dict[str, float] = {}
    try:
        angle = parse_angle(whole[2].strip())
        for part in parts:
            key, value = part[1].lower(), part[2].strip()
            if key in found:
                raise ValueError(f"{key} stands twice")
            found[key] = (
                parse_length(value, units) if key in ("mark", "leg") else parse_angle(value)
            )
    except ValueError as error:
        raise InputError(one_line(f"--made {text[:60]!r}: {error}")) from None
    return MadeBend(int(whole[1]), angle, **found)


KEYS = ("angle", "roll", "dial", "mark", "leg")
"""What may be said of a bend beside its number; a length for mark and leg, else degrees."""

ENDINGS = (".csv", ".toml")


def is_file(text: str) -> bool:
    """Tell whether bends made are named by a file."""
    return text.strip().lower().endswith(ENDINGS)


def made_in(path: Path, units: Units) -> list[MadeBend]:
    """Read bends made from a file.

    A .csv has the columns `bend, angle` and any of `roll, dial, mark, leg`; a .toml the same as
    keys of its `[[bend]]` tables, with `n` or `bend` for the number, and may have `units`. Rows
    without an angle are bends not made yet.

    Raises
    ------
    InputError
        One line naming the file, the row and what is expected.
    """
    units, named = _rows_of(path, units)
    made = [_row(path, where, row, units) for where, row in named]
    found = [bend for bend in made if bend is not None]
    if not found:
        raise refuse_file(path, "expected at least one bend with its number and angle")
    return found


def _rows_of(path: Path, units: Units) -> tuple[Units, list[tuple[str, dict[str, Any]]]]:
    """Give the rows of a file, each with its place, and the unit of bare lengths."""
    if path.suffix.lower() == ".toml":
        whole = read_toml(path)
        units = _units(path, whole.pop("units", units))
        rows = whole.pop("bend", None)
        if whole or not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            odd = f"{next(iter(whole))}: unknown; " if whole else ""
            raise refuse_file(path, f"{odd}expected [[bend]] tables {{ bend, angle, ... }}")
        named = [(f"bend[{i}]", row) for i, row in enumerate(rows, start=1)]
    else:
        table = read_table(path)
        comma = "." if table.decimal_comma else ","
        named = [
            (f"row {row.line}", {k: v.replace(",", comma) for k, v in row.cells.items() if v})
            for row in table.rows
        ]
    return units, named


def _units(path: Path, told: object) -> Units:
    if told == "mm":
        return "mm"
    if told == "in":
        return "in"
    raise refuse_file(path, 'units: expected "mm" or "in"')


def _row(path: Path, where: str, row: Mapping[str, Any], units: Units) -> MadeBend | None:
    """Read one bend; None where it has no angle."""
    values = dict(row)
    number = values.pop("bend", values.pop("n", None))
    for key in values:
        if key not in KEYS:
            raise refuse_file(path, f"{where}, {key}: unknown; expected bend, {', '.join(KEYS)}")
    if "angle" not in values:
        return None
    if isinstance(number, bool) or not re.fullmatch(r"\s*\d{1,3}\s*", str(number)):
        raise refuse_file(path, f"{where}, bend: expected the bend's number, such as 2")
    found: dict[str, float] = {}
    for key, value in values.items():
        try:
            text = str(value)
            found[key] = parse_length(text, units) if key in ("mark", "leg") else parse_angle(text)
        except ValueError as error:
            raise refuse_file(path, f"{where}, {key}: {error}") from None
    return MadeBend(int(number), **found)
