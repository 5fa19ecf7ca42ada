"""The log loses nothing that was confirmed, and says in a line what is wrong with it."""

import sqlite3
import subprocess
import sys

import pytest

from soapstone.errors import InputError
from soapstone.log.store import LoggedTrial, Remnant, Run, open_log

RUN = Run("one", "job.toml", "leg", "L7", "2026-03-01T08:00", "{}")
WRITER = """
import sys
from pathlib import Path
from soapstone.log.store import LoggedTrial, open_log
with open_log(Path(sys.argv[1])) as log:
    for k in range(300):
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
        assert len({trial.id for trial in log.trials()}) == 600


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
