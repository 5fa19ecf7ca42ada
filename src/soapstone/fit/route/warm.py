"""Load the compiled search, or compile it where it has not been, before the clock starts."""

from functools import cache

import numpy as np

from soapstone.fit.clearance import KeepOut, least_gap
from soapstone.fit.motion import Hinge
from soapstone.fit.route.certify import line_of
from soapstone.fit.route.problem import End, RouteProblem
from soapstone.fit.route.search import Search
from soapstone.fit.route.seeds import grow, sample_points, start_graph, ways_over
from soapstone.geometry.solids import Ball, Box, Mesh, box_mesh


def get_ready(problem: RouteProblem) -> None:
    """Run what a problem needs of the compiled functions once, before its clock starts."""
    warm()
    if any(isinstance(keepout.solid, Mesh) for keepout in problem.keepouts):
        warm_depths()


@cache
def warm_depths() -> None:
    """Run once what measures how deep a tube is in a scan: only problems with scans wait for it."""
    scan = KeepOut("scan", box_mesh(Box((250.0, 0.0, 0.0), (100.0, 90.0, 80.0))), 1.0)
    line = line_of(np.array([[0.0, 0.0, 0.0], [500.0, 0.0, 0.0]]), 50.0)
    assert line is not None
    least_gap(line, 20.0, [scan])


@cache
def warm() -> None:
    """Run every compiled function once but `warm_depths`; later calls do nothing.

    On a machine where nothing is compiled yet this takes some tens of seconds, once.
    """
    hinge = Hinge((0.0, 0.0, 5000.0), (1.0, 0.0, 0.0), 0.0, 10.0)
    ball = KeepOut("ball", Ball((0.0, 9000.0, 0.0), 10.0), 1.0, (hinge,))
    scan = KeepOut("scan", box_mesh(Box((0.0, 9000.0, 500.0), (10.0, 10.0, 10.0))), 1.0)
    ends = End((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), End((500.0, 0.0, 500.0), (1.0, 0.0, 0.0))
    problem = RouteProblem(*ends, od=20.0, clr=50.0, keepouts=(ball, scan))
    search = Search(problem, np.random.default_rng(0), np.inf)
    unknown, task = search.task(2)
    corners = np.array([[0.0, 0.0, 200.0], [300.0, 0.0, 500.0]])
    search.settle(task, search.solve(2, unknown.nearest(corners[None]))[0])
    graph = start_graph(problem, task, search.room)
    grow(graph, task, search.room, sample_points(problem, task, search.room, 8, search.rng), 0)
    ways_over(graph, task, 2, 0.0, search.rng)
    line = line_of(np.array([ends[0].at, *corners.tolist(), ends[1].at]), 50.0)
    if line is not None:
        least_gap(line, 20.0, problem.keepouts)
