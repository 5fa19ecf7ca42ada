"""STL, written as text or in binary, and OBJ.

The readers take a file's bytes and give vertices (n, 3) and faces (m, 3), not yet checked; their
MeshErrors say in one line what was expected.
"""

import re
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.solids import Faces
from soapstone.geometry.vectors import Array

Surface: TypeAlias = tuple[Array, Faces]

STL_HEADER, STL_TRIANGLE = 84, 50
STL_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

STL_VERTEX = re.compile(rb"^[ \t]*vertex[ \t]+([^\r\n]*)", re.MULTILINE)
OBJ_VERTEX = re.compile(rb"^[ \t]*v[ \t]+([^\r\n#]*)", re.MULTILINE)
OBJ_FACE = re.compile(rb"^[ \t]*f[ \t]+([^\r\n#]*)", re.MULTILINE)
OBJ_OTHER_INDICES = re.compile(rb"/[^\s]*")


class MeshError(ValueError):
    """A file holds no mesh of its kind: the text says what was expected."""


def numbers(text: bytes, what: str) -> Array:
    """Read numbers separated by blanks; `what` names them in the error."""
    try:
        return np.fromstring(text, dtype=np.float64, sep=" ")
    except (ValueError, DeprecationWarning):
        raise MeshError(f"expected numbers in {what}, found something else") from None


def whole_numbers(values: Array, what: str) -> npt.NDArray[np.int64]:
    """Give numbers as integers; `what` says in the error what was expected."""
    if not (np.abs(values) < 2**53).all() or (values != np.rint(values)).any():
        raise MeshError(f"expected {what}, found a number that is none")
    return values.astype(np.int64)


def fans(flat: npt.NDArray[np.int64], counts: npt.NDArray[np.int64]) -> Faces:
    """Cut polygons into triangles from their first corners.

    `flat` holds the corners of all polygons, one after another, `counts` how many each has.
    """
    starts = np.concatenate([[0], np.cumsum(counts)])[:-1]
    found = [np.empty((0, 3), np.int64)]
    for count in np.unique(counts[counts >= 3]):
        rows = flat[starts[counts == count][:, None] + np.arange(count)]
        found.extend(rows[:, [0, i, i + 1]] for i in range(1, count - 1))
    return np.concatenate(found)


def read_stl(data: bytes) -> Surface:
    """Read STL. It is binary when its length is what its count of triangles asks for.

    Bytes after the last triangle are passed over where they are too few to be another one, or all
    zero; a longer file may hold more than it counts, and what is not counted might be run into.
    """
    count = int.from_bytes(data[80:STL_HEADER], "little") if len(data) >= STL_HEADER else -1
    expected = STL_HEADER + STL_TRIANGLE * count
    after = data[expected:] if count > 0 and data[:5].lower() != b"solid" else b""
    padded = 0 < len(after) < STL_TRIANGLE or (len(after) > 0 and not any(after))
    if count >= 0 and (len(data) == expected or padded):
        corners = np.frombuffer(data, STL_ROW, count, STL_HEADER)["corners"].astype(np.float64)
    elif data.lstrip()[:5].lower() == b"solid" and b"facet" in data[:10_000].lower():
        corners = _stl_text(data)
    elif count >= 0 and data[:5].lower() != b"solid":
        raise MeshError(
            f"expected binary STL of {count} triangles, {expected} bytes; it has {len(data)}; "
            "export it anew"
        )
    else:
        raise MeshError("expected STL, found something else")
    return corners.reshape(-1, 3), np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3)


def _stl_text(data: bytes) -> Array:
    text = data.lower()
    lines = STL_VERTEX.findall(text)
    values = numbers(b"\n".join(lines), "the vertices")
    facets = len(re.findall(rb"^[ \t]*endfacet", text, re.MULTILINE))
    if len(lines) != 3 * facets or len(values) != 9 * facets:
        raise MeshError("expected three vertices of three numbers in each facet of the STL")
    if not re.search(rb"^[ \t]*endsolid", text[-1000:], re.MULTILINE):
        raise MeshError("expected STL that ends with endsolid; it is cut short")
    return values.reshape(-1, 3, 3)


def read_obj(data: bytes) -> Surface:
    """Read the vertices and faces of OBJ; all else in it is passed over."""
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    vertices = _obj_vertices(OBJ_VERTEX.findall(text))
    polygons = OBJ_OTHER_INDICES.sub(b"", b"\n".join(OBJ_FACE.findall(text))).split(b"\n")
    counts = np.array([len(polygon.split()) for polygon in polygons], dtype=np.int64)
    flat = whole_numbers(numbers(b" ".join(polygons), "the faces"), "numbers of vertices")
    if len(flat) != counts.sum() or (flat == 0).any():
        raise MeshError("expected faces as the numbers of their vertices, from 1")
    if (flat < 0).any():
        # such a number counts back from the last vertex before the face
        known = np.repeat(_vertices_before_faces(text), counts)
        flat = np.where(flat < 0, known + flat, flat - 1)
    else:
        flat -= 1
    return vertices, fans(flat, counts)


def _obj_vertices(lines: list[bytes]) -> Array:
    values = numbers(b"\n".join(lines), "the vertices")
    columns = len(lines[0].split()) if lines else 3
    if columns not in {3, 4, 6, 7, 8} or len(values) != columns * len(lines):
        values = numbers(b"\n".join(b" ".join(line.split()[:3]) for line in lines), "the vertices")
        columns = 3
        if len(values) != 3 * len(lines):
            raise MeshError("expected three numbers for each vertex")
    return values.reshape(-1, columns)[:, :3]


def _vertices_before_faces(text: bytes) -> npt.NDArray[np.int64]:
    at = np.array([match.start() for match in OBJ_VERTEX.finditer(text)], dtype=np.int64)
    faces = np.array([match.start() for match in OBJ_FACE.finditer(text)], dtype=np.int64)
    return np.searchsorted(at, faces).astype(np.int64)
