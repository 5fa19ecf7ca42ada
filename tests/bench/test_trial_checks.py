"""Odd bends, changed lots, and reading trial bends from a file."""

from pathlib import Path

import numpy as np
import pytest

from soapstone.bench.calibrate import fit, prior_for, weak_prior
from soapstone.bench.trial_checks import doubts, lot_change, lot_changes, outliers
from soapstone.bench.trials_csv import Trials, read_trials
from soapstone.errors import InputError

ANGLES = np.array([30.0, 45.0, 60.0, 75.0, 90.0, 105.0, 120.0])


def readings(seed: int, springback: float = 0.03, angles: np.ndarray = ANGLES) -> np.ndarray:
    return (
        0.5 + (1 + springback) * angles + np.random.default_rng(seed).normal(0, 0.15, angles.size)
    )


def test_a_misread_bend_is_named_by_its_row() -> None:
    dials = readings(1)
    dials[4] += 3.0
    found = outliers(dials, ANGLES, weak_prior(), rows=range(2, 9), where="trials.csv")
    assert [finding.where for finding in found] == ["trials.csv, row 6"]
    assert "more" in found[0].what


@pytest.mark.parametrize("prior", [weak_prior(), prior_for(0.03, 0.0)])
def test_sound_bends_are_left_alone(prior: object) -> None:
    alarms = [bool(outliers(readings(seed), ANGLES, prior)) for seed in range(100)]  # type: ignore[arg-type]
    assert sum(alarms) <= 6  # 2 of 100 meant


def test_a_changed_lot_is_noticed_and_the_same_lot_is_not() -> None:
    changed = same = 0
    for seed in range(60):
        older = fit(readings(seed), ANGLES, weak_prior())
        few = ANGLES[[1, 4, 6]]
        same += lot_change(older, readings(1000 + seed, 0.03, few), few, "lot B") is not None
        changed += lot_change(older, readings(2000 + seed, 0.045, few), few, "lot B") is not None
    assert changed >= 54
    assert same <= 3


def test_lots_of_a_file_are_compared_in_order() -> None:
    dials = np.concatenate([readings(1), readings(2), readings(3, 0.05)])
    lots = ("A",) * 7 + ("B",) * 7 + ("C",) * 7
    trials = Trials(tuple(dials), tuple(np.tile(ANGLES, 3)), lots, tuple(range(21)), "t.csv")
    found = lot_changes(trials, weak_prior())
    assert [finding.where for finding in found] == ["t.csv, lot C"]
    assert "1.8°" in found[0].what or "1.7°" in found[0].what or "1.9°" in found[0].what


@pytest.mark.parametrize(
    ("dials", "angles", "said"),
    [
        ([], [], "no trial bend"),
        ([93.0], [90.0], "one trial bend"),
        ([93.0, 93.1, 92.9], [90.0, 90.0, 90.2], "near 90°"),
        ([30.0, 60.0, 90.0], [34.0, 68.0, 102.0], "exchanged"),
        ([60.0, 90.0, 140.0, 20.0], [30.0, 60.0, 90.0, 15.0], "differ by"),
    ],
)
def test_doubts_say_what_the_bends_leave_open(
    dials: list[float], angles: list[float], said: str
) -> None:
    known = fit(dials, angles, weak_prior())
    assert any(said in str(finding) for finding in doubts(known, angles, "trials"))


def test_good_bends_raise_no_doubts() -> None:
    assert doubts(fit(readings(1), ANGLES, weak_prior()), ANGLES, "trials") == []


# --- the file -------------------------------------------------------------------------------


def written(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "trials.csv"
    path.write_text(text, encoding)
    return path


@pytest.mark.parametrize(
    "text",
    [
        "dial,angle\n31.8,30\n62.5,60\n",
        "Angle , Dial\n30, 31.8\n\n# a remark\n60,62.5\n",
        "dial;angle\n31,8;30\n62,5;60,0\n",
        "lot,angle,dial\nB,30°,31.8°\nB,60 deg,62.5\n",
        "\ufeffdial\tangle\n31.8\t30\n62.5\t60\n",
        "dial,angle\r\n31.8,30\r\n62.5,60",
    ],
)
def test_reads_what_shops_write(tmp_path: Path, text: str) -> None:
    trials = read_trials(written(tmp_path, text))
    assert (trials.dials, trials.angles) == ((31.8, 62.5), (30.0, 60.0))
    assert len(trials) == 2


def test_lots_and_rows_are_kept(tmp_path: Path) -> None:
    trials = read_trials(written(tmp_path, "dial,angle,lot\n31,30,A\n\n62,60,B\n93,90,A\n"))
    assert trials.lots == ("A", "B", "A")
    assert trials.rows == (2, 4, 5)
    assert trials.of_lot("A").dials == (31.0, 93.0)


def test_all_faults_stand_on_one_line(tmp_path: Path) -> None:
    path = written(tmp_path, "dial,angle\n31,30\nabout 60,60\n90,-3\n,45\n")
    with pytest.raises(InputError) as raised:
        read_trials(path)
    line = str(raised.value)
    assert "\n" not in line
    assert "trials.csv" in line
    for part in ("row 3, dial", "row 4, angle", "between 0 and 360", "row 5, dial", "empty"):
        assert part in line


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("reading,angle\n1,2\n", "no dial"),
        ("31,30\n62,60\n", "columns dial,angle"),
        ("dial,dial,angle\n1,2,3\n", "twice"),
        ("dial,angle\n1e999,30\n", "row 2, dial"),
    ],
)
def test_a_file_of_another_kind_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_trials(written(tmp_path, text))


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_trials(tmp_path / "none.csv")
