"""A job's keep-outs as solids to keep clear of."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

import soapstone.bench.solids as written
from soapstone.errors import InputError
from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.mesh_files import read_mesh
from soapstone.geometry.moves import mirror as mirror_line
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
    turn_matrix,
)
from soapstone.geometry.vectors import Array, Vec3, unit
from soapstone.job.keepout import KeepOut as WrittenKeepOut
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.textfiles import one_line, refuse_file


def keepouts_for(
    job: Job, tube: Tube, rods: Mapping[str, tuple[Centreline, float]]
) -> tuple[KeepOut, ...]:
    """Give what one tube of a job must keep clear of, in the job's order.

    A keep-out without a gap of its own has the tube's. `rods` holds centreline and outside
    diameter in mm of the job's tubes that have a shape, by name: a keep-out that is a tube is left
    out while that tube has none, and is none to itself.

    Raises
    ------
    InputError
        A mesh file cannot be read; one line names the job's key and it.
    """
    return tuple(
        KeepOut(
            name=keepout.name,
            solid=solid,
            gap=tube.gap if keepout.gap is None else keepout.gap,
            hinges=hinges_of(keepout),
        )
        for keepout in job.keepouts
        if (solid := _solid(keepout, tube.name, rods, job.where)) is not None
    )


def hinges_of(keepout: WrittenKeepOut) -> tuple[Hinge, ...]:
    """Give the hinges a keep-out moves on, first to last."""
    return tuple(Hinge(one.through, one.along, one.low, one.high) for one in keepout.hinges)


def _solid(
    keepout: WrittenKeepOut, of: str, rods: Mapping[str, tuple[Centreline, float]], where: str
) -> Solid | None:
    if keepout.tube is None:
        try:
            return solid_of(keepout.solid)
        except InputError as error:
            key = f'keepout "{keepout.name}".mesh.file'
            raise InputError(one_line(f"{where}: {key}: {error}")) from None
    if keepout.tube == of or keepout.tube not in rods:
        return None
    line, od = rods[keepout.tube]
    return Rod(line, od)


def solid_of(solid: written.Solid) -> Solid:
    """Give the solid that a file describes."""
    match solid:
        case written.Box():
            return Box(solid.at, solid.size, solid.turn)
        case written.Cylinder():
            return Cylinder(solid.start, solid.end, solid.diameter)
        case written.Ball():
            return Ball(solid.at, solid.diameter)
        case written.Halfspace():
            return HalfSpace(solid.at, solid.normal)
        case written.Mesh():
            try:
                changed = solid.file.stat().st_mtime_ns
            except OSError:
                raise refuse_file(solid.file, "the scan is not there any more") from None
            return _mesh(solid.file, solid.scale, solid.at, solid.turn, changed)


@lru_cache(maxsize=16)
def _mesh(file: Path, scale: float, at: Vec3, turn: Vec3, changed: int) -> Mesh:  # noqa: ARG001
    """Read a mesh once for all tubes that keep clear of it, and anew when its file changes."""
    vertices, faces = read_mesh(file, scale)
    return Mesh(vertices, faces, at, turn)


def mirrored(keepout: KeepOut, at: Vec3, normal: Vec3) -> KeepOut:
    """Give the mirror image, in the plane through `at` square to `normal`, of a keep-out.

    A tube clears the image just as its own mirror image clears the keep-out.
    """
    mirror = _Mirror(np.array(at, dtype=float), unit(np.array(normal, dtype=float)))
    # a mirror turns right-handed turns into left-handed ones
    hinges = tuple(
        Hinge(mirror.point(one.through), mirror.direction(one.along), -one.stop, -one.start)
        for one in keepout.hinges
    )
    return KeepOut(keepout.name, _mirrored_solid(keepout.solid, mirror), keepout.gap, hinges)


@dataclass(frozen=True, slots=True)
class _Mirror:
    at: Array
    normal: Array

    @property
    def matrix(self) -> Array:
        return np.eye(3) - 2 * np.outer(self.normal, self.normal)

    def direction(self, v: Vec3) -> Vec3:
        return vec(self.matrix @ np.array(v))

    def point(self, v: Vec3) -> Vec3:
        return vec(self.at + self.matrix @ (np.array(v) - self.at))


def _mirrored_solid(solid: Solid, mirror: _Mirror) -> Solid:
    match solid:
        case Box():
            turned = mirror.matrix @ turn_matrix(solid.turn) @ np.diag([1.0, 1.0, -1.0])
            return Box(mirror.point(solid.at), solid.size, turn_of(turned))
        case Cylinder():
            return Cylinder(mirror.point(solid.start), mirror.point(solid.end), solid.diameter)
        case Ball():
            return Ball(mirror.point(solid.at), solid.diameter)
        case HalfSpace():
            return HalfSpace(mirror.point(solid.at), mirror.direction(solid.normal))
        case Mesh():
            placed = solid.vertices @ turn_matrix(solid.turn).T + np.array(solid.at)
            image = mirror.at + (placed - mirror.at) @ mirror.matrix
            return Mesh(image, solid.faces[:, ::-1].copy())
        case Rod():
            return Rod(mirror_line(solid.line, vec(mirror.at), vec(mirror.normal)), solid.diameter)


def turn_of(matrix: Array) -> Vec3:
    """Give the degrees about fixed x, then y, then z that make a rotation matrix (3, 3)."""
    y_rad = np.arcsin(np.clip(-matrix[2, 0], -1, 1))
    if abs(matrix[2, 0]) > 1 - 1e-12:  # x and z turn about one line: all of it is given to z
        x_rad, z_rad = 0.0, np.arctan2(-matrix[0, 1], matrix[1, 1])
    else:
        x_rad = np.arctan2(matrix[2, 1], matrix[2, 2])
        z_rad = np.arctan2(matrix[1, 0], matrix[0, 0])
    return vec(np.degrees([x_rad, y_rad, z_rad]))
