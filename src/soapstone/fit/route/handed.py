"""Left and right hands: a problem mirrored is given the mirror image of the tube.

The search draws random numbers and breaks ties, so two problems that are mirror images would be
given tubes that are not. So every problem is first brought to one hand, axis by axis, and the tube
found is brought back. Changing the sign of a coordinate is exact in floating point.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.fit.route.problem import End, RouteProblem, Via
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.moves import mirror
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, Solid
from soapstone.geometry.vectors import Array, Vec3

Signs = tuple[float, float, float]

LEANS = 1e-6
"""mm: a problem that leans to neither side by more is its own mirror image, and stays as it is."""


def hand(problem: RouteProblem) -> Signs:
    """Sign of each axis (1 or -1) that brings a problem, or its mirror image, to the same hand."""
    middle = (np.array(problem.start.at) + np.array(problem.end.at)) / 2
    total = np.zeros(3)
    for weight, point in enumerate(_marks(problem)):
        total += (1 + 0.37 * weight) * (point - middle)
    for weight, end in enumerate((problem.start, problem.end)):
        if end.along is not None:
            total += (500 + 187 * weight) * np.array(end.along)
    x, y, z = (-1.0 if value < -LEANS else 1.0 for value in total)
    return x, y, z


def _marks(problem: RouteProblem) -> Iterator[Array]:
    """Points that mark where everything is."""
    yield np.array(problem.start.at)
    for via in problem.through:
        yield np.array(via.at)
    for keepout in problem.keepouts:
        yield _mark(keepout.solid)
        for hinge in keepout.hinges:
            yield np.array(hinge.through)


def _mark(solid: Solid) -> Array:
    points: Array
    if isinstance(solid, Cylinder):
        points = np.array([solid.start, solid.end], dtype=float)
    elif isinstance(solid, Mesh):
        points = solid.triangles().reshape(-1, 3)
    elif isinstance(solid, Rod):
        points = walk(solid.line).nodes
    elif isinstance(solid, HalfSpace):
        points = np.array([solid.at], dtype=float) + 100 * np.array(solid.normal, dtype=float)
    else:
        points = np.array([solid.at], dtype=float)
    middle: Array = np.mean(points, axis=0)
    return middle


def flip_point(point: Vec3, signs: Signs) -> Vec3:
    """Change the signs of coordinates."""
    return (point[0] * signs[0], point[1] * signs[1], point[2] * signs[2])


def flip(problem: RouteProblem, signs: Signs) -> RouteProblem:
    """Mirror a problem in the coordinate planes whose axis has sign -1; twice gives it back."""
    if signs == (1.0, 1.0, 1.0):
        return problem
    return replace(
        problem,
        start=_flip_end(problem.start, signs),
        end=_flip_end(problem.end, signs),
        through=tuple(Via(flip_point(via.at, signs), via.within) for via in problem.through),
        keepouts=tuple(_flip_keepout(keepout, signs) for keepout in problem.keepouts),
    )


def _flip_end(end: End, signs: Signs) -> End:
    along = None if end.along is None else flip_point(end.along, signs)
    return replace(end, at=flip_point(end.at, signs), along=along)


def _flip_keepout(keepout: KeepOut, signs: Signs) -> KeepOut:
    turned = _axial(signs)
    hinges = tuple(
        Hinge(
            flip_point(hinge.through, signs),
            flip_point(hinge.along, turned),
            hinge.start,
            hinge.stop,
        )
        for hinge in keepout.hinges
    )
    return replace(keepout, solid=_flip_solid(keepout.solid, signs), hinges=hinges)


def _axial(signs: Signs) -> Signs:
    """Signs by which an axis of rotation changes: mirroring turns it the other way as well."""
    hand_of = signs[0] * signs[1] * signs[2]
    return (hand_of * signs[0], hand_of * signs[1], hand_of * signs[2])


def _flip_solid(solid: Solid, signs: Signs) -> Solid:
    if isinstance(solid, Box):
        turn = flip_point(solid.turn, _axial(signs))
        return replace(solid, at=flip_point(solid.at, signs), turn=turn)
    if isinstance(solid, Cylinder):
        start, end = flip_point(solid.start, signs), flip_point(solid.end, signs)
        return replace(solid, start=start, end=end)
    if isinstance(solid, Ball):
        return replace(solid, at=flip_point(solid.at, signs))
    if isinstance(solid, HalfSpace):
        return HalfSpace(flip_point(solid.at, signs), flip_point(solid.normal, signs))
    if isinstance(solid, Mesh):
        return Mesh(
            solid.vertices * np.array(signs),
            solid.faces,
            flip_point(solid.at, signs),
            flip_point(solid.turn, _axial(signs)),
        )
    return replace(solid, line=flip_line(solid.line, signs))


def flip_line(line: Centreline, signs: Signs) -> Centreline:
    """Mirror a centreline in the coordinate planes whose axis has sign -1."""
    for axis in np.flatnonzero(np.array(signs) < 0):
        normal = tuple(float(i == axis) for i in range(3))
        line = mirror(line, (0.0, 0.0, 0.0), (normal[0], normal[1], normal[2]))
    return line
