"""Other routes than the best, each with what speaks for it and what it costs."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from soapstone.findings import Say, say_mm
from soapstone.fit.route.certify import route_of
from soapstone.fit.route.polyline import ANY, Task
from soapstone.fit.route.problem import Alternative, End, Route, RouteProblem
from soapstone.fit.route.search import Search
from soapstone.fit.route.starts import jittered, without_a_corner
from soapstone.geometry.chain import turns
from soapstone.geometry.vectors import Array

WHOLE = 0.005
"""Degrees within which an angle counts as whole."""

LEANS = (5.0, 10.0, 20.0)
"""Degrees that an end is let lean, least first, to save a bend."""

MORE_CLEARANCE = (40.0, 20.0, 10.0, 5.0)
"""mm asked for beyond each gap, most first."""

DEAR = 1.1
"""More clearance is offered while the tube is at most this many times as long."""

SHORTER = 0.93
"""A tube with more bends is offered when it is at most this long, as a part of the best."""


def alternatives(search: Search, say: Say = say_mm) -> Iterator[Alternative]:
    """Give what else there is, one by one, lengths as `say` writes them; stops with the search."""
    best = search.best
    if best is None:
        return
    if best.bends >= 2 and best.bends in search.pool:
        yield from _aimed(search, best)
        yield from _clearer(search, best, say)
    if best.bends >= 1:
        yield from _leaning(search, best)
    yield from _shorter(search, best)


def _alternative(best: Route, what: str, route: Route) -> Alternative:
    return Alternative(what, route, route.length - best.length, route.bends - best.bends)


def _aimed(search: Search, best: Route) -> Iterator[Alternative]:
    """Angles in whole degrees; rotations of 0, 90 and 180 degrees; both."""
    turned = turns(np.array(best.corners))
    whole, square = np.round(turned.angles), 90.0 * np.round(turned.rotations / 90.0)
    nothing = np.full(best.bends, np.nan)
    square[0] = np.nan
    kinds = (
        ("bend angles in whole degrees", whole, nothing),
        ("rotations of 0, 90 and 180 degrees", nothing, square),
        ("whole degrees and rotations of 0, 90 and 180", whole, square),
    )
    for what, angles, rotations in kinds:
        done = np.nan_to_num(np.abs(angles - turned.angles)) < WHOLE
        done &= np.nan_to_num(np.abs(rotations - turned.rotations)) < WHOLE
        if not np.all(done):
            route = _aim_at(search, best, angles, rotations)
            if route is not None:
                yield _alternative(best, what, route)


def _aim_at(search: Search, best: Route, angles: Array, rotations: Array) -> Route | None:
    """Give the shortest route found near the best whose bends have these values, nan for any."""
    unknown, task = search.task(best.bends)
    y = unknown.nearest(np.array(best.corners[1:-1]))
    routes = []
    for step in (np.zeros(best.bends), *_neighbours(search, angles)):
        aim = np.radians(np.stack([angles + step, rotations], axis=1))
        aimed = task._replace(aim=np.where(np.isnan(aim), ANY, aim))
        starts = jittered(unknown, unknown.corners(y), 6, search.rng)
        for solved in search.solve(best.bends, starts, aimed):
            route = _settled(search, best.bends, aimed, solved)
            if route is not None:
                routes.append(route)
        if routes:
            return min(routes, key=lambda route: route.length)
    return None


def _neighbours(search: Search, angles: Array) -> Iterator[Array]:
    """Other whole degrees near by, when the nearest do not work."""
    if not np.isnan(angles).all():
        for _ in range(6):
            yield search.rng.integers(-1, 2, len(angles)).astype(float)


def _settled(search: Search, bends: int, task: Task, y: Array) -> Route | None:
    settled = search.settle(task, y)
    if settled is None:
        return None
    route = route_of(search.problem, search.corners(search.task(bends)[0], settled[0]))
    return None if route is None or route.length > search.problem.longest else route


def _clearer(search: Search, best: Route, say: Say) -> Iterator[Alternative]:
    """More clearance everywhere, as much as comes cheap."""
    problem = search.problem
    for more in MORE_CLEARANCE:
        keepouts = tuple(replace(k, gap=k.gap + more / k.counts) for k in problem.keepouts)
        wider = _again(search, replace(problem, keepouts=keepouts))
        _restart(search, wider, best.bends)
        if wider.best is not None and wider.best.length <= DEAR * best.length:
            if wider.best.clearance > best.clearance + 0.5 * more:
                more_room, room = say(wider.best.clearance), say(best.clearance)
                what = f"{more_room} clearance instead of {room}"
                yield _alternative(best, what, wider.best)
            return


def _again(search: Search, problem: RouteProblem) -> Search:
    return Search(problem, search.rng, search.deadline, cancel=search.cancel, fields=search.fields)


def _restart(search: Search, other: Search, bends: int) -> None:
    """Let another search start from the pool of this one."""
    unknown = other.task(bends)[0]
    own = search.task(bends)[0]
    for _, y in search.pool.get(bends, [])[:6]:
        starts = jittered(unknown, own.corners(y), 4, search.rng)
        for solved in other.solve(bends, starts):
            other.take(bends, solved)


def _leaning(search: Search, best: Route) -> Iterator[Alternative]:
    """One bend fewer, if an end may lean a little."""
    problem, fewer = search.problem, best.bends - 1
    if fewer < 1:
        return
    for lean in LEANS:
        for which in ("A", "B", "A and B"):
            start = _leaned(problem.start, lean) if "A" in which else problem.start
            end = _leaned(problem.end, lean) if "B" in which else problem.end
            if (start, end) == (problem.start, problem.end):
                continue
            other = _again(search, replace(problem, start=start, end=end, max_bends=fewer))
            if fewer >= 2 or "free" in _freedom(start, end):
                _fewer(other, best, fewer)
            if other.best is not None:
                ends = "end" if which != "A and B" else "ends"
                what = f"one bend fewer, the {which} {ends} leaning by up to {lean:.0f} degrees"
                yield _alternative(best, what, other.best)
                return


def _freedom(start: End, end: End) -> str:
    return "free" if start.within > 0 or end.within > 0 else "fixed"


def _leaned(end: End, lean: float) -> End:
    return end if end.along is None else replace(end, within=end.within + lean)


def _fewer(other: Search, best: Route, bends: int) -> None:
    """Start from the best route with each corner left out, or two merged."""
    inner = np.array(best.corners[1:-1])
    unknown = other.task(bends)[0]
    for corners in without_a_corner(inner):
        for solved in other.solve(bends, jittered(unknown, corners, 3, other.rng)):
            other.take(bends, solved)


def _shorter(search: Search, best: Route) -> Iterator[Alternative]:
    """More bends and a shorter tube, if one came up."""
    for bends in sorted(search.pool):
        if bends <= best.bends:
            continue
        for length, y in search.pool[bends][:2]:
            if length < SHORTER * best.length:
                corners = search.corners(search.task(bends)[0], y)
                route = route_of(search.problem, corners)
                if route is not None:
                    yield _alternative(best, f"a shorter tube with {bends} bends", route)
                    return
