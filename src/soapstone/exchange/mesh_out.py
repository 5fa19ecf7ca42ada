"""Tubes as triangles for other programs: STL (mm) and glTF binary, GLB (m, y up)."""

import json
import struct
from collections.abc import Sequence
from typing import Any

import numpy as np

from soapstone.exchange.solid_tube import SolidTube, tube_mesh

STEEL = [0.76, 0.80, 0.82, 1.0]

FLOATS, NUMBERS, VERTICES, INDICES = 5126, 5125, 34962, 34963
"""glTF's numbers for kinds of data, from its specification."""


def to_stl(tubes: Sequence[SolidTube]) -> bytes:
    """Give all tubes as one binary STL in mm."""
    meshes = [tube_mesh(tube) for tube in tubes]
    corners = np.concatenate([vertices[faces] for vertices, faces in meshes])
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(normals, axis=1, keepdims=True)
    rows = np.zeros(len(corners), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    rows["n"] = normals / np.maximum(sizes, 1e-30)
    rows["c"] = corners
    head = b"bent tubes, mm".ljust(80)
    return head + struct.pack("<I", len(rows)) + rows.tobytes()


def to_glb(tubes: Sequence[SolidTube]) -> bytes:
    """Give tubes as glTF 2.0 in one file, a node each by its name; metres and y up, as it asks."""
    body = bytearray()
    views: list[dict[str, int]] = []
    accessors: list[dict[str, Any]] = []
    for tube in tubes:
        vertices, faces = tube_mesh(tube)
        x, y, z = (vertices / 1000).T
        places = np.stack((x, z, -y), axis=1).astype("<f4")
        least, most = places.min(axis=0).tolist(), places.max(axis=0).tolist()
        kind = {"componentType": FLOATS, "count": len(places), "type": "VEC3"}
        view = _add(body, views, places.tobytes(), VERTICES)
        accessors.append({"bufferView": view, **kind, "min": least, "max": most})
        index = faces.astype("<u4")
        kind = {"componentType": NUMBERS, "count": index.size, "type": "SCALAR"}
        accessors.append({"bufferView": _add(body, views, index.tobytes(), INDICES), **kind})
    names = [tube.name for tube in tubes]
    return _glb(_document(names, views, accessors, len(body)), bytes(body))


def _add(body: bytearray, views: list[dict[str, int]], data: bytes, target: int) -> int:
    """Put data at the end of the buffer, on a whole word; gives the number of its view."""
    views.append({"buffer": 0, "byteOffset": len(body), "byteLength": len(data), "target": target})
    body += data + b"\0" * (-len(data) % 4)
    return len(views) - 1


def _document(
    names: Sequence[str], views: list[dict[str, int]], accessors: list[dict[str, Any]], size: int
) -> dict[str, Any]:
    """Give the file's table of contents: each tube has two accessors, places and indices."""
    meshes = []
    for i, name in enumerate(names):
        part = {"attributes": {"POSITION": 2 * i}, "indices": 2 * i + 1, "material": 0}
        meshes.append({"name": name, "primitives": [part]})
    metal = {"baseColorFactor": STEEL, "metallicFactor": 0.6, "roughnessFactor": 0.4}
    return {
        "asset": {"version": "2.0", "generator": "soapstone"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(names)))}],
        "nodes": [{"name": name, "mesh": i} for i, name in enumerate(names)],
        "meshes": meshes,
        "materials": [{"pbrMetallicRoughness": metal, "doubleSided": True}],
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": size}],
    }


def _glb(document: dict[str, Any], body: bytes) -> bytes:
    text = json.dumps(document, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    head = struct.pack("<4sII", b"glTF", 2, 28 + len(text) + len(body))
    contents = struct.pack("<I4s", len(text), b"JSON") + text
    return head + contents + struct.pack("<I4s", len(body), b"BIN\0") + body
