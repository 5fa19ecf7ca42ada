"""The log loses nothing that was confirmed, and says in a line what is wrong with it."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from soapstone.errors import InputError
from soapstone.log import store
from soapstone.log.migrations import MIGRATIONS
from soapstone.log.store import LoggedTrial, Remnant, Run, Stick, open_log, read_log

RUN = Run("one", "job.toml", "leg", "L7", "2026-03-01T08:00", "{}")
WRITER = """
import sys
from pathlib import Path
from soapstone.log.store import LoggedTrial, open_log
with open_log(Path(sys.argv[1])) as log:
    for k in range(100):
        log.add_trial(LoggedTrial(f"{sys.argv[2]}-{k}", "die", "tube", "", "2026", 47.0, 45.0))
"""


def test_a_run_comes_back_as_it_was_left(tmp_path):
    with open_log(tmp_path / "log") as log:
        log.start(RUN)
        log.confirm("one", 1, {"kind": "angle", "angle": 44.7}, "t")
    with open_log(tmp_path / "log") as log:
        assert log.open_run("job.toml", "leg") == RUN
        assert log.events("one") == [{"kind": "angle", "angle": 44.7}]
        assert log.open_run("job.toml", "other leg") is None


def test_a_step_is_confirmed_once(tmp_path):
    with open_log(tmp_path / "log") as log, open_log(tmp_path / "log") as other:
        log.start(RUN)
        log.confirm("one", 1, {"kind": "done"}, "t")
        with pytest.raises(InputError, match="already"):
            other.confirm("one", 1, {"kind": "undo"}, "t")
        assert other.events("one") == [{"kind": "done"}]
        with pytest.raises(InputError):
            other.start(RUN)


def test_the_last_step_and_what_it_taught_are_kept_together_or_not_at_all(tmp_path):
    trial = LoggedTrial("one:1", "die", "tube", "L7", "2026", 47.5, 45.0)
    left = Remnant("one:A", "tube", "L7", "2026", 312.0)
    with open_log(tmp_path / "log") as log:
        log.start(RUN)
        with pytest.raises(InputError):
            log.confirm("one", 1, {}, "t", ended=True, trials=[trial, trial])
        assert (log.events("one"), log.trials()) == ([], [])
        log.confirm("one", 1, {}, "t", ended=True, trials=[trial], remnants=[left])
        assert (log.trials(), log.remnants()) == ([trial], [left])
        with pytest.raises(InputError, match="over"):
            log.confirm("one", 2, {}, "t")


def test_two_programs_at_once_lose_no_trial(tmp_path):
    path = tmp_path / "log"
    both = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(path), name]) for name in ("a", "b")
    ]
    assert [one.wait(timeout=300) for one in both] == [0, 0]
    with open_log(path) as log:
        assert len({trial.id for trial in log.trials()}) == 200


@pytest.mark.parametrize(
    "text", [b"not a log at all " * 400, b"SQLite format 3\0" + b"\xff" * 5000]
)
def test_a_damaged_log_is_refused_and_left_as_it_is(tmp_path, text):
    path = tmp_path / "log"
    path.write_bytes(text)
    with pytest.raises(InputError) as refused, open_log(path):
        pass
    assert str(path) in str(refused.value)
    assert "\n" not in str(refused.value)
    assert path.read_bytes() == text


def test_an_older_log_is_read_as_todays_and_left_as_it_is(tmp_path):
    older = tmp_path / "older"
    (_, first), *later = MIGRATIONS
    assert later
    with contextlib.closing(sqlite3.connect(older)) as sql:
        for statement in first:
            sql.execute(statement)
        sql.execute("PRAGMA user_version = 1")
        row = ("one", "job.toml", "leg", "L7", "2026-03-01T08:00", "{}", None)
        sql.execute("INSERT INTO runs VALUES (?, ?, ?, ?, ?, ?, ?)", row)
        sql.commit()
    before = older.read_bytes()
    with read_log(older) as log:
        assert log.runs() == [RUN]
        assert (log.inspections(), log.remnants(), log.trials()) == ([], [], [])
    assert older.read_bytes() == before


def test_a_newer_log_a_folder_and_a_full_disk_are_told(tmp_path):
    newer = tmp_path / "newer"
    with sqlite3.connect(newer) as sql:
        sql.execute("PRAGMA user_version = 99")
    sql.close()
    with pytest.raises(InputError, match="newer soapstone"), open_log(newer):
        pass
    with pytest.raises(InputError, match="cannot be opened"), open_log(tmp_path):
        pass
    with open_log(tmp_path / "full") as log:
        log.start(RUN)
        log._sql.execute("PRAGMA max_page_count = 1")  # noqa: SLF001 - a disk that is full
        with pytest.raises(InputError, match="disk is full"):
            log.confirm("one", 1, {"words": "x" * 100_000}, "t")
        assert log.events("one") == []


NOBODY = 65534


@contextlib.contextmanager
def as_one_who_may_not_write():
    """Act as a user without rights: who runs the tests may have them all."""
    if os.geteuid():
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def read_only():
    """A log in a folder that nobody may write to."""
    folder = Path(tempfile.mkdtemp())
    with open_log(folder / "log") as log:
        log.start(RUN)
        log.add_trial(LoggedTrial("a:1", "die", "tube", "", "2026", 47.0, 45.0))
    (folder / "log").chmod(0o444)
    folder.chmod(0o555)
    yield folder / "log"
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no such rights here")
def test_a_log_in_a_read_only_folder_is_read_and_refused_to_be_written(read_only):
    with as_one_who_may_not_write():
        with read_log(read_only) as log:
            assert [trial.id for trial in log.trials()] == ["a:1"]
        refused = pytest.raises(
            InputError, match=r"may not be written to; name another with --log$"
        )
        with refused, open_log(read_only) as log:
            log.confirm("one", 1, {}, "t")
        with pytest.raises(InputError, match="--log"), open_log(read_only.with_name("new")):
            pass
        with pytest.raises(InputError, match="--log"), open_log(read_only.parent / "f" / "new"):
            pass


def test_a_locked_log_says_so_and_keeps_what_it_has(tmp_path, monkeypatch):
    monkeypatch.setattr(store, "PATIENCE", 0.05)
    with open_log(tmp_path / "log") as log:
        log.start(RUN)
        other = sqlite3.connect(tmp_path / "log", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(InputError, match="another program is writing to it; try again"):
            log.confirm("one", 1, {"kind": "done"}, "t")
        other.execute("ROLLBACK")
        other.close()
        assert log.events("one") == []
        log.confirm("one", 1, {"kind": "done"}, "t")
        assert log.events("one") == [{"kind": "done"}]


def older(path):
    """A log as the first version left it, with a row in each table."""
    sql = sqlite3.connect(path)
    for statement in MIGRATIONS[0][1]:
        sql.execute(statement)
    sql.execute("PRAGMA user_version = 1")
    sql.execute("INSERT INTO runs VALUES ('one', 'job.toml', 'leg', '', 't', '{}', NULL)")
    sql.execute("INSERT INTO steps VALUES ('one', 1, '{}', 't')")
    sql.execute("INSERT INTO trials VALUES ('one:1', 'die', 'tube', 'L', '2026', 47.0, 45.0)")
    sql.execute("INSERT INTO sticks VALUES ('one:A', 'tube', 'L', '2026', 312.0)")
    sql.commit()
    sql.close()


def test_an_older_log_is_read_as_it_is_and_brought_up_to_date_when_opened(tmp_path):
    older(tmp_path / "log")
    trial = LoggedTrial("one:1", "die", "tube", "L", "2026", 47.0, 45.0, "run")
    before = (tmp_path / "log").read_bytes()
    with read_log(tmp_path / "log") as log:
        assert log.trials() == [trial]
    assert (tmp_path / "log").read_bytes() == before
    with open_log(tmp_path / "log") as log:
        assert log.check_version() == len(MIGRATIONS)
        assert log.trials() == [trial]
        assert log.open_run("job.toml", "leg").trials == "[]"
        assert log.remnants() == [Stick("one:A", "tube", "L", "2026", 312.0)]
        assert len(log.events("one")) == 1


def test_a_migration_that_fails_leaves_the_older_log(tmp_path, monkeypatch):
    older(tmp_path / "log")
    broken = ("broken", (*MIGRATIONS[1][1], "CREATE TABLE runs (x)"))
    monkeypatch.setattr(store, "MIGRATIONS", (MIGRATIONS[0], broken))
    with pytest.raises(InputError) as refused, open_log(tmp_path / "log"):
        pass
    assert str(refused.value).startswith(str(tmp_path / "log"))
    monkeypatch.undo()
    with open_log(tmp_path / "log") as log:
        assert len(log.trials()) == 1


def test_a_stick_is_used_once_and_what_is_left_goes_back(tmp_path):
    with open_log(tmp_path / "log") as log, open_log(tmp_path / "log") as other:
        log.add_sticks([Stick("abcdef12", "tube", "L", "d", 6000.0, "stick")])
        with pytest.raises(InputError, match="less than is left"):
            log.use("abcdef12", "d", "", 6000.1, "new")
        used, rest = log.use("abcd", "d", "leg", 1200.0, "new")
        assert (used.length, rest.length, rest.cut_from) == (6000.0, 1200.0, "abcdef12")
        with pytest.raises(InputError, match="used up"):
            other.use("abcdef12", "d", "", 0.0, "x")
        with pytest.raises(InputError, match="no stick"):
            other.use("nothing", "d", "", 0.0, "x")
        assert other.remnants() == [rest]
