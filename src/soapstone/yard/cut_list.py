"""What is to be cut and from what: the file of sticks and pieces, read into mm."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.faults import Fault, refuse_faults
from soapstone.quantities import Units, parse_length
from soapstone.textfiles import one_line, read_text, read_toml, refuse_file

LARGEST = 10_000_000
MOST = 1_000_000


@dataclass(frozen=True, slots=True)
class Stick:
    """A length in mm that sticks come in, how many there are (None: any), and what one costs."""

    length: float
    count: int | None
    cost: float


@dataclass(frozen=True, slots=True)
class Piece:
    """A length in mm to cut, how many, and its name."""

    length: float
    count: int
    name: str


@dataclass(frozen=True, slots=True)
class CutList:
    """Kerf in mm, sticks and pieces; `units` is what the file was written in."""

    kerf: float
    sticks: tuple[Stick, ...]
    pieces: tuple[Piece, ...]
    units: Units


def refuse_long(sticks: Sequence[Stick], pieces: Sequence[Piece]) -> None:
    """Refuse pieces longer than every stick."""
    longest = max(s.length for s in sticks)
    for piece in pieces:
        if piece.length > longest + 1e-6:
            raise InputError(
                one_line(
                    f'piece "{piece.name}" is {piece.length:.1f} mm, '
                    f"longer than the longest stick, {longest:.1f} mm"
                )
            )


def refuse_short_stock() -> InputError:
    """Give the error of sticks that run out."""
    return InputError(
        "sticks: no way was found to cut all pieces from them; expected more or longer ones"
    )


def read_cut_list(path: Path) -> CutList:
    """Read a file of sticks and pieces, JSON or TOML; an InputError names all that is wrong."""
    raw = _raw(path)
    units = raw.get("units", "mm")
    faults: list[Fault] = []
    if units not in ("mm", "in"):
        faults, units = [Fault("units", 'expected "mm" or "in"')], "mm"
    kerf = _length(raw.get("kerf", 0), units, "kerf", faults, least=0.0)
    sticks, pieces = [], []
    for key, row in _rows(raw, "sticks", faults):
        length = _length(row.get("length"), units, f"{key}.length", faults)
        count = None if row.get("count") is None else _count(row, key, faults)
        price = row.get("price", length)
        if isinstance(price, bool) or not isinstance(price, (int, float)) or not 0 <= price < 1e9:
            faults.append(Fault(f"{key}.price", "expected a price, 0 for what is at hand"))
            price = 1.0
        if price == 0 and count is None:
            faults.append(Fault(f"{key}.count", "expected how many there are of what costs 0"))
        sticks.append((length, count, float(price), "price" in row))
    for n, (key, row) in enumerate(_rows(raw, "pieces", faults), 1):
        length = _length(row.get("length"), units, f"{key}.length", faults)
        name = str(row.get("name", f"piece {n}"))
        pieces.append(Piece(length, _count(row, key, faults), name))
    if len({priced for *_, priced in sticks}) > 1:
        faults.append(Fault("sticks", "expected a price for every stick or for none"))
    if faults:
        raise refuse_faults(path, faults)
    return CutList(kerf, tuple(Stick(*row[:3]) for row in sticks), tuple(pieces), units)


def _raw(path: Path) -> dict[str, Any]:
    if path.suffix.lower() != ".json":
        return read_toml(path)
    try:
        raw = json.loads(read_text(path, LARGEST))
    except (ValueError, RecursionError):
        raise refuse_file(path, "expected JSON") from None
    if not isinstance(raw, dict):
        raise refuse_file(path, "expected an object with kerf, sticks and pieces")
    return raw


def _rows(raw: dict[str, Any], key: str, faults: list[Fault]) -> list[tuple[str, dict[str, Any]]]:
    rows = raw.get(key)
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        faults.append(Fault(key, "expected a list with at least one {length, count}"))
        return []
    return [(f"{key}[{i}]", row) for i, row in enumerate(rows, 1)]


def _length(value: Any, units: str, key: str, faults: list[Fault], least: float = 0.01) -> float:
    try:
        if value is None or isinstance(value, bool):
            raise ValueError("expected a length")
        length = parse_length(value, units)
        if length < least:
            raise ValueError(f"expected a length of at least {least:g} mm")
    except (ValueError, TypeError) as error:
        faults.append(Fault(key, str(error)))
        return 1.0
    return length


def _count(row: dict[str, Any], key: str, faults: list[Fault]) -> int:
    count = row.get("count", 1)
    if isinstance(count, bool) or not isinstance(count, int) or not 0 < count <= MOST:
        faults.append(Fault(f"{key}.count", "expected a whole number above 0"))
        return 1
    return count
