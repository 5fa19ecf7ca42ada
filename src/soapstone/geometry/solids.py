"""Solids that stand in the way: box, cylinder, ball, half-space, mesh and round rod.

Every solid has a surface with something behind it: a size of zero, or one that is not a number,
is refused with a ValueError whose text says what is expected.
"""

from dataclasses import dataclass, field
from math import isfinite
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Array, Vec3

Faces: TypeAlias = npt.NDArray[np.int64]

NO_TURN: Vec3 = (0.0, 0.0, 0.0)
LEAST_SIZE = 1e-6
"""mm: anything thinner is taken as having no thickness at all."""


@dataclass(frozen=True, slots=True)
class Box:
    """A box: its centre, its edge lengths, and degrees turned about fixed x, then y, then z."""

    at: Vec3
    size: Vec3
    turn: Vec3 = NO_TURN

    def __post_init__(self) -> None:
        """Refuse a box without volume."""
        _finite("a box", self.at, self.turn)
        _thick("each edge of a box", *self.size)


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A round bar with flat ends, from the centre of one end to the centre of the other."""

    start: Vec3
    end: Vec3
    diameter: float

    def __post_init__(self) -> None:
        """Refuse a cylinder without volume."""
        _finite("a cylinder", self.start, self.end)
        _thick("a cylinder's diameter", self.diameter)
        _thick("a cylinder's length", float(np.linalg.norm(np.subtract(self.end, self.start))))


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball: its centre and diameter."""

    at: Vec3
    diameter: float

    def __post_init__(self) -> None:
        """Refuse a ball without volume."""
        _finite("a ball", self.at)
        _thick("a ball's diameter", self.diameter)


@dataclass(frozen=True, slots=True)
class HalfSpace:
    """All that lies on the side of a plane away from its normal: a floor, a wall, a deck."""

    at: Vec3
    normal: Vec3

    def __post_init__(self) -> None:
        """Refuse a normal that points nowhere."""
        _finite("a halfspace", self.at, self.normal)
        if not np.linalg.norm(self.normal) > 0:
            raise ValueError("a halfspace's normal must not be zero")


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles, closed round a solid or open like one side of a scan.

    Attributes
    ----------
    vertices
        (n, 3) in mm.
    faces
        (m, 3) indices into `vertices`.
    at, turn
        The vertices are turned about their origin by degrees about fixed x, then y, then z, and
        then moved by `at`.
    """

    vertices: Array = field(repr=False)
    faces: Faces = field(repr=False)
    at: Vec3 = (0.0, 0.0, 0.0)
    turn: Vec3 = NO_TURN

    def __post_init__(self) -> None:
        """Refuse a mesh without surface, or whose faces name vertices that are not there."""
        _finite("a mesh", self.at, self.turn)
        if self.vertices.ndim != 2 or self.vertices.shape[1] != 3:
            raise ValueError("a mesh's vertices must be rows of x, y, z")
        if self.faces.ndim != 2 or self.faces.shape[1] != 3 or not len(self.faces):
            raise ValueError("a mesh must have at least one triangle")
        if self.faces.min() < 0 or self.faces.max() >= len(self.vertices):
            raise ValueError("a mesh's faces must name vertices that it has")
        if not np.isfinite(self.vertices).all():
            raise ValueError("a mesh's vertices must be numbers")
        if not (np.ptp(self.triangles(), axis=1).max() > LEAST_SIZE):
            raise ValueError("a mesh must have triangles with an extent")

    def triangles(self) -> Array:
        """Corners (m, 3, 3) of the triangles where the mesh stands, in mm."""
        placed = self.vertices @ turn_matrix(self.turn).T + np.array(self.at)
        result: Array = placed[self.faces]
        return result


@dataclass(frozen=True, slots=True)
class Rod:
    """A solid round rod along straights and arcs, its ends rounded: another tube of the job."""

    line: Centreline
    diameter: float

    def __post_init__(self) -> None:
        """Refuse a rod without thickness."""
        _thick("a rod's diameter", self.diameter)


Solid: TypeAlias = Box | Cylinder | Ball | HalfSpace | Mesh | Rod


def turn_matrix(turn: Vec3) -> Array:
    """Matrix (3, 3) that turns by degrees about fixed x, then y, then z."""
    (cx, cy, cz), (sx, sy, sz) = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    about_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    result: Array = about_z @ about_y @ about_x
    return result


def box_mesh(box: Box) -> Mesh:
    """Give a box as a closed mesh of 12 triangles, their normals outward."""
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], dtype=float)
    quads = np.array(
        [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    )
    faces = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]).astype(np.int64)
    return Mesh(signs * np.array(box.size) / 2, faces, box.at, box.turn)


def _finite(what: str, *points: Vec3) -> None:
    for point in points:
        if len(point) != 3 or not all(isfinite(value) for value in point):
            raise ValueError(f"{what} is placed by three numbers each, none of them infinite")


def _thick(what: str, *sizes: float) -> None:
    for size in sizes:
        if not (isfinite(size) and size > LEAST_SIZE):
            raise ValueError(f"{what} must be more than zero")
