"""Routes: they keep what was asked, are as short as they can be known to be, and come the same."""

import math
from dataclasses import replace

import numpy as np
import pytest

from soapstone.fit.clearance import KeepOut, least_gap
from soapstone.fit.motion import Hinge
from soapstone.fit.route import End, RouteProblem, Via, design, mend
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import sample, turns
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Rod, box_mesh

LEAST = 60.0
BAY = RouteProblem(
    End((0, 0, 0), (0, 0, 1)),
    End((900, -300, 900), (1, 0, 0)),
    38.1,
    115.0,
    keepouts=(
        KeepOut("box", Box((300, -150, 500), (200, 600, 600)), 10.0),
        KeepOut(
            "flap",
            Box((600, 0, 900), (20, 600, 300)),
            15.0,
            (Hinge((600, -300, 900), (0, 0, 1), -30, 60),),
        ),
        KeepOut("beam", Cylinder((0, 200, 900), (900, 200, 900), 100), 10.0),
    ),
    min_first=LEAST,
    min_straight=90.0,
    min_last=LEAST,
    angles=(5.0, 150.0),
)
OPEN = replace(BAY, keepouts=())


def assert_kept(problem, route):
    """Everything asked of a route, measured on its corners and its centreline."""
    line = route.line
    turned = turns(np.array(route.corners))
    assert route.corners[0] == problem.start.at
    assert route.corners[-1] == problem.end.at
    legs = line.legs
    assert legs[0] >= problem.min_first - 1e-6
    assert legs[-1] >= problem.min_last - 1e-6
    assert min(legs[1:-1], default=math.inf) >= problem.min_straight - 1e-6
    assert problem.angles[0] <= turned.angles.min()
    assert turned.angles.max() <= problem.angles[1]
    steps = np.diff(np.array(route.corners), axis=0)[[0, -1]]
    for end, step in zip((problem.start, problem.end), steps, strict=True):
        if end.along is not None:
            cosine = np.dot(step, end.along) / np.linalg.norm(step) / np.linalg.norm(end.along)
            assert math.degrees(math.acos(min(cosine, 1.0))) <= end.within + 0.01
    points = sample(line, 1.0)
    for via in problem.through:
        assert np.linalg.norm(points - np.array(via.at), axis=1).min() <= via.within
    for keepout in problem.keepouts:
        found = least_gap(line, problem.od, [keepout])
        assert found.gap >= keepout.gap - 0.011


def test_route_around_a_box_a_swinging_flap_and_a_beam():
    found = design(BAY, seconds=30)
    assert_kept(BAY, found.route)
    assert found.route.bends == 2
    # shortened until it touches the flap's gap, the only one in its way
    assert found.route.nearest == "flap"
    assert found.route.clearance == pytest.approx(15.0, abs=0.1)
    assert found.reasons == ()


def test_same_seed_same_route():
    first, second = design(BAY, seconds=60, seed=3), design(BAY, seconds=60, seed=3)
    assert first.route.corners == second.route.corners
    assert first.starts == second.starts


def test_mirrored_problem_mirrored_route():
    flap = BAY.keepouts[1]
    other = replace(
        BAY,
        end=End((900, 300, 900), (1, 0, 0)),
        keepouts=(
            KeepOut("box", Box((300, 150, 500), (200, 600, 600)), 10.0),
            replace(flap, hinges=(Hinge((600, 300, 900), (0, 0, 1), 30, -60),)),
            KeepOut("beam", Cylinder((0, -200, 900), (900, -200, 900), 100), 10.0),
        ),
    )
    here, there = design(BAY, seconds=60).route, design(other, seconds=60).route
    np.testing.assert_array_equal(
        np.array(there.corners), np.array(here.corners) * np.array([1.0, -1.0, 1.0])
    )


def test_shortest_two_bend_tube_between_parallel_rays_is_known():
    # an S between parallel rays 400 apart: both bends turn by the same angle t, and the tube is
    # shortest where its length, a plain function of t, is least
    problem = replace(
        OPEN, end=End((400, 0, 900), (0, 0, 1)), min_straight=0.0, min_first=0.0, min_last=0.0
    )
    angles = np.radians(np.linspace(5, 90, 200_001))
    legs = 900 - 400 / np.tan(angles) + 400 / np.sin(angles)
    total = legs + 2 * 115.0 * (angles - 2 * np.tan(angles / 2))
    fits = 400 / np.sin(angles) >= 2 * 115.0 * np.tan(angles / 2)
    fits &= 900 - 400 / np.tan(angles) >= 2 * 115.0 * np.tan(angles / 2)
    route = design(problem, seconds=20).route
    assert route.bends == 2
    assert route.length == pytest.approx(total[fits].min(), abs=0.15)


def test_straight_and_single_bend_are_found_without_starts():
    straight = replace(OPEN, end=End((0, 0, 700), (0, 0, 1)))
    found = design(straight)
    assert (found.route.bends, found.starts) == (0, 0)
    assert found.route.length == pytest.approx(700)
    bent = replace(OPEN, end=End((400, 0, 500), (1, 0, 0)))
    found = design(bent)
    assert found.route.bends == 1
    assert found.route.length == pytest.approx(400 + 500 - 230 + 115 * math.pi / 2)


def test_symmetric_problem_symmetric_tube():
    block = KeepOut("block", Box((0, 0, 300), (600, 200, 900)), 10.0)
    post = KeepOut("post", Ball((0, 40, 860), 120), 10.0)
    problem = replace(
        OPEN,
        start=End((-500, 0, 0), (0, 0, 1)),
        end=End((500, 0, 0), (0, 0, -1)),
        keepouts=(block, post),
    )
    corners = np.array(design(problem, seconds=30).route.corners)
    np.testing.assert_allclose(corners[::-1] * [-1, 1, 1], corners, atol=1e-6)


@pytest.mark.parametrize(
    "problem",
    [
        replace(BAY, start=End((0, 0, 0)), end=End((900, -300, 900), (1, 0, 0), 20.0)),
        replace(BAY, through=(Via((150, 350, 500), 10.0),)),
        replace(
            BAY,
            keepouts=(*BAY.keepouts, KeepOut("deck", HalfSpace((0, 0, 1000), (0, 0, -1)), 10.0)),
        ),
        replace(
            BAY, keepouts=(KeepOut("scan", box_mesh(Box((300, -150, 500), (200, 600, 600))), 10.0),)
        ),
        replace(
            BAY,
            keepouts=(
                KeepOut(
                    "rail",
                    Rod(
                        Centreline(
                            (300, -900, 500),
                            (0, 1, 0),
                            (1, 0, 0),
                            (700.0, 600.0),
                            (40.0,),
                            (0.0,),
                            (150.0,),
                        ),
                        60.0,
                    ),
                    10.0,
                ),
            ),
        ),
    ],
    ids=["free and leaning ends", "via", "halfspace", "mesh", "rod"],
)
def test_kinds_of_ends_and_solids(problem):
    found = design(problem, seconds=15)
    assert_kept(problem, found.route)


def test_mesh_and_solid_are_given_the_same_tube():
    solid = Box((300, -150, 500), (200, 600, 600), (10, 20, 30))
    drawn = design(replace(BAY, keepouts=(KeepOut("box", solid, 10.0),)), seconds=30).route
    scanned = design(
        replace(BAY, keepouts=(KeepOut("box", box_mesh(solid), 10.0),)), seconds=30
    ).route
    assert scanned.bends == drawn.bends
    assert scanned.length == pytest.approx(drawn.length, abs=1.0)


def test_first_route_comes_at_once_and_each_is_better():
    seen = []
    found = design(BAY, seconds=30, on_better=seen.append)
    worth = [(route.bends, route.length) for route in seen]
    assert worth == sorted(worth, reverse=True)
    assert found.first_seconds <= found.seconds
    assert seen[-1].bends == found.route.bends


def test_cancelled_search_gives_what_it_has():
    seen = []
    found = design(BAY, seconds=60, on_better=seen.append, cancel=lambda: bool(seen))
    assert found.route == seen[-1]
    assert not found.finished
    assert found.seconds < 5


def test_alternatives_say_their_price_and_keep_everything():
    found = design(BAY, seconds=60)
    assert found.alternatives
    for other in found.alternatives:
        assert other.longer == pytest.approx(other.route.length - found.route.length)
        assert other.more_bends == other.route.bends - found.route.bends
        if "leaning" not in other.what:
            assert_kept(BAY, other.route)
        if "whole degrees" in other.what:
            angles = np.array(other.route.line.angles)
            np.testing.assert_allclose(angles, np.round(angles), atol=0.005)


def test_why_not():
    assert "rays of the two ends miss each other by 300.0 mm" in _why(replace(BAY, max_bends=1))
    short = replace(OPEN, end=End((200, 0, 150), (1, 0, 0)), max_bends=1)
    assert "leg 1 is 25.0 mm short" in _why(short)
    door = KeepOut("door", Box((0, 0, 60), (300, 300, 20)), 10.0)
    blocked = _why(replace(BAY, keepouts=(*BAY.keepouts, door)))
    assert 'blocked by "door": the straight of 60.0 mm that the A end needs' in blocked


def _why(problem):
    found = design(problem, seconds=0.5)
    assert found.route is None
    return "; ".join(found.reasons)


def test_mending_moves_no_more_than_it_must():
    corners = [(0, 0, 0), (0, 0, 500), (300, 300, 800), (800, 300, 800)]
    # a ball beside the middle of the middle leg, 6 mm clear of it, where 10 are asked for
    aside = np.array([1, -1, 0]) / math.sqrt(2) * (38.1 / 2 + 60 + 6)
    ball = KeepOut("ball", Ball(tuple(np.array([150, 150, 650]) + aside), 120), 10.0)
    problem = replace(OPEN, end=End((800, 300, 800), (1, 0, 0)), keepouts=(ball,))
    mended = mend(problem, corners)
    assert_kept(problem, mended.route)
    assert mended.added == 0
    # the leg's middle has to move 4 mm aside; only the second corner moves it that way, by half of
    # what it moves along x, and x is at 45 degrees to where the leg has to go
    assert max(mended.moved) == pytest.approx(2 * 4 * math.sqrt(2), rel=0.15)
    kept = mend(replace(problem, keepouts=()), corners)
    assert max(kept.moved) < 1e-3


def test_mending_says_why_it_cannot():
    shut = KeepOut("lid", HalfSpace((0, 0, 20), (0, 0, -1)), 10.0)
    mended = mend(
        replace(BAY, keepouts=(shut,)),
        [(0, 0, 0), (0, 0, 300), (500, -300, 900), (900, -300, 900)],
        0.5,
    )
    assert mended.route is None
    assert any('"lid"' in reason for reason in mended.reasons)


def test_no_module_of_the_package_hides_what_the_package_gives():
    import pkgutil

    from soapstone.fit import route

    modules = {module.name for module in pkgutil.iter_modules(route.__path__)}
    assert not modules & set(route.__all__)
