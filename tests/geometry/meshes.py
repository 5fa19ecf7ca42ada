"""Meshes to test with, and writers of the four kinds of mesh file."""

import json
import struct
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from soapstone.geometry.solids import Faces, Mesh
from soapstone.geometry.vectors import Array


def lumpy_ball(rings: int, radius: float = 300.0, lumps: float = 0.1) -> tuple[Array, Faces]:
    """A closed ball with bumps, of 4 rings (rings - 1) triangles, their normals outward."""
    tilt = np.linspace(0, np.pi, rings + 1)[1:-1, None]
    around = np.linspace(0, 2 * np.pi, 2 * rings, endpoint=False)[None, :]
    reach = radius * (1 + lumps * np.sin(5 * around) * np.sin(4 * tilt))
    flat, up = np.sin(tilt), np.cos(tilt) + 0 * around
    rim = np.stack([reach * flat * np.cos(around), reach * flat * np.sin(around), reach * up], -1)
    top, bottom = [0, 0, radius], [0, 0, -radius]
    vertices = np.concatenate([rim.reshape(-1, 3), [top, bottom]])
    n, poles = 2 * rings, len(vertices) - np.array([2, 1])
    i, j = np.meshgrid(np.arange(rings - 2), np.arange(n), indexing="ij")
    a, b = (i * n + j).ravel(), (i * n + (j + 1) % n).ravel()
    k = np.arange(n)
    last = (rings - 2) * n
    return vertices, np.concatenate(
        [
            np.stack([a, a + n, b], 1),
            np.stack([b, a + n, b + n], 1),
            np.stack([0 * k + poles[0], k, (k + 1) % n], 1),
            np.stack([0 * k + poles[1], last + (k + 1) % n, last + k], 1),
        ]
    ).astype(np.int64)


def placed(surface: tuple[Array, Faces]) -> Mesh:
    """The surface as a mesh that stands as drawn."""
    return Mesh(*surface)


def stl_binary(vertices: Array, faces: Faces) -> bytes:
    rows = np.zeros(len(faces), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    rows["c"] = vertices[faces]
    return b"made here".ljust(80) + struct.pack("<I", len(faces)) + rows.tobytes()


def stl_text(vertices: Array, faces: Faces) -> bytes:
    facets = (
        "facet normal 0 0 1\n outer loop\n"
        + "".join(f"  vertex {x:.9g} {y:.9g} {z:.9g}\n" for x, y, z in corners)
        + " endloop\nendfacet\n"
        for corners in vertices[faces].tolist()
    )
    return f"solid vertex of nothing\n{''.join(facets)}endsolid\n".encode()


def obj(vertices: Array, faces: Faces) -> bytes:
    points = "".join(f"v {x:.9g} {y:.9g} {z:.9g}\n" for x, y, z in vertices.tolist())
    corners = "".join(f"f {a}/{a}/1 {b}//1 {c}\n" for a, b, c in (faces + 1).tolist())
    return f"# made here\nmtllib none.mtl\n{points}vt 0 0\nvn 0 0 1\n{corners}".encode()


def ply_header(kind: str, vertices: int, faces: int) -> bytes:
    return (
        f"ply\nformat {kind} 1.0\ncomment made here\nelement vertex {vertices}\n"
        "property float x\nproperty float y\nproperty float z\nproperty uchar red\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode()


def ply_text(vertices: Array, faces: Faces) -> bytes:
    points = "".join(f"{x:.9g} {y:.9g} {z:.9g} 200\n" for x, y, z in vertices.tolist())
    corners = "".join(f"3 {a} {b} {c}\n" for a, b, c in faces.tolist())
    return ply_header("ascii", len(vertices), len(faces)) + f"{points}{corners}".encode()


def ply_binary(vertices: Array, faces: Faces, order: str = "<") -> bytes:
    points = np.zeros(len(vertices), [("p", f"{order}f4", 3), ("red", "u1")])
    points["p"] = vertices
    corners = np.zeros(len(faces), [("n", "u1"), ("i", f"{order}i4", 3)])
    corners["n"], corners["i"] = 3, faces
    kind = "binary_little_endian" if order == "<" else "binary_big_endian"
    header = ply_header(kind, len(vertices), len(faces))
    return header + points.tobytes() + corners.tobytes()


def ply_big_endian(vertices: Array, faces: Faces) -> bytes:
    return ply_binary(vertices, faces, ">")


def glb_of(scene: dict[str, object], binary: bytes) -> bytes:
    text = json.dumps(scene).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    parts = struct.pack("<I4s", len(text), b"JSON") + text
    parts += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return b"glTF" + struct.pack("<II", 2, 12 + len(parts)) + parts


def glb_scene(points: int, indices: int) -> dict[str, object]:
    """One mesh of float positions and then unsigned indices, as one node's."""
    return {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": points, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": indices, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": 12 * points},
            {"buffer": 0, "byteOffset": 12 * points, "byteLength": 4 * indices},
        ],
        "buffers": [{"byteLength": 12 * points + 4 * indices}],
    }


def glb_binary(vertices: Array, faces: Faces) -> bytes:
    return vertices.astype("<f4").tobytes() + faces.astype("<u4").tobytes()


def glb(vertices: Array, faces: Faces) -> bytes:
    return glb_of(glb_scene(len(vertices), faces.size), glb_binary(vertices, faces))


Writer = Callable[[Array, Faces], bytes]
WRITERS: dict[str, tuple[str, Writer]] = {
    "binary STL": (".stl", stl_binary),
    "STL as text": (".stl", stl_text),
    "OBJ": (".obj", obj),
    "PLY as text": (".ply", ply_text),
    "binary PLY": (".ply", ply_binary),
    "big-endian PLY": (".ply", ply_big_endian),
    "GLB": (".glb", glb),
}


def corners_of(surface: tuple[Array, Faces]) -> npt.NDArray[np.float64]:
    """Corners (m, 3, 3) of the triangles."""
    vertices, faces = surface
    result: npt.NDArray[np.float64] = vertices[faces]
    return result
