"""Random corner polylines to descend from."""

import numpy as np

from soapstone.fit.route.problem import RouteProblem
from soapstone.fit.route.unknowns import Unknowns
from soapstone.geometry.vectors import Array, norm


def random_corners(
    problem: RouteProblem, bends: int, count: int, rng: np.random.Generator
) -> Array:
    """Inner corners (count, bends, 3): points on the way from end to end, strayed at random.

    Half of them wander as a walk does, so that detours come up as well as small detours.
    """
    first, last = np.array(problem.start.at), np.array(problem.end.at)
    size = float(norm(last - first)) + 2 * problem.clr
    a = _near_end(problem, True, size, count, rng)
    b = _near_end(problem, False, size, count, rng)
    share = np.sort(rng.random((count, bends)), axis=1)[..., None]
    middle = a[:, None] + share * (b - a)[:, None]
    stray = size * rng.choice([0.1, 0.25, 0.5], size=(count, 1, 1))
    corners: Array = middle + stray * rng.normal(size=(count, bends, 3))
    corners[:, 0] = a
    if bends > 1:
        corners[:, -1] = b
    if problem.through:
        _through(problem, corners, rng)
    return corners


def _near_end(
    problem: RouteProblem, first: bool, size: float, count: int, rng: np.random.Generator
) -> Array:
    """Corners (count, 3) on the ray of an end, or anywhere near it when its direction is free."""
    end = problem.start if first else problem.end
    least = (problem.min_first if first else problem.min_last) + 0.3 * problem.clr
    reach = least + size * 0.5 * rng.random((count, 1)) ** 2
    if end.along is None:
        aim = rng.normal(size=(count, 3))
    else:
        aim = np.array(end.along, dtype=float) * (1.0 if first else -1.0)
        aim = aim / norm(aim) + np.tan(np.radians(min(end.within, 60.0)) / 2) * rng.normal(
            size=(count, 3)
        )
    result: Array = np.array(end.at) + reach * aim / norm(aim)[:, None]
    return result


def _through(problem: RouteProblem, corners: Array, rng: np.random.Generator) -> None:
    """Put some corners at via points, in the order they lie from start to end."""
    first, last = np.array(problem.start.at), np.array(problem.end.at)
    points = np.array([via.at for via in problem.through])
    points = points[np.argsort((points - first) @ (last - first))]
    inner = corners.shape[1] - 2
    if inner < 1:
        return
    for row in corners:
        chosen = points[: min(inner, len(points))]
        if len(points) > inner:
            chosen = points[np.sort(rng.choice(len(points), inner, replace=False))]
        spots = 1 + np.sort(rng.choice(inner, len(chosen), replace=False))
        row[spots] = chosen + 0.1 * norm(last - first) * rng.normal(size=(len(chosen), 3))


def jittered(unknown: Unknowns, corners: Array, count: int, rng: np.random.Generator) -> Array:
    """Copies (count, n) of one polyline's unknowns, strayed by up to a third of its legs."""
    size = 0.15 * float(np.mean(norm(np.diff(corners, axis=0)))) if len(corners) > 1 else 50.0
    y = unknown.nearest(corners)
    strays = size * rng.random((count, 1)) * rng.normal(size=(count, len(y)))
    strays[0] = 0.0
    result: Array = y + strays
    return result


def without_a_corner(corners: Array) -> list[Array]:
    """Polylines of one corner less: each corner left out in turn, each two neighbours made one."""
    fewer = [np.delete(corners, i, axis=0) for i in range(len(corners))]
    for i in range(len(corners) - 1):
        merged = np.delete(corners, i, axis=0)
        merged[i] = (corners[i] + corners[i + 1]) / 2
        fewer.append(merged)
    return fewer
