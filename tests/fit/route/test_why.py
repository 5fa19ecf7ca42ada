"""When nothing is found, the reason given is what really stands in the way."""

import time
from dataclasses import replace

import pytest

from soapstone.fit import clearance
from soapstone.fit.clearance import KeepOut
from soapstone.fit.route import End, RouteProblem, RouteResult, Via, design, designer, mend
from soapstone.fit.route.warm import warm_depths
from soapstone.geometry import distance_depth
from soapstone.geometry.solids import Ball, Box, HalfSpace, box_mesh

WALL = KeepOut("wall", Box((500, 0, 0), (50, 400, 400)), 10.0)
ALONG_X = RouteProblem(
    End((0, 0, 0), (1, 0, 0)),
    End((1000, 0, 0), (1, 0, 0)),
    38.0,
    115.0,
    keepouts=(WALL,),
    min_first=60.0,
    min_straight=90.0,
    min_last=60.0,
    angles=(1.0, 170.0),
    longest=6096.0,
)
OPEN = replace(ALONG_X, keepouts=())


def why(problem):
    found = design(problem, seconds=0.5)
    assert found.route is None
    return found.reasons


@pytest.mark.parametrize("most", [0, 1])
def test_wall_across_the_straight_is_named(most):
    # half of the tube, half of the wall, and the gap
    assert 'without a bend: blocked by "wall": 54.0 mm too near' in why(
        replace(ALONG_X, max_bends=most)
    )


def test_wall_across_the_straight_between_free_ends_is_named():
    problem = replace(ALONG_X, start=End((0, 0, 0)), end=End((1000, 0, 0)), max_bends=0)
    assert why(problem) == ('without a bend: blocked by "wall": 54.0 mm too near',)


def test_without_a_bend_it_cannot_turn():
    problem = replace(OPEN, start=End((0, 0, 0), (0, 1, 0)), max_bends=0)
    reason = "without a bend it cannot turn from one direction to the other (by 90.0°)"
    assert why(problem) == (reason,)
    aside = replace(OPEN, end=End((1000, 1000, 0), (1, 0, 0)), max_bends=0)
    assert "without a bend: the A end leans 45.0° too much" in why(aside)


def test_point_inside_a_keepout_is_named():
    def through(at, within):
        return why(replace(ALONG_X, through=(Via(at, within),), max_bends=2))

    assert 'point 1 to go through lies inside "wall"' in through((500, 0, 0), 5.0)
    # 20 mm off the wall, where the axis must be 29 off; 5 of them are allowed
    beside = through((455, 0, 0), 5.0)
    assert 'point 1 to go through is 4.0 mm too near to "wall"' in beside
    assert not any("point 1 to go through is" in one for one in through((455, 0, 0), 9.2))


def test_straight_shorter_than_the_straight_asked_for_is_no_route():
    problem = replace(OPEN, max_bends=0)
    assert design(replace(problem, shortest=1000.0)).found
    reason = "without a bend: it is 1000.0 mm, and a straight of 1200.0 mm is asked for"
    assert why(replace(problem, shortest=1200.0)) == (reason,)


def test_what_is_said_of_an_end_is_not_said_again_of_every_tube():
    # the ball sits on the B end; whatever the tube, that is so, and the wall is news beside it
    ball = KeepOut("ball", Ball((1000, 0, 0), 80), 10.0)
    across = KeepOut("wall", Box((500, 0, 0), (50, 4000, 4000)), 10.0)
    reasons = why(replace(ALONG_X, keepouts=(ball, across), max_bends=3))
    assert sum('"ball"' in reason for reason in reasons if "straight of" in reason) <= 1
    misses = [reason for reason in reasons if "miss" in reason or "another" in reason]
    assert not any('"ball"' in reason for reason in misses)


def test_misses_told_differ_in_what_stands_most_in_the_way():
    # a slit between two walls, too narrow by 10 mm, and no stick that reaches round them
    low = KeepOut("low wall", Box((500, 0, -1029), (50, 6000, 2000)), 10.0)
    high = KeepOut("high wall", Box((500, 0, 1019), (50, 6000, 2000)), 10.0)
    reasons = why(replace(ALONG_X, keepouts=(low, high), max_bends=4, longest=1500.0))
    told = [one.split(": ", 1)[1] for one in reasons if "miss" in one or "another" in one]
    assert told
    assert len({one.split(" too near")[0] for one in told}) == len(told)


def test_cancelled_while_a_mesh_is_got_ready():
    scan = KeepOut("scan", box_mesh(Box((500, 0, 0), (50, 400, 400))), 10.0)
    asked = []
    found = design(
        replace(ALONG_X, keepouts=(scan,)), seconds=60, cancel=lambda: bool(asked.append(1)) or True
    )
    assert found.route is None
    assert not found.finished
    assert len(asked) < 5
    assert found.starts == 0
    assert found.reasons


def test_wild_misses_are_not_told():
    problem = replace(OPEN, end=End((50, 30, 0), (1, 0, 0)), max_bends=2)
    (reason,) = why(problem)
    assert reason.startswith("2 bends need more room: the ends are 58.3 mm apart")
    # 60 + 90 + 60, and two bends of one degree
    assert "take 214.0 mm" in reason


@pytest.mark.parametrize("most", [0, 1, 3])
def test_tube_longer_than_the_longest_stick_is_no_route(most):
    straight = replace(OPEN, end=End((7000, 0, 0), (1, 0, 0)), max_bends=most)
    assert "without a bend: it needs 7000.0 mm, and the longest stick is 6096.0 mm" in why(straight)


def test_single_bend_longer_than_the_longest_stick_is_no_route():
    bent = replace(OPEN, end=End((7000, 300, 0), (0, 1, 0)), max_bends=3)
    # 7300 less two tangents of 115 and an arc of a quarter turn in their place
    assert why(bent) == ("with 1 bend: it needs 7250.6 mm, and the longest stick is 6096.0 mm",)
    assert design(replace(bent, longest=7251.0), seconds=0.5).route.bends == 1


def test_straight_tube_is_mended_with_three_corners():
    ball = KeepOut("ball", Ball((500, 5, 0), 100), 10.0)
    problem = replace(OPEN, keepouts=(ball,), max_bends=1)
    mended = mend(problem, [problem.start.at, problem.end.at])
    assert (mended.added, mended.route.bends, mended.moved) == (3, 3, ())
    assert mended.route.clearance >= 10.0 - 0.011


def test_straight_tube_that_cannot_be_mended_names_what_blocks_it():
    ball = KeepOut("ball", Ball((100, 5, 0), 100), 10.0)
    problem = replace(OPEN, end=End((200, 0, 0), (1, 0, 0)), keepouts=(ball,), max_bends=1)
    mended = mend(problem, [problem.start.at, problem.end.at], 0.5)
    assert mended.route is None
    assert any('without a bend: blocked by "ball"' in reason for reason in mended.reasons)


def test_what_no_search_could_mend_is_told_without_one():
    plane = KeepOut("other hand", HalfSpace((0, 0, 0), (0, 1, 0)), 10.0, counts=2.0)
    across = replace(OPEN, start=End((0, 300, 0)), end=End((1000, -300, 0)), keepouts=(plane,))
    hopeless = {
        'blocked by "wall": the B end': replace(ALONG_X, end=End((500, 0, 0))),
        'point 1 to go through lies inside "wall"': replace(
            ALONG_X, through=(Via((500, 0, 0), 5.0),)
        ),
        "move it to the A end's side": across,
        "and the longest stick is 900.0 mm": replace(ALONG_X, longest=900.0),
    }
    for reason, problem in hopeless.items():
        found = design(problem, seconds=20.0)
        assert (found.route, found.starts) == (None, 0)
        assert any(reason in one for one in found.reasons)


def test_making_the_meshes_ready_is_told_apart_from_the_search(monkeypatch):
    slow = 0.2
    pack = clearance.pack
    monkeypatch.setattr(clearance, "pack", lambda solid: (time.sleep(slow), pack(solid))[1])
    scan = KeepOut("scan", box_mesh(Box((500, 0, 900), (50, 50, 50))), 10.0)
    found = design(replace(OPEN, keepouts=(scan,)), seconds=5.0)
    assert found.found
    assert found.ready_seconds >= slow


def test_depths_in_scans_are_compiled_before_the_clock_starts(monkeypatch):
    # found out late they took 20 s of processor time out of a search of half a second
    counted, before = [], []
    real = distance_depth.deepest
    monkeypatch.setattr(distance_depth, "deepest", lambda *given: counted.append(1) or real(*given))

    def search(*_):
        before.append(len(counted))
        return RouteResult(None)

    monkeypatch.setattr(designer, "run_design", search)
    warm_depths.cache_clear()
    scan = KeepOut("scan", box_mesh(Box((500, 0, 0), (50, 400, 400))), 10.0)
    design(replace(ALONG_X, keepouts=(scan,)))
    assert before[0] >= 1
