"""Why no route was found: what stands in the way, and by how much the nearest miss fails."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from soapstone.findings import Say, say_mm
from soapstone.fit.clearance import piece_clearance
from soapstone.fit.route.certify import CERTAIN, line_of
from soapstone.fit.route.exact import rays_meet
from soapstone.fit.route.polyline import FIXED
from soapstone.fit.route.problem import End, RouteProblem
from soapstone.fit.route.search import Search
from soapstone.fit.route.unknowns import mode
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import tangent_length, turns
from soapstone.geometry.distance import line_pieces
from soapstone.geometry.vectors import Array, angle_between, any_perpendicular, norm, unit

SHOWN = 0.05
"""mm and degrees: what fails by less is not named."""


def reasons(search: Search, say: Say = say_mm) -> tuple[str, ...]:
    """Say why nothing was found: what no route can mend, then the nearest miss."""
    problem = search.problem
    found = [*_end_reasons(problem, say), *_ray_reasons(problem, say)]
    if search.least_cost:
        bends, (_, y) = min(search.least_cost.items(), key=lambda item: item[1][0])
        corners = search.corners(search.task(bends)[0], y)
        broken = list(_broken(problem, corners, say))
        if broken:
            count = "1 bend" if bends == 1 else f"{bends} bends"
            found.append(f"the nearest miss, with {count}: " + "; ".join(broken))
    elif problem.max_bends >= 1:
        meeting = rays_meet(problem)
        if meeting is not None and meeting[1] <= SHOWN:
            corners = np.array([problem.start.at, meeting[0], problem.end.at], dtype=float)
            found += [f"with 1 bend: {fault}" for fault in _broken(problem, corners, say)]
    return tuple(found)


def _end_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    """Keep-outs that an end, or the straight it must have, is too near to."""
    for name, end, least, sign in (
        ("A", problem.start, problem.min_first, 1.0),
        ("B", problem.end, problem.min_last, -1.0),
    ):
        fixed = mode(end) == FIXED
        stub = _stub(end, least if fixed else 0.0, sign)
        for keepout, short in _too_near(problem, stub):
            place = f"the {name} end"
            if fixed and least > 0 and not _blocks_point(problem, end, keepout):
                place = f"the straight of {say(least)} that the {name} end needs"
            yield f'blocked by "{keepout}": {place} is {say(short)} too near to it'


def _blocks_point(problem: RouteProblem, end: End, keepout: str) -> bool:
    return any(name == keepout for name, _ in _too_near(problem, _stub(end, 0.0, 1.0)))


def _stub(end: End, least: float, sign: float) -> Centreline:
    along = unit(np.array(end.along if end.along is not None else (0.0, 0.0, 1.0), dtype=float))
    along = sign * along
    return Centreline(end.at, vec(along), vec(any_perpendicular(along)), (max(least, 1e-3),))


def _too_near(problem: RouteProblem, line: Centreline) -> Iterator[tuple[str, float]]:
    """Names of keep-outs that a line is too near to, and by how many mm."""
    pieces = line_pieces(line)
    for keepout in problem.keepouts:
        clear = piece_clearance(pieces, problem.od, keepout, CERTAIN, keepout.gap)
        if clear.gap < keepout.gap - SHOWN:
            yield keepout.name, keepout.gap - clear.gap


def _ray_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    if problem.max_bends > 1 or not (mode(problem.start) == mode(problem.end) == FIXED):
        return
    meeting = rays_meet(problem)
    if meeting is None:
        yield "the directions of the two ends are parallel: no single bend joins them"
    elif meeting[1] > SHOWN:
        missed = say(meeting[1])
        yield f"the rays of the two ends miss each other by {missed}: one bend cannot join them"


def _broken(problem: RouteProblem, corners: Array, say: Say) -> Iterator[str]:
    """What a polyline breaks: straights, angles, ends, vias and clearances."""
    turned = turns(corners)
    reach = tangent_length(np.full_like(turned.angles, problem.clr), turned.angles)
    legs = turned.lengths - np.append(reach, 0.0) - np.insert(reach, 0, 0.0)
    last = len(legs) - 1
    for i, leg in enumerate(legs):
        least = problem.min_straight
        least = problem.min_first if i == 0 else problem.min_last if i == last else least
        if leg < least - SHOWN:
            yield f"leg {i + 1} is {say(least - float(leg))} short"
    for i, angle in enumerate(turned.angles):
        if angle > problem.angles[1] + SHOWN:
            yield f"bend {i + 1} is {angle:.1f}°, at most {problem.angles[1]:g}° can be bent"
        elif angle < problem.angles[0] - SHOWN:
            yield f"bend {i + 1} is {angle:.1f}°, less than {problem.angles[0]:g}°"
    yield from _off_direction(problem, corners)
    line = line_of(corners, problem.clr)
    lines = [line] if line is not None else [_leg_line(a, b) for a, b in pairwise(corners)]
    worst: dict[str, float] = {}
    for one in lines:
        for name, short in _too_near(problem, one):
            worst[name] = max(worst.get(name, 0.0), short)
    for name, short in sorted(worst.items(), key=lambda item: -item[1]):
        yield f'blocked by "{name}": {say(short)} too near'
    yield from _off_vias(problem, corners, say)


def _leg_line(a: Array, b: Array) -> Centreline:
    along = unit(b - a)
    return Centreline(vec(a), vec(along), vec(any_perpendicular(along)), (float(norm(b - a)),))


def _off_direction(problem: RouteProblem, corners: Array) -> Iterator[str]:
    steps = ((problem.start, corners[1] - corners[0]), (problem.end, corners[-1] - corners[-2]))
    for name, (end, step) in zip("AB", steps, strict=True):
        if end.along is not None:
            lean = float(angle_between(step, np.array(end.along, dtype=float))) - end.within
            if lean > SHOWN:
                yield f"the {name} end leans {lean:.1f}° too much"


def _off_vias(problem: RouteProblem, corners: Array, say: Say) -> Iterator[str]:
    for i, via in enumerate(problem.through):
        point = np.array(via.at, dtype=float)
        a, step = corners[:-1], np.diff(corners, axis=0)
        share = np.einsum("ij,ij->i", point - a, step) / np.maximum(norm(step) ** 2, 1e-12)
        near = a + np.clip(share, 0, 1)[:, None] * step
        off = float(norm(near - point).min()) - via.within
        if off > SHOWN:
            yield f"it passes point {i + 1} of those to go through {say(off)} too far off"
