"""Gradients of what a polyline breaks, against differences of its cost."""

from dataclasses import replace

import numpy as np
import pytest

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.fit.route.polyline import ANY, JOINED, make_work
from soapstone.fit.route.problem import End, RouteProblem, Via
from soapstone.fit.route.room import build_room
from soapstone.fit.route.rows import all_rows
from soapstone.fit.route.starts import random_corners
from soapstone.fit.route.unknowns import build_task, unknowns
from soapstone.geometry.solids import Ball, Box, Cylinder

PLAIN = RouteProblem(
    End((0, 0, 0), (0, 0, 1)),
    End((900, -300, 900), (1, 0, 0)),
    38.1,
    115.0,
    min_first=60,
    min_straight=90,
    min_last=60,
    angles=(5, 150),
)
SWING = (Hinge((600, -300, 900), (0, 0, 1), -30, 60), Hinge((0, 0, 900), (0, 1, 0), 0, 20))


def errors(problem, eps=0.5, aim=None, home=False, joined=0.0, bends=4):
    """Relative errors of the gradient at 40 random polylines."""
    rng = np.random.default_rng(0)
    room = build_room(problem.keepouts, problem.od, 0.02)
    unknown = unknowns(problem, bends)
    task = build_task(problem, unknown)
    if aim is not None:
        task = task._replace(aim=aim)
    task.number[JOINED] = joined
    if home:
        number = task.number.copy()
        number[7] = 1.0
        task = task._replace(number=number, home=np.full(len(task.home), 30.0))
    found = []
    for corners in random_corners(problem, bends, 40, rng):
        y = unknown.nearest(corners)
        n = len(y)
        work, normal, scrap = make_work(task, room), np.zeros((n + 1, n)), np.zeros((n + 1, n))
        all_rows(work, task, room, y, eps, normal)
        steps = np.eye(n) * 1e-4
        slopes = [
            all_rows(work, task, room, y + step, eps, scrap)
            - all_rows(work, task, room, y - step, eps, scrap)
            for step in steps
        ]
        exact = normal[n]
        found.append(np.abs(np.array(slopes) / 2e-4 - exact).max() / np.abs(exact).max())
    return np.array(found)


@pytest.mark.parametrize(
    "problem",
    [
        PLAIN,
        replace(PLAIN, start=End((0, 0, 0)), end=End((900, -300, 900), (1, 0, 0), 20.0)),
    ],
    ids=["fixed ends", "free and cone"],
)
def test_straights_angles_and_ends(problem):
    assert np.quantile(errors(problem), 0.9) < 1e-4


def test_vias():
    # a nearest point where a straight meets an arc moves along the tube; the rows leave that out
    problem = replace(PLAIN, through=(Via((300, 300, 300), 10.0),))
    assert np.quantile(errors(problem), 0.75) < 1e-4


def test_angles_and_rotations_aimed_at():
    aim = np.array([[0.5, ANY], [ANY, 0.0], [0.7, np.pi / 2], [ANY, np.pi]])
    assert np.quantile(errors(PLAIN, aim=aim), 0.9) < 1e-4


def test_two_corners_that_are_one_bend():
    assert np.quantile(errors(PLAIN, joined=1.0, bends=2), 0.9) < 1e-4


def test_staying_near_home():
    assert np.quantile(errors(PLAIN, home=True), 0.9) < 1e-4


@pytest.mark.parametrize(
    "solid",
    [
        Ball((400, -150, 500), 200),
        Box((400, -150, 500), (2, 200, 2)),
        Cylinder((400, -150, 500), (410, 150, 600), 2),
    ],
    ids=["ball", "bar", "rod"],
)
def test_clearance_where_the_tube_is_near_but_not_inside(solid):
    # the nearest point is sometimes where a straight meets an arc; the rows leave that step out
    problem = replace(PLAIN, keepouts=(KeepOut("post", solid, 60.0),))
    assert np.quantile(errors(problem), 0.75) < 1e-3


def test_clearance_to_what_swings():
    problem = replace(
        PLAIN, keepouts=(KeepOut("arm", Ball((400, -150, 500), 200), 30.0, SWING[:1]),)
    )
    assert np.quantile(errors(problem), 0.6) < 2e-2
