"""Seeds from a growing graph of points that see each other past the solids."""

from dataclasses import dataclass

import numpy as np

from soapstone.fit.route.contact import BOUND, NEED, SWEEP, Ints, Room
from soapstone.fit.route.graph import Sights, push_out, sights, ways
from soapstone.fit.route.polyline import Task
from soapstone.fit.route.problem import RouteProblem
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, unit

NEARLY = 15.0
"""mm that a straight may be short of clearance and still count: the descent mends it."""

MOST_WAYS = 4000


@dataclass
class Graph:
    """Points (row 0 the start, row 1 the end), what each straight is short of, their roles."""

    points: Array
    missing: Array
    roles: Ints


def start_graph(problem: RouteProblem, task: Task, room: Room) -> Graph:
    """Begin with the two ends, and points on their rays where their directions are given."""
    ends = np.array([problem.start.at, problem.end.at], dtype=float)
    graph = Graph(ends, np.full((2, 2), NEARLY), np.zeros(2, dtype=np.int64))
    size = float(norm(ends[1] - ends[0])) + 2 * problem.clr
    for end, sign, role, least in (
        (problem.start, 1.0, 1, problem.min_first),
        (problem.end, -1.0, 2, problem.min_last),
    ):
        if end.along is not None:
            reach = least + problem.clr * 0.2 + size * np.geomspace(0.02, 1.2, 10)
            ray = sign * unit(np.array(end.along, dtype=float))
            grow(graph, task, room, np.array(end.at) + reach[:, None] * ray, role)
    return graph


def grow(graph: Graph, task: Task, room: Room, points: Array, role: int) -> None:
    """Add points with a role, and see what they see."""
    known = len(graph.points)
    graph.points = np.concatenate([graph.points, points])
    total = len(graph.points)
    missing = np.full((total, total), NEARLY)
    missing[:known, :known] = graph.missing
    sights(task, room, graph.points, known, NEARLY, missing)
    graph.missing = missing
    graph.roles = np.concatenate([graph.roles, np.full(len(points), role, dtype=np.int64)])


def any_role(problem: RouteProblem) -> int:
    """Role of a point anywhere: it may be next to an end whose direction is not fixed."""
    return (problem.start.along is None) + 2 * (problem.end.along is None)


def sample_points(
    problem: RouteProblem, task: Task, room: Room, count: int, rng: np.random.Generator
) -> Array:
    """Points (about `count`, 3): near solids, on both sides of gaps between them, and anywhere."""
    ends = np.array([problem.start.at, problem.end.at], dtype=float)
    low, high = ends.min(axis=0), ends.max(axis=0)
    pad = 0.35 * float(norm(ends[1] - ends[0])) + 2 * problem.clr
    anywhere = rng.uniform(low - pad, high + pad, size=(max(count // 4, 4), 3))
    pieces = [anywhere]
    solid = room.solid[room.solid[:, BOUND] < 1e8]
    if len(solid):
        row = solid[rng.integers(len(solid), size=count // 2)]
        aim = unit(rng.normal(size=(len(row), 3)))
        reach = np.minimum(row[:, BOUND], pad) * rng.uniform(0.3, 1.0, len(row)) + row[:, NEED]
        pieces.append(row[:, SWEEP : SWEEP + 3] + aim * reach[:, None])
        pieces.append(_gap_sides(task, room, solid, count // 4, rng))
    points = np.ascontiguousarray(np.concatenate(pieces))
    push_out(task, room, points, 6)
    return np.clip(points, low - 2 * pad, high + 2 * pad)


def _gap_sides(task: Task, room: Room, solid: Array, count: int, rng: np.random.Generator) -> Array:
    """Points on both sides of places between two solids, as a tube would pass there."""
    a, b = solid[rng.integers(len(solid), size=(2, count))]
    towards = unit(b[:, SWEEP : SWEEP + 3] - a[:, SWEEP : SWEEP + 3] + 1e-9)
    middle = np.ascontiguousarray(
        (a[:, SWEEP : SWEEP + 3] + b[:, SWEEP : SWEEP + 3]) / 2
        + 0.2 * a[:, BOUND, None] * rng.normal(size=(count, 3))
    )
    push_out(task, room, middle, 6)
    side = any_perpendicular(towards)
    turn = rng.uniform(0, 2 * np.pi, size=(count, 1))
    through = np.cos(turn) * side + np.sin(turn) * cross(towards, side)
    reach = rng.uniform(60, 350, size=(2, count, 1))
    return np.concatenate([middle + reach[0] * through, middle - reach[1] * through])


def ways_over(
    graph: Graph, task: Task, bends: int, spread: float, rng: np.random.Generator
) -> dict[int, Array]:
    """Corner polylines (w, k, 3) over the graph by number of corners k, cheapest first.

    `spread`: how much lengths are strayed, so that other ways come up.
    """
    m = len(graph.points)
    steps = graph.points[None] - graph.points[:, None]
    size = norm(steps)
    noise = 1 + spread * rng.random((m, m))
    straights = Sights(graph.missing, size, unit(steps), noise, graph.roles)
    found = np.full((MOST_WAYS, bends), -1, dtype=np.int64)
    costs = np.zeros(MOST_WAYS)
    count = ways(task, straights, bends, NEARLY, found, costs)
    corners = (found[:count] >= 0).sum(axis=1)
    result = {}
    for k in range(2, bends + 1):
        rows = np.flatnonzero(corners == k)
        rows = rows[np.argsort(costs[rows], kind="stable")]
        if len(rows):
            result[k] = graph.points[found[rows, :k]]
    return result
