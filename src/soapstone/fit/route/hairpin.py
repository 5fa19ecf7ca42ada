"""One bend so wide that its legs meet too far off, or nowhere: a U-turn, by its legs and angle.

Between two fixed directions there is at most one such bend, and where the directions are opposite
it can only slide along them: all of that is looked through. Where an end may lean it is searched
for as two corners that turn alike in one plane, with nothing between them.
"""

from collections.abc import Iterator

import numpy as np

from soapstone.fit.clearance import piece_clearance
from soapstone.fit.route.certify import CERTAIN, route_along, shortages
from soapstone.fit.route.contact import Room
from soapstone.fit.route.polyline import JOINED, Task
from soapstone.fit.route.problem import End, Route, RouteProblem
from soapstone.fit.route.room import widened
from soapstone.fit.route.search import HOPELESS, Search
from soapstone.fit.route.unknowns import ANGLE_INSIDE, WIDEST, mode
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import sample, turns, walk
from soapstone.geometry.distance import line_pieces
from soapstone.geometry.measure import length
from soapstone.geometry.vectors import (
    Array,
    angle_between,
    any_perpendicular,
    cross,
    dot,
    norm,
    turn,
    unit,
)

OPPOSITE = 0.05
"""Degrees within which two directions are opposite."""

BESIDE = 0.05
"""mm that such a bend may end beside the B end: less than lengths are said to."""

STEPS = 4000
"""Places at most that a U-turn is slid to."""

STARTS = 64


def wide_turn(problem: RouteProblem) -> float:
    """Degrees between the two directions given."""
    assert problem.start.along is not None
    assert problem.end.along is not None
    a, b = np.array(problem.start.along, float), np.array(problem.end.along, float)
    return float(angle_between(a, b))


def is_opposite(problem: RouteProblem) -> bool:
    """Tell whether the two directions given are opposite."""
    return wide_turn(problem) > 180.0 - OPPOSITE


def apart(problem: RouteProblem) -> float:
    """How far apart in mm the straights are that two opposite ends begin."""
    step = np.subtract(problem.end.at, problem.start.at)
    along = unit(np.array(problem.start.along, dtype=float))
    return float(norm(step - dot(step, along) * along))


def stiff_hairpin(search: Search) -> Route | None:
    """The shortest U-turn between two fixed directions that keeps everything, if there is one."""
    problem = search.problem
    turned = wide_turn(problem)
    low, high = problem.angles
    if is_opposite(problem):
        turned = 180.0
        if not low <= turned <= high or abs(apart(problem) - 2 * problem.clr) > BESIDE:
            return None
        return _slid(search)
    if not low <= turned <= high:
        return None
    line = _between(problem, turned)
    if line is None or length(line) > problem.longest or _missing(problem, line) > 0:
        return None
    return route_along(problem, line)


def _between(problem: RouteProblem, turned: float) -> Centreline | None:
    """The one bend between two directions that are not opposite; None where they do not meet."""
    d = unit(np.array(problem.start.along, dtype=float))
    e = unit(np.array(problem.end.along, dtype=float))
    inward = unit(e - dot(e, d) * d)
    angle_rad = np.radians(turned)
    arc = problem.clr * (np.sin(angle_rad) * d + (1 - np.cos(angle_rad)) * inward)
    rest = np.subtract(problem.end.at, problem.start.at) - arc
    legs, *_ = np.linalg.lstsq(np.stack([d, e], axis=1), rest, rcond=None)
    a, b = (float(leg) for leg in legs)
    if norm(rest - a * d - b * e) > BESIDE or a < problem.min_first or b < problem.min_last:
        return None
    return _bend(problem, d, inward, (a, b), turned)


def _bend(
    problem: RouteProblem, along: Array, inward: Array, legs: tuple[float, float], turned: float
) -> Centreline:
    start = problem.start.at
    return Centreline(start, vec(along), vec(inward), legs, (turned,), (0.0,), (problem.clr,))


def _slid(search: Search) -> Route | None:
    """Slide a U-turn out from the ends until it keeps everything, or cannot any more.

    Nothing is passed over: what is too near by so many mm is so until the bend has moved as many.
    """
    problem = search.problem
    along = unit(np.array(problem.start.along, dtype=float))
    step = np.subtract(problem.end.at, problem.start.at)
    ahead = float(dot(step, along))
    inward = unit(step - ahead * along)
    first = max(problem.min_first, ahead + problem.min_last)
    for _ in range(STEPS):
        search.check()
        line = _bend(problem, along, inward, (first, first - ahead), 180.0)
        if length(line) > problem.longest or _legs_clash(problem, line):
            return None
        move = _missing(problem, line)
        if move <= 0.0:
            return route_along(problem, line)
        first += max(move, CERTAIN)
    return None


def _missing(problem: RouteProblem, line: Centreline) -> float:
    """How many mm at least a bend must move to keep every gap and pass every point."""
    worst = max(shortages(problem, line), default=0.0)
    for via in problem.through:
        off = float(norm(sample(line, 0.5) - np.array(via.at)).min())
        worst = max(worst, off - via.within)
    return worst


def _legs_clash(problem: RouteProblem, line: Centreline) -> bool:
    """Tell whether a leg is too near to something: longer ones are as well."""
    way = walk(line)
    for node, i in ((way.nodes[0], 0), (way.nodes[2], 1)):
        aim = way.directions[i]
        leg = Centreline(vec(node), vec(aim), vec(any_perpendicular(aim)), (line.legs[i],))
        pieces = line_pieces(leg)
        for keepout in problem.keepouts:
            clear = piece_clearance(pieces, problem.od, keepout, CERTAIN, keepout.gap)
            if clear.high < keepout.gap - CERTAIN:
                return True
    return False


def leaning_hairpins(search: Search) -> Iterator[Route]:
    """Tubes with one wide bend where an end may lean, each as short as it gets near by."""
    problem = search.problem
    task = _joined(search)
    unknown = search.task(2)[0]
    starts = unknown.nearest(_starts(problem, search.rng))
    for y in search.solve(2, starts, task):
        settled = search.settle(task, y)
        if settled is not None and settled[1] <= problem.longest:
            route = _certified(search, task, settled[0])
            if route is not None:
                yield route


def _joined(search: Search) -> Task:
    """The task of two corners, made to be one bend."""
    problem = search.problem
    task = search.task(2)[1]
    number = task.number.copy()
    number[JOINED] = np.radians(problem.angles[1] - ANGLE_INSIDE)
    aim = task.aim.copy()
    aim[1, 1] = 0.0
    return task._replace(number=number, aim=aim)


def _starts(problem: RouteProblem, rng: np.random.Generator) -> Array:
    """Pairs of corners (m, 2, 3) two radii apart, at random places along the two ends' ways."""
    a, b = np.array(problem.start.at, float), np.array(problem.end.at, float)
    size = float(norm(b - a)) + 2 * problem.clr
    found = []
    for _ in range(STARTS):
        out = _aim(problem.start, rng)
        beside = (b - a) - dot(b - a, out) * out + 0.3 * problem.clr * rng.normal(size=3)
        beside = unit(beside - dot(beside, out) * out + 1e-9 * any_perpendicular(out))
        first = max(float(dot(b - a, out)), 0.0) + problem.clr + size * rng.random() ** 2
        corner = a + first * out
        found.append((corner, corner + 2 * problem.clr * beside))
    return np.array(found)


def _aim(end: End, rng: np.random.Generator) -> Array:
    """A direction that an end may have, or nearly."""
    if end.along is None:
        return unit(rng.normal(size=3))
    aim = unit(np.array(end.along, dtype=float))
    side = turn(any_perpendicular(aim), aim, np.float64(rng.uniform(0, 2 * np.pi)))
    lean = np.radians(min(end.within, 180.0)) * np.sqrt(rng.random()) * (mode(end) > 0)
    leaned: Array = np.cos(lean) * aim + np.sin(lean) * side
    return leaned


def _certified(search: Search, task: Task, y: Array) -> Route | None:
    """Certify a bend of two corners, mended where its certificate is short."""
    problem = search.problem
    extra = np.zeros(len(problem.keepouts))
    for _ in range(4):
        search.check()
        line = _merged(problem, search.corners(search.task(2)[0], y))
        if line is None:
            return None
        short = shortages(problem, line)
        worst = max(short, default=0.0)
        if worst <= 0.0:
            return route_along(problem, line)
        if worst > HOPELESS:
            return None
        extra += [s + 0.01 * (s > 0) for s in short]
        room: Room = widened(search.room, extra)
        if not search.mended(task, room, y):
            return None
    return None


def _merged(problem: RouteProblem, corners: Array) -> Centreline | None:
    """The tube of one bend that two corners with nothing between them stand for."""
    turned = turns(corners)
    reach = problem.clr * np.tan(np.radians(turned.angles) / 2)
    axis = unit(cross(corners[1] - corners[0], corners[2] - corners[1]))
    along = unit(corners[1] - corners[0])
    legs = (float(turned.lengths[0] - reach[0]), float(turned.lengths[2] - reach[1]))
    total = float(turned.angles.sum())
    if total <= WIDEST - 1.0 or min(legs) < 0:
        return None
    line = _bend(problem, along, cross(axis, along), legs, total)
    missed = float(norm(walk(line).nodes[-1] - np.array(problem.end.at)))
    return line if missed <= BESIDE else None
