"""Sticks and what is left of them: what lies in the yard, what comes in and what is used up."""

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.log.rows import Stick, short
from soapstone.log.store import log_path, open_log

MOST = 1000
"""Sticks that come in at once."""


@dataclass(frozen=True, slots=True)
class YardPiece:
    """A straight piece in the yard: `length` in mm, `since` the date it came there.

    `kind` is "stick" for one as bought, "remnant" for what was left over. `name` is how people and
    `use_piece` call it.
    """

    name: str
    length: float
    tubing: str
    lot: str
    since: str
    kind: str
    note: str = ""

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm."""
        return asdict(self)


def pieces_in_yard(log: Path, tubing: str = "") -> tuple[YardPiece, ...]:
    """Give what lies in the yard, of one tubing or of all, the longest first; no log, nothing.

    Raises
    ------
    InputError
        There is a log, and it cannot be read.
    """
    if not log.is_file():
        return ()
    with open_log(log) as store:
        return tuple(_told(one) for one in store.remnants() if tubing in ("", one.tubing))


def in_yard(log: Path | None) -> tuple[tuple[str, float], ...]:
    """Give what lies in the yard as `nest_files` takes it: name of the tubing and mm.

    `log` is the log's place, None for the usual one.
    """
    return tuple((one.tubing, one.length) for one in pieces_in_yard(log_path(log)))


def add_sticks(
    log: Path,
    tubing: str,
    lengths: Sequence[float],
    date: str,
    *,
    lot: str = "",
    kind: str = "stick",
    note: str = "",
) -> tuple[YardPiece, ...]:
    """Record pieces that have come into the yard, lengths in mm; give them with their names.

    Raises
    ------
    InputError
        A piece has no tubing or no length, there are too many, or the log cannot keep them.
    """
    if not tubing.strip():
        raise InputError("--tubing: expected the name of a tubing")
    if not 1 <= len(lengths) <= MOST:
        raise InputError(f"--count: expected 1 to {MOST}")
    made = [
        Stick(uuid.uuid4().hex[:8], tubing.strip(), lot, date, length, kind, "", note)
        for length in lengths
    ]
    with open_log(log) as store:
        store.add_sticks(made)
    return tuple(_told(one) for one in made)


def use_piece(
    log: Path, name: str, date: str, *, used_for: str = "", left: float = 0.0
) -> tuple[YardPiece, YardPiece | None]:
    """Take a piece from the yard; what is left of it, in mm, goes back. Give both.

    Raises
    ------
    InputError
        There is no such piece, it is used up, or more is left of it than it had.
    """
    with open_log(log) as store:
        used, rest = store.use(name, date, used_for, left, uuid.uuid4().hex[:8])
    return _told(used), None if rest is None else _told(rest)


def _told(one: Stick) -> YardPiece:
    return YardPiece(short(one.id), one.length, one.tubing, one.lot, one.date, one.kind, one.note)
