"""From corners to a certified route."""

from math import inf

import numpy as np

from soapstone.fit.clearance import piece_clearance
from soapstone.fit.route.problem import Route, RouteProblem
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import corners as corners_of
from soapstone.geometry.chain import tangent_length, turns
from soapstone.geometry.distance import line_pieces
from soapstone.geometry.measure import length
from soapstone.geometry.vectors import Array

CERTAIN = 0.01
"""mm by which the certificate may be below the true gap."""


def line_of(corners: Array, radius: float) -> Centreline | None:
    """Centreline through corners (k + 2, 3); None when its straights do not fit."""
    turned = turns(corners)
    reach = tangent_length(np.full_like(turned.angles, radius), turned.angles)
    legs = turned.lengths.copy()
    legs[:-1] -= reach
    legs[1:] -= reach
    if legs.min() < -1e-6 or not np.isfinite(legs).all():
        return None
    return Centreline(
        start=vec(corners[0]),
        along=vec(turned.along),
        up=vec(turned.up),
        legs=tuple(np.maximum(legs, 0.0).tolist()),
        angles=tuple(turned.angles.tolist()),
        rotations=tuple(turned.rotations.tolist()),
        radii=(float(radius),) * len(turned.angles),
    )


def make_ready(problem: RouteProblem) -> None:
    """Make the keep-outs' trees, half a second for 100,000 triangles, before the clock starts."""
    for keepout in problem.keepouts:
        _ = keepout.packed


def shortages(problem: RouteProblem, line: Centreline) -> list[float]:
    """How much each keep-out's certified gap is less than it needs, in mm; 0 where it is kept."""
    pieces = line_pieces(line)
    found = []
    for keepout in problem.keepouts:
        clear = piece_clearance(pieces, problem.od, keepout, CERTAIN, keepout.gap)
        found.append(max(keepout.gap - clear.gap, 0.0))
    return found


def certified(problem: RouteProblem, corners: Array, line: Centreline) -> Route:
    """Give the route with its certified clearance."""
    pieces = line_pieces(line)
    least, name = inf, ""
    for keepout in problem.keepouts:
        ceiling = least / keepout.counts
        clear = piece_clearance(pieces, problem.od, keepout, CERTAIN, ceiling)
        if clear.gap < ceiling:
            least, name = clear.gap * keepout.counts, keepout.name
    return Route(tuple(vec(point) for point in corners), line, length(line), least, name)


def route_along(problem: RouteProblem, line: Centreline) -> Route | None:
    """Give the certified route along a centreline; None if it clashes."""
    if any(shortages(problem, line)):
        return None
    corners = np.array(corners_of(line)) + 0.0  # no -0.0
    corners[0], corners[-1] = problem.start.at, problem.end.at
    return certified(problem, corners, line)


def route_of(problem: RouteProblem, corners: Array) -> Route | None:
    """Give the certified route through corners, ends included; None if it clashes."""
    line = line_of(corners, problem.clr)
    if line is None or any(shortages(problem, line)):
        return None
    return certified(problem, corners, line)
