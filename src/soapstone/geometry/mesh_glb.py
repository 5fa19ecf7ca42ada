"""GLB, the binary form of glTF 2.0 (Khronos Group, glTF 2.0 specification, sections 3 and 4)."""

import json
from typing import Any

import numpy as np

from soapstone.geometry.mesh_text import MeshError, Surface
from soapstone.geometry.solids import Faces
from soapstone.geometry.vectors import Array

COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
TRIANGLES, STRIP, FAN = 4, 5, 6
MOST_NODES = 100_000
DEEPEST = 200
MOST_VERTICES = 30_000_000
MOST_CORNERS = 3 * MOST_VERTICES
"""Of all faces together; nodes may place one mesh many times."""

LONGEST_JSON = 64_000_000
"""Bytes; the names and places of a hundred thousand parts take a tenth of it."""

READ_WITHOUT = ("KHR_materials_", "KHR_texture_", "KHR_lights_", "KHR_mesh_quantization")
"""Extensions that leave the shape as it is, or that are read here."""


def read_glb(data: bytes) -> Surface:
    """Read all triangles of the scene, each mesh where its nodes put it; see `mesh_text`."""
    scene, binary = _chunks(data)
    try:
        needed = [str(name) for name in scene.get("extensionsRequired", ())]
        for name in needed:
            if not name.startswith(READ_WITHOUT):
                raise MeshError(f"expected a plain GLB, this one needs {name[:40]!r} to be read")
        return _surface(scene, binary)
    except MeshError:
        raise
    except (LookupError, TypeError, AttributeError, OverflowError, ValueError):
        raise MeshError("expected a GLB whose parts fit together, some do not") from None


def _chunks(data: bytes) -> tuple[dict[str, Any], bytes]:
    """JSON and binary part of the file."""
    if data[:4] != b"glTF" or len(data) < 20:
        raise MeshError("expected GLB, found something else")
    version, length = (int.from_bytes(data[i : i + 4], "little") for i in (4, 8))
    if version != 2:
        raise MeshError(f"expected GLB of version 2, this is version {version}")
    if length > len(data):
        raise MeshError(f"expected GLB of {length} bytes, it is cut short at {len(data)}")
    start, parts = 12, dict[bytes, bytes]()
    while start + 8 <= length:
        size = int.from_bytes(data[start : start + 4], "little")
        if start + 8 + size > length:
            raise MeshError("expected GLB with whole chunks, one is cut short")
        parts.setdefault(data[start + 4 : start + 8], data[start + 8 : start + 8 + size])
        start += 8 + size
    if len(parts.get(b"JSON", b"")) > LONGEST_JSON:
        raise MeshError(f"expected GLB with at most {LONGEST_JSON // 1_000_000} MB of JSON")
    try:
        scene = json.loads(parts.get(b"JSON", b""))
    except (ValueError, RecursionError):
        raise MeshError("expected GLB with a JSON chunk, found none that can be read") from None
    if not isinstance(scene, dict):
        raise MeshError("expected GLB with a JSON object, found something else")
    return scene, parts.get(b"BIN\x00", b"")


def _surface(scene: dict[str, Any], binary: bytes) -> Surface:
    vertices, faces = [np.empty((0, 3))], [np.empty((0, 3), np.int64)]
    count = 0
    placed = [
        (primitive, matrix)
        for mesh, matrix in _placed_meshes(scene)
        for primitive in scene["meshes"][mesh]["primitives"]
        if primitive.get("mode", TRIANGLES) in {TRIANGLES, STRIP, FAN}
    ]
    _refuse_crowd(scene, [primitive for primitive, _ in placed])
    for primitive, matrix in placed:
        points = _array(scene, binary, primitive["attributes"]["POSITION"])
        if points.shape[1:] != (3,):
            raise MeshError("expected positions of three numbers each in the GLB")
        corners = np.arange(len(points))
        if "indices" in primitive:
            corners = _array(scene, binary, primitive["indices"]).ravel().astype(np.int64)
        if len(corners) and not 0 <= corners.max() < len(points):
            raise MeshError("expected faces of the vertices the GLB has, one names another")
        vertices.append(points @ matrix[:3, :3].T + matrix[:3, 3])
        faces.append(count + _triangles(corners, primitive.get("mode", TRIANGLES)))
        count += len(points)
    return np.concatenate(vertices), np.concatenate(faces)


def _refuse_crowd(scene: dict[str, Any], primitives: list[dict[str, Any]]) -> None:
    """Refuse what would fill the memory, by what the file says before any of it is made."""
    vertices = corners = 0
    for primitive in primitives:
        own = int(scene["accessors"][primitive["attributes"]["POSITION"]]["count"])
        vertices += max(own, 0)
        named = primitive.get("indices")
        corners += max(own if named is None else int(scene["accessors"][named]["count"]), 0)
    if vertices > MOST_VERTICES or corners > MOST_CORNERS:
        raise MeshError(f"expected a GLB of at most {MOST_VERTICES} vertices and triangles in all")


def _triangles(corners: Faces, mode: int) -> Faces:
    if mode == TRIANGLES:
        return corners[: len(corners) // 3 * 3].reshape(-1, 3)
    first = corners[:-2] if mode == STRIP else np.full(max(len(corners) - 2, 0), corners[:1])
    return np.stack([first, corners[1:-1], corners[2:]], axis=1)


def _placed_meshes(scene: dict[str, Any]) -> list[tuple[int, Array]]:
    """Meshes of the scene with the matrices (4, 4) that place them; without nodes, as they are."""
    nodes = scene.get("nodes", [])
    if not nodes:
        return [(i, np.eye(4)) for i in range(len(scene.get("meshes", [])))]
    if "scenes" in scene:
        roots = scene["scenes"][scene.get("scene", 0)].get("nodes", [])
    else:
        roots = list(set(range(len(nodes))) - {c for n in nodes for c in n.get("children", [])})
    todo = [(root, np.eye(4), 0) for root in roots]
    placed, seen = list[tuple[int, Array]](), 0
    while todo:
        index, above, depth = todo.pop()
        seen += 1
        if seen > MOST_NODES or depth > DEEPEST:
            raise MeshError("expected a GLB whose nodes form a tree of reasonable size")
        node = nodes[index]
        matrix = above @ _local(node)
        if "mesh" in node:
            placed.append((node["mesh"], matrix))
        todo += [(child, matrix, depth + 1) for child in node.get("children", [])]
    return placed


def _local(node: dict[str, Any]) -> Array:
    """Matrix (4, 4) of a node: its own, or translation after rotation after scale."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    x, y, z, w = np.array(node.get("rotation", (0, 0, 0, 1)), dtype=np.float64)
    turned = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = turned * np.array(node.get("scale", (1, 1, 1)), dtype=np.float64)
    matrix[:3, 3] = np.array(node.get("translation", (0, 0, 0)), dtype=np.float64)
    return matrix


def _array(scene: dict[str, Any], binary: bytes, index: int) -> Array:
    """Read an accessor: (count, components) numbers from the file's own binary chunk."""
    accessor = scene["accessors"][index]
    view = scene["bufferViews"][accessor["bufferView"]]
    if "sparse" in accessor:
        raise MeshError("expected a GLB without sparse accessors, this one has some")
    if view["buffer"] != 0 or "uri" in scene["buffers"][0]:
        raise MeshError("expected a GLB that holds its own data, this one refers to another file")
    kind = np.dtype(COMPONENTS[accessor["componentType"]])
    count, width = int(accessor["count"]), {"SCALAR": 1, "VEC2": 2, "VEC3": 3}[accessor["type"]]
    stride = int(view.get("byteStride", 0)) or kind.itemsize * width
    inside = int(accessor.get("byteOffset", 0))
    start = int(view.get("byteOffset", 0)) + inside
    last = inside + stride * (count - 1) + kind.itemsize * width
    if min(count, inside, start) < 0 or stride < kind.itemsize * width:
        raise MeshError("expected a GLB with sound offsets, one is negative or too small")
    if count and (last > int(view["byteLength"]) or start - inside + last > len(binary)):
        raise MeshError("expected a GLB with all its data, it is cut short")
    strides = (stride, kind.itemsize)
    raw = np.ndarray((count, width), kind, binary, start if count else 0, strides)
    values: Array = raw.astype(np.float64)
    if accessor.get("normalized"):
        values = np.maximum(values / np.iinfo(kind).max, -1.0)
    return values
