"""Open the log, write to it whole transactions, read them back; every fault is one clear line."""

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple, fields
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.log.migrations import MIGRATIONS
from soapstone.log.rows import (
    KEYS,
    TABLES,
    Inspected,
    LoggedTrial,
    Remnant,
    Run,
    Step,
    Stick,
    Table,
    Use,
    named,
)
from soapstone.textfiles import one_line

__all__ = ["Log", "LoggedTrial", "Remnant", "Run", "Stick", "log_path", "open_log"]

LOG_VARIABLE = "SOAPSTONE_LOG"
NO_LOG = "off"
"""What SOAPSTONE_LOG says to leave the log out."""

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

    def check_version(self) -> int:
        """Give how many migrations the log has behind it; refuse one of a newer soapstone."""
        ((version,),) = self._rows("PRAGMA user_version")
        if version > len(MIGRATIONS):
            raise InputError(
                f"{self.path}: this log was written by a newer soapstone; update soapstone"
            )
        return int(version)

    def migrate(self) -> None:
        """Bring the tables up to date.

        Raises
        ------
        InputError
            The log was written by a newer soapstone.
        """
        with self._writing() as sql:
            version = self.check_version()
            for number, (_, statements) in enumerate(MIGRATIONS[version:], version + 1):
                for statement in statements:
                    sql.execute(statement)
                sql.execute(f"PRAGMA user_version = {number}")

    def runs(self, *, still_open: bool = False) -> list[Run]:
        """Give all runs, or those that are not over, the oldest first."""
        where = "WHERE ended IS NULL " if still_open else ""
        return [Run(*row) for row in self._rows(f"SELECT * FROM runs {where}ORDER BY started, id")]

    def open_run(self, job: str, tube: str) -> Run | None:
        """Give the unfinished run of a job's tube, if there is one."""
        rows = self._rows(
            "SELECT * FROM runs WHERE job = ? AND tube = ? AND ended IS NULL", (job, tube)
        )
        return Run(*rows[0]) if rows else None

    def start(self, run: Run) -> None:
        """Begin a run; of one job's tube only one can be open."""
        with self._writing() as sql:
            _add(sql, run)

    def end(self, run: str, at: str) -> None:
        """Give a run up; what was recorded of it stays."""
        with self._writing() as sql:
            sql.execute("UPDATE runs SET ended = ? WHERE id = ?", (at, run))

    def last_run(self, job: str, tube: str) -> Run | None:
        """Give the run of a job's tube that ended last, if one has."""
        rows = self._rows(
            "SELECT * FROM runs"
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
            _add(sql, Step(run, number, json.dumps(event), at))
            for trial in trials:
                _add(sql, trial)
            for left in remnants:
                _add(sql, left)
            if ended:
                sql.execute("UPDATE runs SET ended = ? WHERE id = ?", (at, run))

    def add_trial(self, trial: LoggedTrial) -> None:
        """Record one bend made."""
        with self._writing() as sql:
            _add(sql, trial)

    def learn(
        self, trials: Sequence[LoggedTrial], inspection: Inspected | None = None
    ) -> list[LoggedTrial]:
        """Record bends, and the inspection that told of them; give those that count from now on.

        A bend that the log holds already counts as it is. An inspection of the same piece made
        again stands in the former one's place, and so do the bends that it told of.
        """
        new = []
        with self._writing() as sql:
            if inspection is not None:
                sql.execute("DELETE FROM inspections WHERE id = ?", (inspection.id,))
                _add(sql, inspection)
                sql.execute(
                    "DELETE FROM trials WHERE source = 'inspection' AND substr(id, 1, ?) = ?",
                    (len(inspection.id) + 1, f"{inspection.id}:"),
                )
            for trial in trials:
                if not sql.execute("SELECT 1 FROM trials WHERE id = ?", (trial.id,)).fetchone():
                    _add(sql, trial)
                    new.append(trial)
        return new

    def trials(self) -> list[LoggedTrial]:
        """Give all bends recorded, oldest first."""
        rows = self._rows(f"SELECT {self._trial_columns()} FROM trials ORDER BY date, id")
        return [LoggedTrial(*row) for row in rows]

    def _trial_columns(self) -> str:
        """All columns, also where an older log, opened to be read alone, has fewer."""
        held = {row[1] for row in self._rows("PRAGMA table_info (trials)")}
        return ", ".join(
            name if name in held else f"{'NULL' if name != 'source' else repr('run')} AS {name}"
            for name in (one.name for one in fields(LoggedTrial))
        )

    def inspections(self) -> list[Inspected]:
        """Give all inspections kept, oldest first."""
        return [
            Inspected(*row)
            for row in self._rows("SELECT * FROM inspections ORDER BY date, tube, id")
        ]

    def remnants(self) -> list[Stick]:
        """Give all that lies in the yard, sticks and what is left of them, longest first."""
        rows = self._rows(
            "SELECT * FROM sticks WHERE id NOT IN (SELECT stick FROM uses) ORDER BY length DESC, id"
        )
        return [Stick(*row) for row in rows]

    def add_sticks(self, sticks: Sequence[Stick]) -> None:
        """Record sticks that have come into the yard."""
        with self._writing() as sql:
            for stick in sticks:
                _add(sql, stick)

    def use(
        self, given: str, date: str, used_for: str, left: float, new: str
    ) -> tuple[Stick, Stick | None]:
        """Take a stick from the yard by the name shown; what is left of it, in mm, goes back.

        Gives the stick and, under the id `new`, the rest, if any is left.

        Raises
        ------
        InputError
            There is none of that name, or several, or it is used up; or more is left than it had.
        """
        with self._writing() as sql:
            every = [Stick(*row) for row in sql.execute("SELECT * FROM sticks").fetchall()]
            meant = [one for one in every if named(one.id, given)]
            if len(meant) != 1:
                how = "no stick" if not meant else "more than one stick"
                raise InputError(f'{self.path}: {how} "{given[:40]}"; see soapstone log sticks')
            (stick,) = meant
            if sql.execute("SELECT 1 FROM uses WHERE stick = ?", (stick.id,)).fetchone():
                raise InputError(f'{self.path}: stick "{given[:40]}" is used up already')
            if left > stick.length:
                raise InputError(f"--left: the stick had {stick.length:.1f} mm, less than is left")
            _add(sql, Use(stick.id, date, used_for))
            if left <= 0:
                return stick, None
            rest = Stick(new, stick.tubing, stick.lot, date, left, cut_from=stick.id)
            _add(sql, rest)
            return stick, rest

    def table(self, name: Table) -> list[list[Any]]:
        """Give a whole table, its rows in the order of their names."""
        return [list(row) for row in self._rows(f"SELECT * FROM {name} ORDER BY 1, 2")]

    def merge(self, tables: Mapping[Table, Sequence[tuple[Any, ...]]], source: str) -> int:
        """Add the rows that are not there yet, all or none; give how many those are.

        A run that only one of the two has ended is over.

        Raises
        ------
        InputError
            A row of the same name says something else, or a row belongs to one that is missing.
        """
        added = 0
        with self._writing() as sql:
            for name, rows in tables.items():
                for row in rows:
                    new = sql.execute(
                        f"INSERT OR IGNORE INTO {name} VALUES ({', '.join('?' * len(row))})", row
                    ).rowcount
                    if not new and not _agrees(sql, name, row):
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
    if str(path) == NO_LOG:
        raise InputError(f"{LOG_VARIABLE} leaves the shop log out; name one with --log")
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
def read_log(path: Path) -> Iterator[Log]:
    """Open a log to be read alone: nothing is written, also where nothing may be.

    One that an older soapstone wrote is read as it will be once it is written to again.

    Raises
    ------
    InputError
        It cannot be read, or is newer than this soapstone.
    """
    connection = None
    try:
        with refusing(path):
            connection = _readable(path)
            log = Log(path, connection)
            if log.check_version() < len(MIGRATIONS):
                connection = _copied(connection)
                log = Log(path, connection)
                log.migrate()
        yield log
    finally:
        if connection is not None:
            connection.close()


def _copied(connection: sqlite3.Connection) -> sqlite3.Connection:
    """Copy a log into memory, where its tables can be changed, and close it."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    connection.backup(copy)
    connection.close()
    return copy


def _readable(path: Path) -> sqlite3.Connection:
    """Open it read-only; where not even its index of readers can be made, as it lies there."""
    at = path.absolute().as_uri()
    for how in ("mode=ro", "mode=ro&immutable=1"):
        connection = sqlite3.connect(
            f"{at}?{how}", uri=True, timeout=PATIENCE, isolation_level=None
        )
        try:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.OperationalError as fault:
            connection.close()
            waiting = path.with_name(path.name + "-wal")
            code = getattr(fault, "sqlite_errorcode", 0) & 0xFF
            quiet = not waiting.exists() or waiting.stat().st_size == 0
            unwritable = code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
            if how == "mode=ro" and unwritable and quiet:
                continue
            raise
        except sqlite3.DatabaseError:
            connection.close()
            raise
        return connection
    raise AssertionError("the last way either opens or raises")


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


def _add(sql: sqlite3.Connection, one: Run | Step | LoggedTrial | Stick | Use | Inspected) -> None:
    row = astuple(one)
    name = next(table for table, kind in TABLES.items() if isinstance(one, kind))
    sql.execute(f"INSERT INTO {name} VALUES ({', '.join('?' * len(row))})", row)


def _agrees(sql: sqlite3.Connection, table: Table, row: tuple[Any, ...]) -> bool:
    """Tell whether the table holds this very row; of a run that one side has ended, end it."""
    columns = [one.name for one in fields(TABLES[table])]
    where = " AND ".join(f"{name} = ?" for name in columns[: KEYS[table]])
    held = sql.execute(f"SELECT * FROM {table} WHERE {where}", row[: KEYS[table]]).fetchone()
    if held is None or table != "runs":
        return bool(held == row)
    at = columns.index("ended")
    if held[at] is None and row[at] is not None:
        sql.execute("UPDATE runs SET ended = ? WHERE id = ?", (row[at], row[0]))
    same = held[:at] == row[:at] and held[at + 1 :] == row[at + 1 :]
    return same and (held[at] == row[at] or None in (held[at], row[at]))
