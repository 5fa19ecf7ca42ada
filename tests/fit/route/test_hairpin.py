"""U-turns with one bend: their legs meet nowhere, and yet the shortest that fits is found."""

import math
from dataclasses import replace

import numpy as np
import pytest

from soapstone.fit.clearance import KeepOut
from soapstone.fit.route import End, RouteProblem, Via, design
from soapstone.geometry.chain import walk
from soapstone.geometry.solids import Box
from tests.fit.route.test_design import assert_kept

U = RouteProblem(
    End((0, 0, 0), (0, 0, 1)),
    End((230, 0, 0), (0, 0, -1)),
    38.1,
    115.0,
    min_first=60.0,
    min_straight=60.0,
    min_last=90.0,
    angles=(1.0, 180.0),
)
POST = KeepOut("post", Box((115, 0, 300), (100, 100, 600)), 10.0)


def test_shortest_legs_that_clamp_and_follower_leave():
    route = design(U).route
    assert route.bends == 1
    assert route.line.angles == (180.0,)
    assert route.line.legs == pytest.approx((90, 90))
    stepped = replace(U, end=End((0, 230, 300), (0, 0, -1)))
    assert design(stepped).route.line.legs == pytest.approx((390, 90))


@pytest.mark.parametrize("turn", [172.5, 176.0, 179.0, 179.9])
def test_a_bend_not_quite_all_the_way_round(turn):
    angle = math.radians(turn)
    x = 115 * (1 - math.cos(angle)) + 200 * math.sin(angle)
    z = 300 + 115 * math.sin(angle) + 200 * math.cos(angle)
    end = End((x, 0, z), (math.sin(angle), 0, math.cos(angle)))
    route = design(replace(U, end=end)).route
    assert route.bends == 1
    assert route.line.angles[0] == pytest.approx(turn, abs=1e-6)
    # the nearer to opposite, the less the end says how long the legs are
    assert route.line.legs == pytest.approx((300, 200), abs=1e-6)


def test_slid_out_until_it_clears_what_stands_between_its_legs():
    route = design(replace(U, keepouts=(POST,))).route
    assert route.bends == 1
    # the nearest points of the arc to the post's upper edge, 50 mm off the middle: as far from the
    # arc's centre as they may be is radius less half the tube less the gap
    reach = 115 - 38.1 / 2 - 10
    assert route.line.legs[0] == pytest.approx(600 - math.sqrt(reach**2 - 50**2), abs=0.05)
    assert route.clearance >= 10


def test_a_leg_that_is_in_the_way_stays_so():
    wall = KeepOut("wall", Box((230, 0, 300), (50, 50, 20)), 10.0)
    tall = replace(U, keepouts=(POST, wall))
    assert design(replace(tall, max_bends=1), seconds=1).route is None


def test_slid_out_to_a_point_to_go_through_but_no_longer_than_the_stick():
    route = design(replace(U, through=(Via((115, 0, 700), 5.0),))).route
    assert route.line.legs[0] == pytest.approx(580, abs=0.1)
    short = replace(U, through=(Via((115, 0, 700), 5.0),), longest=1200.0, max_bends=1)
    assert design(short, seconds=1).route is None


def test_an_end_that_may_lean_makes_up_for_the_width():
    wide = replace(U, end=End((240, 0, 0), (0, 0, -1), 6.0))
    for problem in (wide, replace(wide, keepouts=(POST,))):
        route = design(problem).route
        assert route.bends == 1
        assert_kept_wide(problem, route)
        assert 172 < route.line.angles[0] <= 180


def assert_kept_wide(problem, route):
    """As `assert_kept`, but for corners, which tell nothing of so wide a bend."""
    way = walk(route.line)
    assert np.linalg.norm(way.nodes[-1] - np.array(problem.end.at)) < 0.05
    lean = np.degrees(np.arccos(way.directions[-1] @ np.array(problem.end.along)))
    assert lean <= problem.end.within + 0.01
    plain = replace(problem, end=End(problem.end.at), angles=(0.0, 181.0))
    drawn = np.array(route.corners)
    assert_kept(plain, replace(route, corners=tuple(map(tuple, drawn))))


def test_the_mirror_image_has_the_mirrored_turn():
    leaning = replace(U, end=End((240, 30, 0), (0, 0, -1), 6.0))
    other = replace(leaning, end=End((-240, 30, 0), (0, 0, -1), 6.0))
    here, there = design(leaning).route, design(other).route
    assert here.bends == 1
    np.testing.assert_array_equal(np.array(there.corners) * [-1, 1, 1], np.array(here.corners))
    ends = [walk(route.line).nodes[-1] for route in (here, there)]
    np.testing.assert_allclose(ends[0], ends[1] * [-1, 1, 1], atol=1e-9)


def test_why_there_is_none():
    wide = replace(U, end=End((240, 0, 0), (0, 0, -1)), max_bends=1)
    reason = (
        "one bend of 180° puts its legs 230.0 mm apart, "
        "and the ends ask for 240.0 mm, 10.00 mm more"
    )
    assert design(wide).reasons == (reason,)
    stiff = replace(U, angles=(1.0, 176.3), max_bends=1)
    assert design(stiff).reasons == (
        "one bend would have to turn by 180°, at most 176.3° can be bent",
    )


def test_more_bends_where_the_width_is_another():
    route = design(replace(U, end=End((300, 0, 0), (0, 0, -1))), seconds=20).route
    assert route.bends == 2
