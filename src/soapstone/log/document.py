"""The whole log as one JSON document, and back: nothing is lost, nothing comes in twice."""

import json
import math
from dataclasses import astuple, fields
from pathlib import Path
from typing import Any

from soapstone.log.rows import TABLES, Table
from soapstone.log.store import Log
from soapstone.textfiles import read_text, refuse_file, write_whole

FORMATS = ("soapstone log 1", "soapstone log 2")
"""All that can be read, the one that is written last."""

LARGEST = 200_000_000
"""Bytes; a shop of ten bends an hour fills a hundredth of that in a year."""

ONCE = {"runs": 7, "steps": 4, "trials": 7, "sticks": 5}
"""How many columns the tables of the first format had; the later ones have what stands for them."""

_WRITTEN = "expected a file that soapstone log export wrote"


def export_log(log: Log, path: Path) -> int:
    """Write the log to a file; give how many rows went into it."""
    tables = {name: log.table(name) for name in TABLES}
    text = json.dumps({"format": FORMATS[-1], **tables}, ensure_ascii=False, indent=1) + "\n"
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
        raise refuse_file(path, _WRITTEN) from None
    if not isinstance(document, dict) or document.get("format") not in FORMATS:
        raise refuse_file(path, f'{_WRITTEN}, "{FORMATS[-1]}"')
    first = document["format"] == FORMATS[0]
    return log.merge({name: _rows(document, name, path, first) for name in TABLES}, path.name)


def _rows(document: dict[str, Any], name: Table, path: Path, first: bool) -> list[tuple[Any, ...]]:
    if first and name not in ONCE:
        return []
    kind, rows = TABLES[name], document.get(name)
    columns = fields(kind)[: ONCE[name] if first else None]
    if not isinstance(rows, list):
        raise refuse_file(path, f"{name}: expected a list of rows")
    for number, row in enumerate(rows, 1):
        if not isinstance(row, list) or not _fits(row, [one.type for one in columns]):
            names = ", ".join(one.name for one in columns)
            raise refuse_file(path, f"{name}, row {number}: expected {names}")
    return [astuple(kind(*row)) for row in rows]


_KINDS: dict[Any, tuple[type, ...]] = {
    str: (str,),
    int: (int,),
    float: (int, float),
    str | None: (str, type(None)),
    float | None: (int, float, type(None)),
}


def _fits(row: list[Any], kinds: list[Any]) -> bool:
    if len(row) != len(kinds):
        return False
    typed = all(
        isinstance(cell, _KINDS[kind]) and not isinstance(cell, bool)
        for cell, kind in zip(row, kinds, strict=True)
    )
    sizes = [cell for cell in row if isinstance(cell, (int, float))]
    return typed and all(math.isfinite(size) and abs(size) < 2**53 for size in sizes)
