"""The route designer: the fewest bends, then the least length."""

import time
from collections.abc import Callable

import numpy as np

from soapstone.fit.route.exact import exact_routes
from soapstone.fit.route.problem import Route, RouteProblem, RouteResult
from soapstone.fit.route.search import Search, StopSearchError
from soapstone.fit.route.seeds import any_role, grow, sample_points, start_graph, ways_over
from soapstone.fit.route.starts import jittered, random_corners
from soapstone.geometry.vectors import Array

GROWTH = (40, 60, 80, 100, 120, 150)
"""Points added to the graph each round."""


def design(
    problem: RouteProblem,
    seconds: float = 10.0,
    seed: int = 0,
    on_better: Callable[[Route], object] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> RouteResult:
    """Find the tube with the fewest bends, and of those the shortest, that satisfies `problem`.

    The same seed gives the same route as long as `seconds` does not cut the search short: it is
    the starts that are counted. `on_better` is called with each better route; `cancel` is asked
    every few hundredths of a second.
    """
    began = time.perf_counter()
    search = Search(
        problem, np.random.default_rng(seed), began + seconds, on_better, cancel, began=began
    )
    finished = True
    try:
        _run(search)
    except StopSearchError:
        finished = False
    return RouteResult(
        search.best,
        seconds=time.perf_counter() - began,
        first_seconds=search.first_seconds,
        starts=search.starts,
        finished=finished,
    )


def _run(search: Search) -> None:
    problem = search.problem
    if exact_routes(search):
        return
    graph = None
    for round_ in range(40):
        _random(search, 16 if round_ else 8)
        if graph is None:
            graph = start_graph(problem, search.task(2)[1], search.room)
        if round_ < len(GROWTH):
            task = search.task(2)[1]
            points = sample_points(problem, task, search.room, GROWTH[round_], search.rng)
            grow(graph, task, search.room, points, any_role(problem))
        search.check()
        _seeded(search, graph, round_)
        _improve(search)


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
        starts = []
        for i in range(bends):
            starts.append(jittered(unknown, np.delete(inner, i, axis=0), 2, search.rng))
        for i in range(bends - 1):
            merged = np.delete(inner, i, axis=0)
            merged[i] = (inner[i] + inner[i + 1]) / 2
            starts.append(jittered(unknown, merged, 2, search.rng))
        solved = search.solve(fewer, np.concatenate(starts))
        if not any([search.take(fewer, y) for y in solved]):
            return
        bends = fewer


def _random(search: Search, count: int) -> None:
    for bends in range(2, search.problem.max_bends + 1):
        if bends > _most(search):
            return
        corners = random_corners(search.problem, bends, count, search.rng)
        _found(search, bends, search.solve(bends, search.task(bends)[0].nearest(corners)))


def _seeded(search: Search, graph, round_: int) -> None:
    most = _most(search)
    if most < 2:
        return
    by_bends = ways_over(graph, search.task(2)[1], most, 0.3 * min(round_, 2), search.rng)
    for bends in range(2, most + 1):
        if bends not in by_bends or bends > _most(search):
            continue
        unknown = search.task(bends)[0]
        seeds = by_bends[bends][:12]
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
