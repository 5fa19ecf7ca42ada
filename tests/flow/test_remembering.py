"""Bends in the shop log tell the dial, each of them once, and only on the die they were made on."""

import numpy as np
import pytest

from soapstone.bench.files import bench_from_text
from soapstone.bench.setup import learnt_for
from soapstone.bench.trials import Trial
from soapstone.flow.planning import plan_job
from soapstone.flow.remembering import Remember, remembered
from soapstone.log.store import LoggedTrial, open_log

BENCH = """
format = 1
units = "mm"
[[die]]
name = "round"
od = 38.1
clr = 115
[[tubing]]
name = "tube"
od = 38.1
wall = 1.65
material = "304"
[[trial]]
die = "round"
tubing = "tube"
lot = "old"
date = "2026-01-05"
bends = [[31.5, 30], [46.8, 45], [62.1, 60], [92.7, 90]]
"""

JOB = """
format = 1
name = "one"
units = "mm"
bench = "bench.toml"
[[tube]]
name = "leg"
tubing = "tube"
die = "round"
points = [[0, 0, 0], [600, 0, 0], [900, 500, 0]]
"""


def logged(number, angle, back=0.02, **changed):
    dial = 0.9 + (1 + back) * angle
    told = {"id": f"run:{number}", "die": "round", "tubing": "tube", "lot": "old"}
    told |= {"date": "2026-02-01", "dial": dial, "angle": angle}
    return LoggedTrial(**(told | changed))


def known(path, *trials, **how):
    """Calibration, findings and what it stands on, of the bench with these bends in a log."""
    with open_log(path) as log:
        log.learn(trials)
    shop = remembered(bench_from_text(BENCH), Remember(path, **how))
    found = learnt_for(shop.bench, shop.bench.die("round"), shop.bench.tubing("tube"))
    return *found, shop.findings


def test_bends_of_bench_and_log_count_together_and_are_told_apart(tmp_path):
    calibration, _, stands, _ = known(tmp_path / "log", logged(1, 50.0), logged(2, 75.0))
    assert calibration.trials == 6
    assert [(one.lot, one.own, one.logged) for one in stands] == [("old", 4, ("run:1", "run:2"))]


def test_the_log_can_be_left_out_or_only_some_of_it_taken(tmp_path):
    bends = [logged(n, 40.0 + n) for n in range(5)]
    assert known(tmp_path / "log", *bends, left_out=True)[0].trials == 4
    assert known(tmp_path / "log", only=frozenset({"run:3"}))[0].trials == 5
    assert known(tmp_path / "nowhere" / "log")[0].trials == 4


def test_a_piece_that_the_bench_tells_of_too_counts_once(tmp_path):
    with open_log(tmp_path / "log") as log:
        log.learn([logged(1, 50.0), logged(2, 75.0)])
    bench = bench_from_text(
        BENCH + '[[trial]]\ndie="round"\ntubing="tube"\npiece="run"\nbends=[[52,50],[77.4,75]]\n'
    )
    shop = remembered(bench, Remember(tmp_path / "log"))
    found = learnt_for(shop.bench, shop.bench.die("round"), shop.bench.tubing("tube"))
    assert found[0].trials == 6


def test_a_bend_typed_into_the_bench_as_well_counts_once_as_often_as_it_stands_there(tmp_path):
    same = {"lot": "old", "date": "2026-01-05", "dial": 46.8}
    two = [logged(1, 45.0, **same), logged(2, 45.0, **same)]
    assert known(tmp_path / "log", *two)[0].trials == 5
    other_day = [logged(1, 45.0, lot="old", date="2026-01-06", dial=46.8)]
    assert known(tmp_path / "other", *other_day)[0].trials == 5


def test_told_twice_a_bend_is_in_the_log_once(tmp_path):
    with open_log(tmp_path / "log") as log:
        assert len(log.learn([logged(1, 50.0)])) == 1
        assert log.learn([logged(1, 50.2, source="inspection")]) == []
        assert [one.angle for one in log.trials()] == [50.0]


def test_a_lot_that_springs_back_otherwise_is_noticed_and_alone_counts(tmp_path):
    new = [logged(n, a, 0.06, lot="new") for n, a in enumerate((30.0, 45.0, 60.0, 90.0))]
    calibration, doubtful, stands, _ = known(tmp_path / "log", *new)
    assert [one.lot for one in stands] == ["new"]
    assert any("lot new" in str(one) and "springs back" in str(one) for one in doubtful)
    assert calibration.dial(90.0) == pytest.approx(0.9 + 1.06 * 90, abs=0.4)


def test_with_the_old_lot_in_hand_again_its_own_bends_count(tmp_path):
    new = [logged(n, a, 0.06, lot="new") for n, a in enumerate((30.0, 45.0, 60.0, 90.0))]
    calibration, _, stands, _ = known(tmp_path / "log", *new, lot="old")
    assert [one.lot for one in stands] == ["old"]
    assert calibration.dial(90.0) == pytest.approx(92.7, abs=0.4)
    _, doubtful, _, _ = known(tmp_path / "log", lot="newest")
    assert "no bend of lot newest" in str(doubtful[0])


@pytest.mark.parametrize("other", [{"clr": 100.0}, {"wall": 2.0}, {"od": 40.0}])
def test_bends_of_another_die_or_tubing_under_these_names_do_not_count(tmp_path, other):
    calibration, _, _, findings = known(tmp_path / "log", logged(1, 50.0, **other))
    assert calibration.trials == 4
    assert "another radius, diameter or wall" in str(findings[0])
    assert known(tmp_path / "same", logged(1, 50.0, clr=115.0, wall=1.65, od=38.1))[0].trials == 5


def test_many_bends_are_looked_over_and_the_odd_one_is_still_found(tmp_path):
    rng = np.random.default_rng(4)
    bends = [
        logged(n, a, dial=0.9 + 1.02 * a + 0.1 * rng.normal())
        for n, a in enumerate(rng.uniform(20, 100, 300))
    ]
    odd = logged(999, 60.0, dial=64.0)
    calibration, doubtful, _, _ = known(tmp_path / "log", *bends, odd)
    assert calibration.trials == 305
    assert any("64° for 60°" in str(one) for one in doubtful)


def test_a_plan_names_the_bends_it_stands_on_and_is_the_same_again_without_the_log(tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    job, log = tmp_path / "job.toml", tmp_path / "log"
    job.write_text(JOB, "utf-8")
    before = plan_job(job, Remember(log)).as_json()
    assert before["log"] is None
    assert {lot["own"] for lot in before["trials"][0]["lots"]} == {4}
    of = before["trials"][0]
    with open_log(log) as held:
        lot = of["lots"][0]["lot"]
        held.learn([LoggedTrial("r:1", of["die"], of["tubing"], lot, "2030-01-01", 63.3, 60.0)])
    after = plan_job(job, Remember(log)).as_json()
    assert after["log"] == str(log)
    assert after["trials"][0]["lots"][0]["logged"] == ("r:1",)
    assert after["tubes"] != before["tubes"]
    again = plan_job(job, Remember(log, left_out=True)).as_json()
    assert again == before


def test_a_bench_row_keeps_its_piece():
    assert Trial(die="a", tubing="b", bends=((1.0, 1.0),), piece="x", file=None).piece == "x"
