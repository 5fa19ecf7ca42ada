"""Read meshes from files: STL, OBJ, PLY and GLB.

Coordinates are taken as they stand in the file, times the scale: a GLB with y up is turned by 90
degrees about x to stand upright, as any other mesh may be. Nothing but the file itself is read.
"""

from pathlib import Path

import numpy as np

from soapstone.errors import InputError
from soapstone.geometry.mesh_glb import read_glb
from soapstone.geometry.mesh_ply import read_ply
from soapstone.geometry.mesh_text import MeshError, Surface, read_obj, read_stl
from soapstone.geometry.solids import LEAST_SIZE, Faces
from soapstone.geometry.vectors import Array

LARGEST = 500_000_000
"""Bytes of a file; ten million triangles of binary STL."""

FURTHEST = 1e9
"""mm: a coordinate beyond is a mistake, and its square might be no number."""

READERS = {".stl": read_stl, ".obj": read_obj, ".ply": read_ply, ".glb": read_glb}


def read_mesh(path: Path, scale: float = 1.0) -> tuple[Array, Faces]:
    """Read a mesh file.

    Parameters
    ----------
    scale
        Millimetres in one of the file's units.

    Returns
    -------
    tuple
        Vertices (n, 3) in mm, and faces (m, 3): indices of each triangle's corners. Polygons are
        cut into triangles from their first corner.

    Raises
    ------
    InputError
        The file cannot be read, or is not what its ending says; one line names it.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise _refused(path, f"expected a mesh file ({', '.join(READERS)})")
    data = _content(path)
    try:
        if data[:2] == b"PK" or data[:2] == b"\x1f\x8b":
            raise MeshError(f"expected {path.suffix[1:].upper()}, found a packed archive")
        with np.errstate(all="ignore"):  # numbers out of all bounds are told of below
            vertices, faces = reader(data)
            return _checked(vertices * scale, faces)
    except MeshError as error:
        raise _refused(path, str(error)) from None


def _content(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST:
            raise _refused(path, f"expected at most {LARGEST // 1_000_000} MB, the file is larger")
        return path.read_bytes()
    except FileNotFoundError:
        raise _refused(path, "there is no such file") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or "not a file name"
        raise _refused(path, f"the file cannot be read ({reason.lower()})") from None


def _checked(vertices: Array, faces: Faces) -> Surface:
    if not len(faces):
        raise MeshError("expected a mesh with triangles, it has none")
    bad = np.flatnonzero(~(np.abs(vertices) < FURTHEST).all(axis=1))
    if len(bad):
        raise MeshError(f"vertex {bad[0] + 1}: expected three numbers, none of them infinite")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise MeshError(f"expected faces of its {len(vertices)} vertices, one names another")
    if not np.ptp(vertices[faces], axis=1).max() > LEAST_SIZE:
        raise MeshError("expected a mesh with an extent, its triangles are all points")
    return vertices, faces


def _refused(path: Path, what: str) -> InputError:
    line = "".join(c if c.isprintable() else " " for c in f"{path}: {what}")
    return InputError(line)
