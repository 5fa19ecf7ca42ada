"""Mend an existing shape that clashes, or has a leg too short, with the least change."""

import time
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from soapstone.findings import Say
from soapstone.fit.route.certify import make_ready, route_of
from soapstone.fit.route.polyline import FIXED
from soapstone.fit.route.problem import Mended, Route, RouteProblem
from soapstone.fit.route.search import Search, StopSearchError
from soapstone.fit.route.starts import jittered
from soapstone.fit.route.unknowns import mode
from soapstone.fit.route.why import reasons
from soapstone.geometry.vectors import Array, Vec3, norm

TRIES = 24
"""Starts strayed from the shape, beside the shape itself."""

MORE = 3
"""Corners that may be put in, at most: so many take a straight around something and back."""


def run_mend(
    problem: RouteProblem,
    corners: Sequence[Vec3],
    seconds: float,
    seed: int,
    cancel: Callable[[], bool] | None,
    say: Say,
) -> Mended:
    """Mend a shape; as `soapstone.fit.route.mend` says."""
    make_ready(problem)
    began = time.perf_counter()
    search = Search(problem, np.random.default_rng(seed), began + seconds, cancel=cancel)
    drawn = np.array(corners, dtype=float)[1:-1]
    route, added = None, 0
    stiff = mode(problem.start) == mode(problem.end) == FIXED
    most = problem.max_bends
    if not len(drawn) and most >= 1:
        most = max(most, MORE)
    try:
        for added in range(MORE + 1):
            if (2 if stiff else 1) <= len(drawn) + added <= most:
                route = _least_change(search, _with_more(problem, drawn, added))
            if route is not None:
                break
    except StopSearchError:
        pass
    taken = time.perf_counter() - began
    if route is None:
        return Mended(None, reasons=reasons(search, say), seconds=taken)
    inner = np.array(route.corners[1:-1])
    moved = norm(drawn[:, None] - inner[None]).min(axis=1) if added else norm(drawn - inner)
    return Mended(route, tuple(float(m) for m in moved), added, seconds=taken)


def _with_more(problem: RouteProblem, drawn: Array, added: int) -> list[Array]:
    """The shape with so many corners put into each leg in turn, evenly."""
    if not added:
        return [drawn]
    ends = [np.array([problem.start.at]), drawn, np.array([problem.end.at])]
    points = np.concatenate(ends)
    share = np.arange(1, added + 1)[:, None] / (added + 1)
    return [
        np.concatenate([drawn[:i], a + share * (b - a), drawn[i:]])
        for i, (a, b) in enumerate(pairwise(points))
    ]


def _least_change(search: Search, variants: list[Array]) -> Route | None:
    best: tuple[float, Route] | None = None
    for drawn in variants:
        bends = len(drawn)
        unknown, task = search.task(bends)
        home = unknown.nearest(drawn)
        number = task.number.copy()
        number[7] = 1.0
        staying = task._replace(number=number, home=home)
        solved = search.solve(bends, jittered(unknown, drawn, TRIES, search.rng))
        for y in (home, *solved):
            settled = search.settle(staying, y)
            if settled is None:
                continue
            change = float(np.sum((settled[0] - home) ** 2))
            if best is None or change < best[0]:
                route = route_of(search.problem, search.corners(unknown, settled[0]))
                best = (change, route) if route is not None else best
    return None if best is None else best[1]
