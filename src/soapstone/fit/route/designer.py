"""The route designer: the fewest bends, then the least length."""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from soapstone.findings import Say
from soapstone.fit.route.alternatives import alternatives
from soapstone.fit.route.certify import line_of, make_ready
from soapstone.fit.route.exact import exact_routes
from soapstone.fit.route.handed import Signs, flip, flip_line, flip_point, hand
from soapstone.fit.route.problem import Alternative, Route, RouteProblem, RouteResult
from soapstone.fit.route.search import Search, StopSearchError
from soapstone.fit.route.seeds import Graph, any_role, grow, sample_points, start_graph, ways_over
from soapstone.fit.route.starts import jittered, random_corners, without_a_corner
from soapstone.fit.route.symmetry import make_symmetric
from soapstone.fit.route.why import hopeless, reasons
from soapstone.geometry.vectors import Array

GROWTH = (40, 60, 80, 100, 100)
"""Points added to the graph each round; after the last a new graph is begun."""

PARTS = 8
"""Each round's points are added in so many parts, and the clock is looked at in between."""

SEEDS = 12
"""Ways over the graph that are tried each round, for each number of bends."""

HARDER = 3
"""How many times as many starts are spent on fewer bends than the best route has."""

MOST_ROUNDS = 400

IDLE_ROUNDS = 12
"""Rounds without a route better by a mm, after which the search has done what it can."""

FOR_THE_BEST = 0.8
"""Part of the time that goes to the best route; the rest is for symmetry and alternatives."""

FOR_A_ROUTE = 0.95
"""Part of the time in which a first route is looked for; the rest is to find out why not."""


def run_design(
    problem: RouteProblem,
    seconds: float,
    seed: int,
    on_better: Callable[[Route], object] | None,
    cancel: Callable[[], bool] | None,
    say: Say,
) -> RouteResult:
    """Find a route; as `soapstone.fit.route.design` says."""
    asked = time.perf_counter()
    signs = hand(problem)
    turned = flip(problem, signs)
    make_ready(turned)
    began = time.perf_counter()
    tell = None if on_better is None else lambda route: on_better(_flipped(problem, route, signs))
    search = Search(
        turned,
        np.random.default_rng(seed),
        began + seconds * FOR_THE_BEST,
        began + seconds * FOR_A_ROUTE,
        tell,
        cancel,
        began=began,
    )
    others: list[Alternative] = []
    finished = True
    try:
        _run(search)
    except StopSearchError:
        finished = False
    search.deadline = began + seconds
    try:
        make_symmetric(search)
        for other in alternatives(search, say):
            others.append(other)  # noqa: PERF402 - what came before a stop is kept
    except StopSearchError:
        finished = False
    best = search.best
    return RouteResult(
        None if best is None else _flipped(problem, best, signs),
        tuple(replace(one, route=_flipped(problem, one.route, signs)) for one in others),
        reasons(search, say) if best is None else (),
        time.perf_counter() - began,
        search.first_seconds,
        search.starts,
        finished,
        began - asked,
    )


def _flipped(problem: RouteProblem, route: Route, signs: Signs) -> Route:
    """Bring a route back to the hand of the problem."""
    if signs == (1.0, 1.0, 1.0):
        return route
    corners = tuple(flip_point(corner, signs) for corner in route.corners)
    # by its corners where they tell it, so that both hands have the same digits
    drawn = len(corners) == route.bends + 2
    line = line_of(np.array(corners), problem.clr) if drawn else None
    return replace(route, corners=corners, line=line or flip_line(route.line, signs))


def _run(search: Search) -> None:
    """Search until nothing better has come for some rounds; not at all where nothing can come."""
    problem = search.problem
    if hopeless(problem):
        return
    exact_routes(search)
    if problem.max_bends < 2 or (search.best is not None and search.best.bends < 2):
        return
    graph = None
    last = None
    idle = 0
    for round_ in range(MOST_ROUNDS):
        _random(search, 16 if round_ else 8)
        task = search.task(2)[1]
        step = round_ % len(GROWTH)
        if graph is None or step == 0:
            graph = start_graph(problem, task, search.room)
        points = sample_points(problem, task, search.room, GROWTH[step], search.rng)
        for part in np.array_split(points, PARTS):
            search.check()
            grow(graph, task, search.room, part, any_role(problem))
        search.check()
        _seeded(search, graph, round_)
        _improve(search)
        now = None if search.best is None else (search.best.bends, round(search.best.length))
        idle = 0 if now != last else idle + 1
        last = now
        if search.best is not None and idle >= IDLE_ROUNDS and round_ >= len(GROWTH):
            return


def _most(search: Search) -> int:
    return search.problem.max_bends if search.best is None else search.best.bends


def _found(search: Search, bends: int, solved: list[Array]) -> None:
    """Keep what was solved, and try it with a bend less."""
    for y in solved:
        if search.best is not None and bends > search.best.bends:
            return
        if search.take(bends, y):
            _eliminate(search, bends)


def _eliminate(search: Search, bends: int) -> None:
    """Leave out corners of the best route, one at a time, as long as that succeeds."""
    while search.best is not None and 2 < search.best.bends == bends:
        inner = np.array(search.best.corners[1:-1])
        fewer = bends - 1
        unknown = search.task(fewer)[0]
        starts = [jittered(unknown, one, 2, search.rng) for one in without_a_corner(inner)]
        solved = search.solve(fewer, np.concatenate(starts))
        taken = [search.take(fewer, y) for y in solved]
        if not any(taken):
            return
        bends = fewer


def _random(search: Search, count: int) -> None:
    for bends in range(2, search.problem.max_bends + 1):
        if bends > _most(search):
            return
        many = count * HARDER if search.best is not None and bends < search.best.bends else count
        corners = random_corners(search.problem, bends, many, search.rng)
        _found(search, bends, search.solve(bends, search.task(bends)[0].nearest(corners)))


def _seeded(search: Search, graph: Graph, round_: int) -> None:
    most = _most(search)
    if most < 2:
        return
    by_bends = ways_over(graph, search.task(2)[1], most, 0.3 * min(round_, 2), search.rng)
    for bends in range(2, most + 1):
        if bends not in by_bends or bends > _most(search):
            continue
        unknown = search.task(bends)[0]
        fewer = search.best is not None and bends < search.best.bends
        seeds = by_bends[bends][: SEEDS * HARDER if fewer else SEEDS]
        starts = [jittered(unknown, seed, 2, search.rng) for seed in seeds]
        _found(search, bends, search.solve(bends, np.concatenate(starts)))


def _improve(search: Search) -> None:
    """Stray from the best routes of the fewest bends."""
    if search.best is None:
        return
    bends = search.best.bends
    if bends < 2 or bends not in search.pool:
        return
    unknown = search.task(bends)[0]
    for _, y in list(search.pool[bends][:2]):
        starts = jittered(unknown, unknown.corners(y), 8, search.rng)[1:]
        _found(search, bends, search.solve(bends, starts))
