"""Tubes with no bend, and with one: there is little freedom, and all of it is looked through."""

import numpy as np

from soapstone.fit.route.certify import route_of
from soapstone.fit.route.hairpin import leaning_hairpins, stiff_hairpin, wide_turn
from soapstone.fit.route.polyline import FIXED
from soapstone.fit.route.problem import Route, RouteProblem
from soapstone.fit.route.search import BETTER, Search
from soapstone.fit.route.starts import random_corners
from soapstone.fit.route.unknowns import WIDEST, mode
from soapstone.geometry.vectors import Array, angle_between, cross, dot, norm, unit

MEETING = 0.02
"""mm: rays that miss each other by less meet; a leg of 60 mm then leans by 0.01 degrees."""

LEANING = 0.02
"""Degrees that a direction may be off for a straight tube."""


def exact_routes(search: Search) -> bool:
    """Look for a tube without bends, then for one with a single bend; the search keeps it."""
    problem = search.problem
    if _straight_fits(problem):
        route = route_of(problem, np.array([problem.start.at, problem.end.at], dtype=float))
        if route is not None and route.length <= problem.longest:
            search.keep(route)
            return True
    if problem.max_bends >= 1:
        _one_bend(search)
    return search.best is not None


def _straight_fits(problem: RouteProblem) -> bool:
    """Tell whether the straight from end to end goes as asked and passes every via."""
    if not straight_leads(problem):
        return False
    if norm(np.subtract(problem.end.at, problem.start.at)) < problem.shortest:
        return False
    start, end = np.array(problem.start.at, dtype=float), np.array(problem.end.at, dtype=float)
    step = end - start
    for via in problem.through:
        share = np.clip(dot(np.array(via.at) - start, step) / dot(step, step), 0, 1)
        if norm(start + share * step - np.array(via.at)) > via.within:
            return False
    return True


def straight_leads(problem: RouteProblem) -> bool:
    """Tell whether the straight from end to end has the directions asked for at both."""
    step = np.subtract(problem.end.at, problem.start.at)
    if norm(step) < 1e-6:
        return False
    for one in (problem.start, problem.end):
        if one.along is not None:
            lean = angle_between(step, np.array(one.along, dtype=float))
            if lean > one.within + LEANING:
                return False
    return True


def _one_bend(search: Search) -> None:
    problem = search.problem
    if mode(problem.start) == FIXED and mode(problem.end) == FIXED:
        route = stiff_hairpin(search) if wide_turn(problem) > WIDEST else _stiff_bend(search)
        if route is not None:
            search.keep(route)
        return
    corners = random_corners(problem, 1, 48, np.random.default_rng(1))
    for y in search.solve(1, search.task(1)[0].nearest(corners)):
        search.take(1, y)
    if search.best is None and problem.angles[1] > WIDEST:
        for route in leaning_hairpins(search):
            if search.best is None or route.length < search.best.length - BETTER:
                search.keep(route)


def _stiff_bend(search: Search) -> Route | None:
    """The one tube with a single bend between two fixed directions, where they meet."""
    problem = search.problem
    meeting = rays_meet(problem)
    if meeting is None or meeting[1] > MEETING:
        return None
    corners = np.array([problem.start.at, meeting[0], problem.end.at], dtype=float)
    route = route_of(problem, corners)
    if route is None or route.length > problem.longest or not search.fits(corners):
        return None
    return route


def rays_meet(problem: RouteProblem) -> tuple[Array, float] | None:
    """Where the rays of two fixed ends come nearest, and by how many mm they miss.

    None when a direction is not given, or the rays are parallel.
    """
    if problem.start.along is None or problem.end.along is None:
        return None
    p, q = np.array(problem.start.at, dtype=float), np.array(problem.end.at, dtype=float)
    d = unit(np.array(problem.start.along, dtype=float))
    e = -unit(np.array(problem.end.along, dtype=float))
    normal = cross(d, e)
    square = float(dot(normal, normal))
    if square < 1e-12:
        return None
    a = dot(cross(q - p, e), normal) / square
    b = dot(cross(q - p, d), normal) / square
    first, second = p + max(float(a), 0.0) * d, q + max(float(b), 0.0) * e
    return (first + second) / 2, float(norm(first - second))
