"""The whole log as one JSON document, and back: nothing is lost, nothing comes in twice."""

import json
import math
from pathlib import Path
from typing import Any

from soapstone.log.store import Log
from soapstone.textfiles import read_text, refuse_file, write_whole

FORMAT = "soapstone log 1"
LARGEST = 200_000_000
"""Bytes; a shop of ten bends an hour fills a hundredth of that in a year."""

COLUMNS: dict[str, dict[str, Any]] = {
    "runs": dict.fromkeys(("id", "job", "tube", "lot", "started", "plan"), str)
    | {"ended": (str, type(None))},
    "steps": {"run": str, "number": int, "event": str, "at": str},
    "trials": dict.fromkeys(("id", "die", "tubing", "lot", "date"), str)
    | {"dial": float, "angle": float},
    "sticks": dict.fromkeys(("id", "tubing", "lot", "date"), str) | {"length": float},
}
KEYS = {"runs": 1, "steps": 2, "trials": 1, "sticks": 1}
"""How many of a table's first columns name a row."""


def export_log(log: Log, path: Path) -> int:
    """Write the log to a file; give how many rows went into it."""
    tables = {name: log.table(name, tuple(columns)) for name, columns in COLUMNS.items()}
    text = json.dumps({"format": FORMAT, **tables}, ensure_ascii=False, indent=1) + "\n"
    write_whole(path, text.encode("utf-8"))
    return sum(map(len, tables.values()))


def import_log(log: Log, path: Path) -> int:
    """Bring a file's rows into the log, all or none; give how many were new.

    Raises
    ------
    InputError
        The file is no export of a log, or holds something else than the log under the same name.
    """
    try:
        document = json.loads(read_text(path, LARGEST))
    except (json.JSONDecodeError, RecursionError):
        raise refuse_file(path, "expected a file that soapstone log export wrote") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise refuse_file(path, f'expected a file that soapstone log export wrote, "{FORMAT}"')
    return log.merge({name: _rows(document, name, path) for name in COLUMNS}, KEYS, path.name)


def _rows(document: dict[str, Any], name: str, path: Path) -> list[tuple[Any, ...]]:
    rows, columns = document.get(name), COLUMNS[name]
    if not isinstance(rows, list):
        raise refuse_file(path, f"{name}: expected a list of rows")
    for number, row in enumerate(rows, 1):
        if not isinstance(row, list) or not _fits(row, list(columns.values())):
            raise refuse_file(path, f"{name}, row {number}: expected {', '.join(columns)}")
    return [tuple(row) for row in rows]


def _fits(row: list[Any], kinds: list[Any]) -> bool:
    if len(row) != len(kinds):
        return False
    typed = all(
        isinstance(cell, kind) and not isinstance(cell, bool)
        for cell, kind in zip(row, kinds, strict=True)
    )
    sizes = [cell for cell in row if isinstance(cell, (int, float))]
    return typed and all(math.isfinite(size) and abs(size) < 2**53 for size in sizes)
