"""A symmetric problem is given a symmetric tube where that is as good as any."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from soapstone.fit.motion import combinations, poses
from soapstone.fit.route.problem import RouteProblem
from soapstone.fit.route.search import Search
from soapstone.fit.route.starts import jittered, random_corners
from soapstone.fit.route.unknowns import Unknowns, build_task
from soapstone.geometry.distance import field_of
from soapstone.geometry.vectors import Array, any_perpendicular, cross, dot, norm, unit

AS_GOOD = 1.001
"""The symmetric tube is taken when it is at most this many times as long."""

SAME = 1e-4
"""mm by which distances may differ between a place and its mirror image."""

PROBES = 160

PROBE_STEP = 5.0
"""Degrees between the poses in which what swings is looked at."""


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane of symmetry; `swaps` when it carries the A end to the B end."""

    at: Array
    normal: Array
    swaps: bool

    def mirrored(self, points: Array) -> Array:
        """Mirror points (..., 3)."""
        return points - 2 * dot(points - self.at, self.normal)[..., None] * self.normal


def planes(problem: RouteProblem) -> Iterator[Plane]:
    """Planes that carry the whole problem onto itself."""
    for plane in _candidates(problem):
        if _ends_fit(problem, plane) and _vias_fit(problem, plane) and _solids_fit(problem, plane):
            yield plane


def _candidates(problem: RouteProblem) -> Iterator[Plane]:
    start, end = np.array(problem.start.at, dtype=float), np.array(problem.end.at, dtype=float)
    chord = end - start
    if norm(chord) < 1e-6:
        return
    yield Plane((start + end) / 2, unit(chord), True)
    for one in (problem.start, problem.end):
        if one.along is not None:
            normal = cross(chord, np.array(one.along, dtype=float))
            if norm(normal) > 1e-6 * norm(chord):
                yield Plane(start, unit(normal), False)
                return
    side = any_perpendicular(chord)
    yield Plane(start, side, False)
    yield Plane(start, unit(cross(chord, side)), False)


def _ends_fit(problem: RouteProblem, plane: Plane) -> bool:
    a, b = problem.start, problem.end
    if plane.swaps and (a.along is None) != (b.along is None):
        return False
    if plane.swaps and (a.within != b.within or problem.min_first != problem.min_last):
        return False
    for one, other in ((a, b), (b, a)) if plane.swaps else ((a, a), (b, b)):
        if one.along is not None and other.along is not None:
            along = np.array(one.along, dtype=float)
            image = along - 2 * dot(along, plane.normal) * plane.normal
            image = -image if plane.swaps else image
            if norm(unit(image) - unit(np.array(other.along, dtype=float))) > 1e-6:
                return False
    return True


def _vias_fit(problem: RouteProblem, plane: Plane) -> bool:
    points = np.array([via.at for via in problem.through], dtype=float).reshape(-1, 3)
    if not len(points):
        return True
    apart = norm(plane.mirrored(points)[:, None] - points[None])
    within = np.array([via.within for via in problem.through])
    partner = apart.argmin(axis=1)
    return bool(apart.min(axis=1).max() < SAME and np.all(within[partner] == within))


def _solids_fit(problem: RouteProblem, plane: Plane) -> bool:
    """Compare distances, less the gaps, at places and at their mirror images."""
    from soapstone.geometry.distance_field import field_distances

    if not problem.keepouts:
        return True
    ends = np.array([problem.start.at, problem.end.at], dtype=float)
    size = float(norm(ends[1] - ends[0])) + 4 * problem.clr
    rng = np.random.default_rng(7)
    probes = ends.mean(axis=0) + size * rng.uniform(-1, 1, size=(PROBES, 3))
    hinges = [keepout.hinges for keepout in problem.keepouts]
    angles = [combinations(h, PROBE_STEP) if h else np.zeros((1, 0)) for h in hinges]
    placed = [poses(h, at) for h, at in zip(hinges, angles, strict=True)]
    room = field_of([keepout.packed for keepout in problem.keepouts], placed, angles)
    gaps = np.array([keepout.gap for keepout in problem.keepouts])
    here = field_distances(room, probes, np.inf)[0] - gaps
    there = field_distances(room, plane.mirrored(probes), np.inf)[0] - gaps
    return bool(np.abs(here.min(axis=1) - there.min(axis=1)).max() < SAME)


def symmetric_unknowns(unknown: Unknowns, plane: Plane) -> Unknowns | None:
    """Unknowns of the polylines that are their own mirror image; None when there are none."""
    k = unknown.bends
    flip = np.eye(3) - 2 * np.outer(plane.normal, plane.normal)
    shift = 2 * dot(plane.at, plane.normal) * plane.normal
    order = np.arange(k)[::-1] if plane.swaps else np.arange(k)
    whole = np.zeros((3 * k, 3 * k))
    for i, j in enumerate(order):
        whole[3 * i : 3 * i + 3, 3 * j : 3 * j + 3] = flip
    offset = np.tile(shift, k)
    # base + y A is its own image when y (A W' - A) = base - W base - offset
    change = (unknown.spread @ whole.T - unknown.spread).T
    wanted = unknown.base - whole @ unknown.base - offset
    y, *_ = np.linalg.lstsq(change, wanted, rcond=None)
    if np.abs(change @ y - wanted).max() > 1e-6:
        return None
    _, sizes, rows = np.linalg.svd(change)
    rank = int(np.sum(sizes > 1e-9))
    free = rows[rank:]
    if not len(free):
        return None
    return Unknowns(unknown.base + y @ unknown.spread, np.ascontiguousarray(free @ unknown.spread))


def make_symmetric(search: Search) -> None:
    """Take a symmetric tube in place of the best one, if there is one as good."""
    best = search.best
    if best is None or best.bends < 2:
        return
    for plane in planes(search.problem):
        unknown, _ = search.task(best.bends)
        halved = symmetric_unknowns(unknown, plane)
        if halved is None:
            continue
        task = build_task(search.problem, halved)
        inner = np.array(best.corners[1:-1])
        starts = [jittered(halved, inner, 8, search.rng)]
        for _, y in search.pool.get(best.bends, [])[:6]:
            starts.append(jittered(halved, unknown.corners(y), 2, search.rng))
        wild = random_corners(search.problem, best.bends, 32, search.rng)
        starts.append(halved.nearest(wild))
        for y in search.solve(best.bends, np.concatenate(starts), task):
            settled = search.settle(task, y)
            if settled is not None and search.best is not None:
                length = AS_GOOD if not search.symmetric else 1.0
                if settled[1] <= length * search.best.length + 1e-6:
                    whole = unknown.nearest(halved.corners(settled[0]))
                    search.symmetric |= search.replace_best(best.bends, whole)
