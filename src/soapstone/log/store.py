"""Open the log, write to it whole transactions, read them back; every fault is one clear line."""

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.log.migrations import MIGRATIONS
from soapstone.textfiles import one_line

LOG_VARIABLE = "SOAPSTONE_LOG"
PATIENCE = 10.0
"""Seconds that one writer waits for another."""

_FAULTS = {
    sqlite3.SQLITE_BUSY: "another program is writing to it; try again",
    sqlite3.SQLITE_LOCKED: "another program is writing to it; try again",
    sqlite3.SQLITE_READONLY: "it may not be written to; name another with --log",
    sqlite3.SQLITE_PERM: "it may not be written to; name another with --log",
    sqlite3.SQLITE_FULL: "the disk is full; what was confirmed before is kept",
    sqlite3.SQLITE_CORRUPT: "it is damaged; put it aside and bring back a copy of it",
    sqlite3.SQLITE_NOTADB: "it is not a log of soapstone; name another with --log",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened; name another with --log",
    sqlite3.SQLITE_IOERR: "the disk does not answer; what was confirmed before is kept",
}


@dataclass(frozen=True, slots=True)
class Run:
    """One tube being made: its plan as it was at the start. `ended` is None until it is over."""

    id: str
    job: str
    tube: str
    lot: str
    started: str
    plan: str
    ended: str | None = None


@dataclass(frozen=True, slots=True)
class LoggedTrial:
    """A bend made: where the dial was stopped and the angle it gave, in degrees."""

    id: str
    die: str
    tubing: str
    lot: str
    date: str
    dial: float
    angle: float


@dataclass(frozen=True, slots=True)
class Remnant:
    """A straight piece left over; `length` in mm."""

    id: str
    tubing: str
    lot: str
    date: str
    length: float


def log_path(given: Path | None = None) -> Path:
    """Give the log's place: as given, else by SOAPSTONE_LOG, else in the user's data folder."""
    if given is not None:
        return given
    named = os.environ.get(LOG_VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("soapstone", appauthor=False) / "log.sqlite"


class Log:
    """An open log. Each method that writes is one transaction: all of it is kept, or nothing."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._sql = connection

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with refusing(self.path):
            self._sql.execute("BEGIN IMMEDIATE")
            try:
                yield self._sql
                self._sql.execute("COMMIT")
            except BaseException:
                if self._sql.in_transaction:
                    self._sql.execute("ROLLBACK")
                raise

    def _rows(self, query: str, values: Sequence[Any] = ()) -> list[Any]:
        with refusing(self.path):
            return self._sql.execute(query, values).fetchall()

    def migrate(self) -> None:
        """Bring the tables up to date.

        Raises
        ------
        InputError
            The log was written by a newer soapstone.
        """
        with self._writing() as sql:
            (version,) = sql.execute("PRAGMA user_version").fetchone()
            if version > len(MIGRATIONS):
                raise InputError(
                    f"{self.path}: this log was written by a newer soapstone; update soapstone"
                )
            for number, (_, statements) in enumerate(MIGRATIONS[version:], version + 1):
                for statement in statements:
                    sql.execute(statement)
                sql.execute(f"PRAGMA user_version = {number}")

    def open_run(self, job: str, tube: str) -> Run | None:
        """Give the unfinished run of a job's tube, if there is one."""
        rows = self._rows(
            "SELECT id, job, tube, lot, started, plan, ended FROM runs"
            " WHERE job = ? AND tube = ? AND ended IS NULL",
            (job, tube),
        )
        return Run(*rows[0]) if rows else None

    def start(self, run: Run) -> None:
        """Begin a run; of one job's tube only one can be open."""
        with self._writing() as sql:
            _add(sql, "runs", (run.id, run.job, run.tube, run.lot, run.started, run.plan, None))

    def end(self, run: str, at: str) -> None:
        """Give a run up; what was recorded of it stays."""
        with self._writing() as sql:
            sql.execute("UPDATE runs SET ended = ? WHERE id = ?", (at, run))

    def last_run(self, job: str, tube: str) -> Run | None:
        """Give the run of a job's tube that ended last, if one has."""
        rows = self._rows(
            "SELECT id, job, tube, lot, started, plan, ended FROM runs"
            " WHERE job = ? AND tube = ? AND ended IS NOT NULL ORDER BY ended DESC, id LIMIT 1",
            (job, tube),
        )
        return Run(*rows[0]) if rows else None

    def events(self, run: str) -> list[dict[str, Any]]:
        """Give what was recorded of a run, in order."""
        rows = self._rows("SELECT event FROM steps WHERE run = ? ORDER BY number", (run,))
        return [json.loads(event) for (event,) in rows]

    def confirm(
        self,
        run: str,
        number: int,
        event: dict[str, Any],
        at: str,
        *,
        ended: bool = False,
        trials: Sequence[LoggedTrial] = (),
        remnants: Sequence[Remnant] = (),
    ) -> None:
        """Record what happened at a step, and with a run's last step what it taught and left.

        Raises
        ------
        InputError
            That step was confirmed already, by another program, or the run is over.
        """
        with self._writing() as sql:
            (still_open,) = sql.execute(
                "SELECT count(*) FROM runs WHERE id = ? AND ended IS NULL", (run,)
            ).fetchone()
            if not still_open:
                raise InputError(f"{self.path}: this run is over")
            _add(sql, "steps", (run, number, json.dumps(event), at))
            for trial in trials:
                _add(sql, "trials", _trial_row(trial))
            for piece in remnants:
                _add(sql, "sticks", _remnant_row(piece))
            if ended:
                sql.execute("UPDATE runs SET ended = ? WHERE id = ?", (at, run))

    def add_trial(self, trial: LoggedTrial) -> None:
        """Record one bend made."""
        with self._writing() as sql:
            _add(sql, "trials", _trial_row(trial))

    def trials(self) -> list[LoggedTrial]:
        """Give all bends recorded, oldest first."""
        rows = self._rows(
            "SELECT id, die, tubing, lot, date, dial, angle FROM trials ORDER BY date, id"
        )
        return [LoggedTrial(*row) for row in rows]

    def remnants(self) -> list[Remnant]:
        """Give all remnants, longest first."""
        rows = self._rows(
            "SELECT id, tubing, lot, date, length FROM sticks ORDER BY length DESC, id"
        )
        return [Remnant(*row) for row in rows]

    def table(self, name: str, columns: Sequence[str]) -> list[list[Any]]:
        """Give a whole table, its rows in the order of their names."""
        query = f"SELECT {', '.join(columns)} FROM {name} ORDER BY 1, 2"
        return [list(row) for row in self._rows(query)]

    def merge(
        self, tables: Mapping[str, Sequence[tuple[Any, ...]]], keys: Mapping[str, int], source: str
    ) -> int:
        """Add the rows that are not there yet, all or none; give how many those are.

        `keys` says how many of a table's first columns name a row.

        Raises
        ------
        InputError
            A row of the same name says something else, or steps have no run.
        """
        added = 0
        with self._writing() as sql:
            for name, rows in tables.items():
                for row in rows:
                    new = sql.execute(
                        f"INSERT OR IGNORE INTO {name} VALUES ({', '.join('?' * len(row))})", row
                    ).rowcount
                    if not new and not _holds(sql, name, row, keys[name]):
                        raise InputError(
                            f"{source}: {name}, {row[0]}: {self.path} says something else of it; "
                            "nothing was brought in"
                        )
                    added += new
        return added


@contextlib.contextmanager
def open_log(path: Path) -> Iterator[Log]:
    """Open the log at a path, made new where there is none.

    Raises
    ------
    InputError
        It cannot be read or written; the line says why and what to do.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise InputError(one_line(f"{path}: {fault.strerror}; name another with --log")) from None
    with refusing(path):
        connection = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
    try:
        with refusing(path):
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
        log = Log(path, connection)
        log.migrate()
        yield log
    finally:
        connection.close()


@contextlib.contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the database refuses into one line that names the log and the remedy."""
    try:
        yield
    except sqlite3.IntegrityError as fault:
        if fault.sqlite_errorcode == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
            raise InputError(f"{path}: a step belongs to no run; nothing was kept of it") from None
        raise InputError(
            f"{path}: it holds this step already, from another window; look again with --show"
        ) from None
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorcode", 0) & 0xFF
        raise InputError(one_line(f"{path}: {_FAULTS.get(code, str(fault))}")) from None


def _add(sql: sqlite3.Connection, table: str, row: tuple[Any, ...]) -> None:
    sql.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)


def _trial_row(one: LoggedTrial) -> tuple[Any, ...]:
    return one.id, one.die, one.tubing, one.lot, one.date, one.dial, one.angle


def _remnant_row(one: Remnant) -> tuple[Any, ...]:
    return one.id, one.tubing, one.lot, one.date, one.length


def _holds(sql: sqlite3.Connection, table: str, row: tuple[Any, ...], key: int) -> bool:
    """Tell whether the table holds this very row."""
    names = [column[1] for column in sql.execute(f"PRAGMA table_info ({table})")]
    where = " AND ".join(f"{name} = ?" for name in names[:key])
    return row in sql.execute(f"SELECT * FROM {table} WHERE {where}", row[:key]).fetchall()
