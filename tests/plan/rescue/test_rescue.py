"""What a rescue leaves alone, what it changes, and what it says."""

from dataclasses import replace

import numpy as np
import pytest

from soapstone.errors import InputError
from soapstone.fit.clearance import KeepOut, least_gap
from soapstone.fit.self_clearance import self_clearance
from soapstone.geometry.chain import walk
from soapstone.geometry.moves import mirror
from soapstone.geometry.solids import Box
from soapstone.plan.rescue.model import MadeBend
from soapstone.plan.rescue.rescue import rescue
from soapstone.plan.rescue.written import made_from, made_in
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.plan.test_tubes import line
from tests.setups import setup

SHAPE = line([300, 350, 320, 380, 300], [50, 60, 45, 55], [0, 80, -60, 100], radius=102.0)


def planned(shape=SHAPE):
    tools = replace(setup(0.02, 1.0), clamp=60.0, follower=50.0)
    return plan_tubes([Shape("tube", shape, ())], [tools])[0]


def as_planned(plan, count, **off):
    """The first bends made as planned, with changes to the last."""
    made = [MadeBend(b.n, b.angle, roll=b.roll, dial=b.dial, mark=b.mark) for b in plan.bends]
    return [*made[: count - 1], replace(made[count - 1], **off)]


def test_a_tube_made_as_planned_stays_as_it_is():
    plan = planned()
    for count in range(1, 5):
        done = rescue(plan, as_planned(plan, count), stick=plan.stock)
        assert done.sound
        assert done.moved < 0.01
        for step, was in zip(done.plan.bends, plan.bends, strict=True):
            assert step.mark == pytest.approx(was.mark, abs=0.05)
            assert step.roll == pytest.approx(was.roll, abs=0.02)


def test_what_is_made_stands_and_the_rest_brings_both_ends_home():
    plan = planned()
    made = as_planned(plan, 2, angle=plan.bends[1].angle + 2.0, dial=plan.bends[1].dial + 2.04)
    done = rescue(plan, made)
    assert done.sound
    assert [step.n for step in done.rest] == [3, 4]
    assert [b.mark for b in done.plan.bends[:2]] == pytest.approx([b.mark for b in made])
    assert done.plan.bends[1].angle == pytest.approx(made[1].angle)
    ends, wanted = walk(done.plan.shape), walk(plan.shape)
    assert ends.nodes[[0, -1]] == pytest.approx(wanted.nodes[[0, -1]], abs=1.0)
    assert ends.directions[[0, -1]] == pytest.approx(wanted.directions[[0, -1]], abs=0.006)
    for step in done.rest:
        assert step.ahead >= 60 - 1e-6
        assert step.behind >= 50 - 1e-6


def test_a_bend_too_small_is_taken_further_first():
    plan = planned()
    done = rescue(plan, as_planned(plan, 1, angle=plan.bends[0].angle - 3.0))
    assert [one.n for one in done.further] == [1]
    assert done.further[0].angle == pytest.approx(plan.bends[0].angle, abs=0.6)
    assert done.further[0].dial > plan.bends[0].dial - 3.0
    assert done.lands
    left = rescue(plan, as_planned(plan, 1, angle=plan.bends[0].angle - 3.0), further=False)
    assert not left.further


def test_when_all_bends_are_made_only_cuts_are_free_and_the_miss_is_said():
    plan = planned()
    done = rescue(plan, as_planned(plan, 4, angle=plan.bends[3].angle + 4.0))
    assert not done.lands
    assert not done.rest
    said = next(problem for problem in done.problems if problem.severity == "stop")
    assert "give it up" in said.mend
    assert done.usable


def test_both_hands_are_rescued_alike():
    here = planned()
    there = planned(mirror(SHAPE, (0, 0, 0), (0, 1, 0)))
    results = []
    for plan in (here, there):
        made = as_planned(plan, 2, angle=plan.bends[1].angle + 2.0, dial=plan.bends[1].dial + 2.04)
        results.append(rescue(plan, made).plan)
    one, other = results
    for a, b in zip(one.bends, other.bends, strict=True):
        assert b.mark == pytest.approx(a.mark, abs=0.05)
        assert b.dial == pytest.approx(a.dial, abs=0.05)
        assert abs(a.roll + b.roll) % 360 == pytest.approx(0.0, abs=0.1)


def test_the_rest_keeps_clear_of_what_stands_about():
    plan = planned()
    made = as_planned(plan, 1, angle=plan.bends[0].angle + 3.0, dial=plan.bends[0].dial + 3.06)
    free = rescue(plan, made)
    # a board just beside the drawn tube, on the side to which it would be moved
    drawn, moved = (walk(p.shape).nodes[4:6].mean(axis=0) for p in (plan, free.plan))
    way = (moved - drawn) / np.linalg.norm(moved - drawn)
    board = Box(tuple(drawn + way * (plan.setup.od / 2 + 10.5 + 20)), (20.0, 20.0, 20.0))
    keepout = KeepOut("board", board, 10.0)
    done = rescue(plan, made, keepouts=[keepout])
    gap = least_gap(done.plan.shape, plan.setup.od, [keepout])
    hit = any('"board"' in problem.what for problem in done.problems)
    assert gap is not None
    assert gap.gap >= 9.98 or hit
    if done.sound:
        assert gap.gap >= 9.98


@pytest.mark.parametrize(
    ("bend", "what"),
    [
        (MadeBend(9, 40.0), "bends 1 to 4"),
        (MadeBend(0, 40.0), "bends 1 to 4"),
        (MadeBend(1, -3.0), "angle"),
        (MadeBend(1, 400.0), "angle"),
        (MadeBend(1, float("nan")), "angle"),
        (MadeBend(1, 50.0, dial=3.0), "dial"),
        (MadeBend(1, 50.0, mark=1e9), "mark"),
    ],
)
def test_what_no_tape_or_protractor_can_show_is_refused(bend, what):
    with pytest.raises(InputError, match=what):
        rescue(planned(), [bend])


def test_a_bend_that_measures_nothing_is_not_made_yet():
    plan = planned()
    done = rescue(plan, [MadeBend(1, 0.0)])
    assert done.plan.made == ()
    assert len(done.rest) == 4


def test_bends_are_read_as_people_write_them():
    assert made_from("2: 44.2", "mm") == MadeBend(2, 44.2)
    assert made_from(" bend 3 = 44.2° , roll -91, leg 12 3/8 in", "mm") == MadeBend(
        3, 44.2, roll=-91.0, leg=314.325
    )
    for odd in ("", "2", "2:", "x: 3", "2: 44, 3", "2: 44, roll", "2: 44, roll 3, roll 4", "2: 1e"):
        with pytest.raises(InputError, match="--made"):
            made_from(odd, "mm")


def test_a_bend_is_taken_no_further_than_the_bender_turns():
    tools = replace(setup(0.02, 1.0), clamp=60.0, follower=50.0, max_angle=150.0)
    (plan,) = plan_tubes([Shape("tube", line([400, 400], [150.0], [0], radius=102.0), ())], [tools])
    done = rescue(plan, [MadeBend(1, 140.0)])
    assert all(one.angle * 1.02 <= 150.0 + 1e-6 for one in done.further)
    assert not done.sound


def test_bends_made_are_read_from_a_file(tmp_path):
    wanted = [MadeBend(1, 44.2, roll=-91.0), MadeBend(2, 30.5, leg=314.325)]
    table, keys = tmp_path / "made.csv", tmp_path / "made.toml"
    table.write_text("bend,angle,roll,leg\n1,44.2,-91,\n2,30.5,,12 3/8 in\n3,,,\n")
    assert made_in(table, "mm") == wanted
    keys.write_text(
        'units = "in"\n[[bend]]\nn = 1\nangle = 44.2\nroll = -91\n'
        "[[bend]]\nbend = 2\nangle = 30.5\nleg = 12.375\n"
    )
    assert made_in(keys, "mm") == wanted


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.csv", "bend,angle\n"),
        ("a.csv", "bend,angle\n1,nan\n"),
        ("a.csv", "bend,angle\nx,40\n"),
        ("a.csv", "bend,angle,colour\n1,40,red\n"),
        ("a.toml", "[[bend]]\nangle = 40\n"),
        ("a.toml", "bend = 3\n"),
        ("a.toml", 'units = "cm"\n[[bend]]\nn = 1\nangle = 40\n'),
        ("a.toml", "lot = 3\n[[bend]]\nn = 1\nangle = 40\n"),
        ("none.csv", None),
    ],
)
def test_odd_files_of_bends_made_are_refused_by_name(tmp_path, name, text):
    path = tmp_path / name
    if text is not None:
        path.write_text(text)
    with pytest.raises(InputError, match=name):
        made_in(path, "mm")


def test_a_rescued_tube_does_not_run_into_itself():
    # a coil and a bit, whose last leg passes close by the first
    coil = line([400, 60, 60, 60, 400], [88, 88, 88, 80], [0, 0, 0, 0], radius=102.0)
    tools = replace(setup(0.02, 1.0), clamp=10.0, follower=10.0)
    (plan,) = plan_tubes([Shape("tube", coil, ())], [tools])
    done = rescue(plan, as_planned(plan, 1, angle=plan.bends[0].angle + 2.0))
    found = self_clearance(done.plan.shape, plan.setup.od)
    assert found is not None
    said = any("itself" in problem.what for problem in done.problems)
    assert said == (found.gap < -0.05)
