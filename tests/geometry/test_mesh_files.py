"""Meshes come in as they were written, in any of the four kinds of file, or are refused."""

import struct
import time
from pathlib import Path

import numpy as np
import pytest

from soapstone.errors import InputError
from soapstone.geometry.mesh_files import read_mesh
from tests.geometry.meshes import (
    WRITERS,
    corners_of,
    glb,
    glb_binary,
    glb_of,
    glb_scene,
    lumpy_ball,
    obj,
    ply_binary,
    ply_header,
    ply_text,
    stl_binary,
    stl_text,
)

BALL = lumpy_ball(12)
SQUARE = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"


def written(folder: Path, name: str, content: bytes | str) -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@pytest.mark.parametrize("kind", WRITERS)
def test_every_kind_of_file_gives_the_same_triangles(tmp_path: Path, kind: str) -> None:
    ending, write = WRITERS[kind]
    found = read_mesh(written(tmp_path, f"ball{ending}", write(*BALL)))
    np.testing.assert_allclose(corners_of(found), corners_of(BALL), atol=1e-4)


def test_a_mesh_in_inches_is_scaled_to_mm(tmp_path: Path) -> None:
    path = written(tmp_path, "ball.stl", stl_binary(*BALL))
    vertices, _ = read_mesh(path, 25.4)
    np.testing.assert_allclose(np.ptp(vertices, axis=0), 25.4 * np.ptp(BALL[0], axis=0), rtol=1e-6)


@pytest.mark.parametrize("kind", WRITERS)
def test_a_scan_of_200_000_triangles_takes_seconds_at_most(tmp_path: Path, kind: str) -> None:
    ending, write = WRITERS[kind]
    scan = lumpy_ball(225)
    path = written(tmp_path, f"scan{ending}", write(*scan))
    start = time.process_time()
    _, faces = read_mesh(path)
    assert time.process_time() - start < 8
    assert len(faces) == len(scan[1]) > 200_000


def test_an_ending_in_capitals_is_read_too(tmp_path: Path) -> None:
    assert len(read_mesh(written(tmp_path, "BALL.STL", stl_binary(*BALL)))[1]) == len(BALL[1])


def test_binary_stl_whose_header_starts_with_solid(tmp_path: Path) -> None:
    content = b"solid" + stl_binary(*BALL)[5:]
    assert len(read_mesh(written(tmp_path, "ball.stl", content))[1]) == len(BALL[1])


@pytest.mark.parametrize("after", [b"\0" * 3, b"end of scan", b"\0" * 4096])
def test_binary_stl_with_bytes_after_its_last_triangle(tmp_path: Path, after: bytes) -> None:
    content = stl_binary(*BALL) + after
    assert len(read_mesh(written(tmp_path, "ball.stl", content))[1]) == len(BALL[1])


def test_obj_polygons_are_cut_from_their_first_corner(tmp_path: Path) -> None:
    text = SQUARE + "v 2 0.5 0\nf 1 2 3 4\nf 2 5 3\n"
    _, faces = read_mesh(written(tmp_path, "plate.obj", text))
    assert sorted(map(tuple, faces.tolist())) == [(0, 1, 2), (0, 2, 3), (1, 4, 2)]


def test_obj_faces_may_count_back_from_where_they_stand(tmp_path: Path) -> None:
    text = f"{SQUARE}f -4 -3 -2\nv 0 0 5\nf -1 1 2\n"
    _, faces = read_mesh(written(tmp_path, "plate.obj", text))
    assert faces.tolist() == [[0, 1, 2], [4, 0, 1]]


def test_obj_vertices_may_carry_colours_and_lines_may_go_on(tmp_path: Path) -> None:
    text = "v 0 0 0 1 0 0\nv 1 0 0 1 0 0\nv 1 1 0 1 0 0\nf 1 2 \\\n3\n"
    vertices, faces = read_mesh(written(tmp_path, "plate.obj", text))
    assert vertices.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]]
    assert faces.tolist() == [[0, 1, 2]]


@pytest.mark.parametrize("order", ["ascii", "binary_little_endian"])
def test_ply_faces_of_several_sizes_with_more_about_each(tmp_path: Path, order: str) -> None:
    header = (
        f"ply\nformat {order} 1.0\nelement vertex 5\nproperty double x\nproperty double y\n"
        "property double z\nelement face 2\nproperty list uchar uint vertex_index\n"
        "property list uchar float texcoord\nproperty short flags\nend_header\n"
    ).encode()
    points = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0.5, 0)]
    if order == "ascii":
        body = "".join("{} {} {}\n".format(*point) for point in points)
        body += "4 0 1 2 3 2 0.5 0.5 7\n3 1 4 2 0 7\n"
        content = header + body.encode()
    else:
        content = header + np.array(points, "<f8").tobytes()
        content += struct.pack("<B4IB2fh", 4, 0, 1, 2, 3, 2, 0.5, 0.5, 7)
        content += struct.pack("<B3IBh", 3, 1, 4, 2, 0, 7)
    _, faces = read_mesh(written(tmp_path, "plate.ply", content))
    assert sorted(map(tuple, faces.tolist())) == [(0, 1, 2), (0, 2, 3), (1, 4, 2)]


def test_glb_nodes_place_their_meshes(tmp_path: Path) -> None:
    scene = glb_scene(3, 3)
    half = float(np.sqrt(0.5))
    scene["nodes"] = [
        {"translation": [10, 0, 0], "children": [1]},
        {"rotation": [0, 0, half, half], "scale": [2, 1, 1], "mesh": 0},
    ]
    triangle = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], dtype=float), np.array([[0, 1, 2]])
    vertices, _ = read_mesh(written(tmp_path, "part.glb", glb_of(scene, glb_binary(*triangle))))
    np.testing.assert_allclose(vertices, [[10, 0, 0], [10, 2, 0], [9, 0, 0]], atol=1e-12)


def test_glb_strips_and_fans(tmp_path: Path) -> None:
    square = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], dtype=float)
    for mode, expected in ((5, [[0, 1, 2], [1, 2, 3]]), (6, [[0, 1, 2], [0, 2, 3]])):
        scene = glb_scene(4, 4)
        primitive = {"attributes": {"POSITION": 0}, "indices": 1, "mode": mode}
        scene["meshes"] = [{"primitives": [primitive]}]
        content = glb_of(scene, glb_binary(square, np.array([[0, 1, 2, 3]])))
        assert read_mesh(written(tmp_path, "part.glb", content))[1].tolist() == expected


def changed(scene: dict[str, object], **parts: object) -> bytes:
    return glb_of({**scene, **parts}, glb_binary(*BALL))


def glb_with_view(**parts: object) -> bytes:
    scene = glb_scene(len(BALL[0]), BALL[1].size)
    views = scene["bufferViews"]
    assert isinstance(views, list)
    views[0] = {**views[0], **parts}
    return glb_of(scene, glb_binary(*BALL))


BALL_SCENE = glb_scene(len(BALL[0]), BALL[1].size)
NAN = BALL[0].copy()
NAN[7, 1] = np.nan
POINT = np.zeros_like(BALL[0])

REFUSED = {
    "empty.stl": (b"", "expected STL"),
    "no.stl": (b"PK\x03\x04" + b"\0" * 200, "packed archive"),
    "cut.stl": (stl_binary(*BALL)[:-70], "binary STL of 528 triangles"),
    "huge.stl": (b"\0" * 80 + b"\xff\xff\xff\xff" + b"\0" * 50, "binary STL of 4294967295"),
    "longer.stl": (stl_binary(*BALL) + stl_binary(*BALL)[84:134], "binary STL of 528 triangles"),
    "none.stl": (b"\0" * 84, "has none"),
    "nan.stl": (stl_binary(NAN, BALL[1]), "expected three numbers"),
    "point.stl": (stl_binary(POINT, BALL[1]), "all points"),
    "cut_text.stl": (stl_text(*BALL)[:-60], "expected"),
    "short_text.stl": (stl_text(*BALL).rsplit(b"facet normal", 1)[0], "ends with endsolid"),
    "words.stl": (stl_text(*BALL).replace(b"vertex 0 0 300", b"vertex 0 0 up"), "numbers"),
    "nan.obj": (SQUARE + "v nan 0 0\nf 1 2 5\n", "vertex 5: expected three numbers"),
    "index.obj": (SQUARE + "f 1 2 9\n", "names another"),
    "zero.obj": (SQUARE + "f 0 1 2\n", "from 1"),
    "back.obj": (SQUARE + "f -9 -1 -2\n", "names another"),
    "half.obj": (SQUARE + "f 1 2.5 3\n", "numbers of vertices"),
    "words.obj": (SQUARE + "f one two three\n", "expected numbers"),
    "lines.obj": (SQUARE + "l 1 2 3\n", "has none"),
    "short.obj": ("v 0 0\nv 1 1\nf 1 2 1\n", "three numbers for each vertex"),
    "binary.obj": (bytes(range(256)) * 20, "has none"),
    "cut.ply": (ply_binary(*BALL)[:-30], "cut short"),
    "huge.ply": (ply_header("ascii", 3, 10**15) + b"0 0 0 1\n" * 3, "cut short"),
    "large.ply": (ply_header("binary_little_endian", 10**15, 1), "cut short"),
    "cut_text.ply": (ply_text(*BALL)[:-40], "expected"),
    "points.ply": (ply_header("ascii", 1, 0) + b"0 0 0 1\n", "expected"),
    "header.ply": (b"ply\nformat ascii 1.0\nelement vertex many\nend_header\n", "'element vertex"),
    "not.ply": (b"polygon", "expected PLY"),
    "index.ply": (ply_text(BALL[0], BALL[1] + 1), "names another"),
    "cut.glb": (glb(*BALL)[:-30], "cut short"),
    "json.glb": (glb(*BALL).replace(b'{"asset"', b'{"asset('), "JSON"),
    "version.glb": (b"glTF\1\0\0\0" + glb(*BALL)[8:], "version 1"),
    "other.glb": (changed(BALL_SCENE, buffers=[{"uri": "a.bin", "byteLength": 9}]), "another file"),
    "draco.glb": (
        changed(BALL_SCENE, extensionsRequired=["KHR_draco_mesh_compression"]),
        "KHR_draco_mesh_compression",
    ),
    "loop.glb": (changed(BALL_SCENE, nodes=[{"children": [0]}]), "tree"),
    "nowhere.glb": (changed(BALL_SCENE, nodes=[{"mesh": 4}]), "fit together"),
    "turn.glb": (changed(BALL_SCENE, nodes=[{"mesh": 0, "rotation": [1, 2]}]), "fit together"),
    "crowd.glb": (
        changed(BALL_SCENE, nodes=[{"mesh": 0}] * 90_000, scenes=[{"nodes": [*range(90_000)]}]),
        "in all",
    ),
    "outside.glb": (
        changed(BALL_SCENE, buffers=[{"uri": "../../passwd", "byteLength": 9}]),
        "another file",
    ),
    "inside.glb": (
        changed(BALL_SCENE, buffers=[{"uri": "data:;base64,AAAA", "byteLength": 3}]),
        "another file",
    ),
    "offset.glb": (glb_with_view(byteOffset=10**12), "cut short"),
    "stride.glb": (glb_with_view(byteStride=10**12), "cut short"),
    "before.glb": (glb_with_view(byteOffset=-4), "negative"),
    "scan.gltf": (b"{}", ".stl, .obj, .ply, .glb"),
    "scan": (b"", "expected a mesh file"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_mesh_is_refused_in_one_line_that_names_the_file(
    tmp_path: Path, name: str
) -> None:
    content, expected = REFUSED[name]
    with pytest.raises(InputError) as refusal:
        read_mesh(written(tmp_path, name, content))
    text = str(refusal.value)
    assert name in text
    assert expected in text
    assert "\n" not in text


def test_no_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_mesh(tmp_path / "gone.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(InputError, match="cannot be read"):
        read_mesh(tmp_path / "folder.stl")


@pytest.mark.parametrize("kind", WRITERS)
def test_files_with_bytes_changed_by_chance_are_read_or_refused(tmp_path: Path, kind: str) -> None:
    """No damage to a file ends in anything but a mesh or a line about it."""
    ending, write = WRITERS[kind]
    sound = write(*lumpy_ball(4))
    rng = np.random.default_rng(5)
    for _ in range(150):
        content = bytearray(sound)
        for at in rng.integers(0, len(content), rng.integers(1, 6)):
            content[at] = rng.integers(256)
        if rng.random() < 0.3:
            del content[rng.integers(len(content)) :]
        try:
            vertices, faces = read_mesh(written(tmp_path, f"damaged{ending}", bytes(content)))
        except InputError:
            continue
        assert np.isfinite(vertices).all()
        assert 0 <= faces.min() <= faces.max() < len(vertices)


def test_obj_is_not_asked_for_files_it_names(tmp_path: Path) -> None:
    """`mtllib` names a file that is not there; the mesh is read all the same."""
    assert len(read_mesh(written(tmp_path, "ball.obj", obj(*BALL)))[1]) == len(BALL[1])
