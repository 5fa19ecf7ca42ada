"""Files for other programs, read back by other programs."""

import io
import json
import math
import re
import shutil
import struct
from importlib.resources import files
from xml.etree import ElementTree

import numpy as np
import pytest

from soapstone.exchange.mesh_out import to_glb, to_stl
from soapstone.exchange.solid_tube import SolidTube, tube_mesh
from soapstone.exchange.step_out import to_step
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.measure import bounds, mass
from soapstone.geometry.mesh_files import read_mesh
from tests.cli.running import is_clean, soapstone

LINE = Centreline(
    (10.0, 20.0, 30.0),
    (0.0, 0.6, 0.8),
    (0.0, -0.8, 0.6),
    (200.0, 150.0, 180.0),
    (70.0, 120.0),
    (0.0, -50.0),
    (115.0, 115.0),
)
TUBE = SolidTube("leg", LINE, 38.1, 1.65)


@pytest.fixture
def arch(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


def volume(corners):
    return float(
        np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6
    )


def test_the_mesh_is_closed_and_holds_the_tubes_metal():
    vertices, faces = tube_mesh(TUBE)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    ways = {tuple(edge) for edge in edges.tolist()}
    assert len(ways) == len(edges)
    assert all((b, a) in ways for a, b in ways), "every edge is walked once either way"
    metal = mass(LINE, 38.1, 1.65, 7850.0).volume
    # 32 flat sides in place of a round, and chords of 4 degrees: 0.7 % less
    assert volume(vertices[faces]) == pytest.approx(metal, rel=0.01)


@pytest.mark.parametrize("ending", ["stl", "glb"])
def test_meshes_come_back_where_they_were(tmp_path, ending):
    file = tmp_path / f"tube.{ending}"
    file.write_bytes(to_stl([TUBE]) if ending == "stl" else to_glb([TUBE]))
    scale = 1.0 if ending == "stl" else 1000.0
    vertices, faces = read_mesh(file, scale)[:2]
    if ending == "glb":
        x, y, z = vertices.T
        vertices = np.stack((x, -z, y), axis=1)
    low, high = bounds(LINE, 38.1)
    assert vertices[faces].reshape(-1, 3).min(axis=0) == pytest.approx(low, abs=0.3)
    assert vertices[faces].reshape(-1, 3).max(axis=0) == pytest.approx(high, abs=0.3)


def test_step_holds_cylinders_and_tori_in_their_places(tmp_path):
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepGProp import BRepGProp
    from OCP.GeomAbs import GeomAbs_Cylinder, GeomAbs_Torus
    from OCP.GProp import GProp_GProps
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    file = tmp_path / "tube.step"
    file.write_bytes(to_step([TUBE]))
    reader = STEPControl_Reader()
    reader.ReadFile(str(file))
    reader.TransferRoots()
    shape = reader.OneShape()
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    assert found.Mass() == pytest.approx(mass(LINE, 38.1, 1.65, 7850.0).volume, rel=1e-6)
    rings, bars = [], []
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        surface = BRepAdaptor_Surface(TopoDS.Face(faces.Current()))
        if surface.GetType() == GeomAbs_Torus:
            torus = surface.Torus()
            rings.append((torus.MajorRadius(), torus.MinorRadius(), torus.Location()))
        if surface.GetType() == GeomAbs_Cylinder:
            bars.append(surface.Cylinder().Radius())
        faces.Next()
    assert sorted(bars) == pytest.approx([17.4] * 3 + [19.05] * 3, abs=1e-4)
    assert {round(one[0], 4) for one in rings} == {115.0}
    centres = walk(LINE).centres
    for _, _, at in rings:
        place = np.array([at.X(), at.Y(), at.Z()])
        assert np.linalg.norm(centres - place, axis=1).min() < 1e-4


def test_dxf_has_the_marks_where_the_tape_reads(arch):
    from ezdxf.filemanagement import read

    out = arch.with_name("arch.dxf")
    assert soapstone("convert", arch, out).code == 0
    plan = soapstone("plan", arch, "--json").json["tubes"]
    space = read(io.StringIO(out.read_text())).modelspace()
    marks = sorted(line.dxf.start.x for line in space.query('LINE[layer=="MARKS"]'))
    wanted = sorted(bend["mark"] for tube in plan for bend in tube["bends"])
    assert marks == pytest.approx(wanted, abs=1e-9)
    inches = arch.with_name("inches.dxf")
    assert soapstone("convert", arch, inches, "--units", "in").code == 0
    space = read(io.StringIO(inches.read_text())).modelspace()
    marks = sorted(line.dxf.start.x for line in space.query('LINE[layer=="MARKS"]'))
    assert marks == pytest.approx([mark / 25.4 for mark in wanted], abs=1e-9)


@pytest.mark.parametrize("ending", [".step", ".dxf", ".glb", ".stl", ".svg"])
def test_the_demo_goes_into_every_kind_of_file(arch, ending):
    out = arch.with_name(f"arch{ending}")
    done = soapstone("convert", arch, out, "--json")
    assert done.code == 0
    assert len(done.json["tubes"]) == 5
    assert out.stat().st_size > 1000


def test_kinds_that_are_not_known_are_refused(arch):
    for arguments in ((arch, "x.obj"), (arch, "x.step", "--as", "legs"), ("x.stl", "y.csv")):
        refused = soapstone("convert", *arguments)
        assert refused.code == 2
        assert is_clean(refused)


def test_a_straight_tube_is_a_tube_too():
    line = Centreline((0, 0, 0), (1, 0, 0), (0, 1, 0), (500.0,))
    vertices, faces = tube_mesh(SolidTube("rail", line, 25.4, 1.65))
    area = math.pi * 1.65 * (25.4 - 1.65)
    assert volume(vertices[faces]) == pytest.approx(500 * area, rel=0.01)


def tiny_glb(content):
    """Names and triangles (n, 3, 3) in metres of a GLB, read by its specification alone."""
    magic, version, length = struct.unpack_from("<4sII", content)
    assert (magic, version, length) == (b"glTF", 2, len(content))
    size, kind = struct.unpack_from("<I4s", content, 12)
    assert (kind, size % 4) == (b"JSON", 0)
    scene = json.loads(content[20 : 20 + size])
    binary_size, kind = struct.unpack_from("<I4s", content, 20 + size)
    assert (kind, binary_size) == (b"BIN\0", scene["buffers"][0]["byteLength"])
    binary = content[28 + size :]
    assert len(binary) == binary_size

    def numbers(index, code, width):
        accessor = scene["accessors"][index]
        start = scene["bufferViews"][accessor["bufferView"]]["byteOffset"]
        assert start % 4 == 0
        found = np.array(struct.unpack_from(f"<{accessor['count'] * width}{code}", binary, start))
        if width == 3:
            found = found.reshape(-1, 3)
            assert found.min(axis=0).tolist() == accessor["min"]
            assert found.max(axis=0).tolist() == accessor["max"]
        return found

    parts = {}
    for node in scene["nodes"]:
        (part,) = scene["meshes"][node["mesh"]]["primitives"]
        places = numbers(part["attributes"]["POSITION"], "f", 3)
        parts[node["name"]] = places[numbers(part["indices"], "I", 1).reshape(-1, 3)]
    return parts


def test_glb_by_its_specification_is_in_metres_with_y_up():
    rail = SolidTube("rail", Centreline((0, 0, 500.0), (1, 0, 0), (0, 1, 0), (2000.0,)), 40.0, 2.0)
    parts = tiny_glb(to_glb([TUBE, rail]))
    assert list(parts) == ["leg", "rail"]
    corners = parts["rail"].reshape(-1, 3)
    assert corners.min(axis=0) == pytest.approx([0.0, 0.48, -0.02], abs=1e-6)
    assert corners.max(axis=0) == pytest.approx([2.0, 0.52, 0.02], abs=1e-6)
    metal = mass(LINE, 38.1, 1.65, 7850.0).volume
    assert volume(parts["leg"]) * 1e9 == pytest.approx(metal, rel=0.01)


def test_stl_is_watertight_and_holds_the_metal_but_for_its_flats():
    rail = SolidTube("rail", Centreline((0, 0, 0), (1, 0, 0), (0, 1, 0), (500.0,)), 38.1, 1.65)
    # a ring of 32 flats in place of a round has this much of its area
    flats = 16 / math.pi * math.sin(math.pi / 16)
    for tube, bound in ((rail, 1e-5), (TUBE, 2e-3)):
        content = to_stl([tube])
        (count,) = struct.unpack_from("<I", content, 80)
        assert len(content) == 84 + 50 * count
        rows = [struct.unpack_from("<12f", content, 84 + 50 * i) for i in range(count)]
        corners = np.array(rows)[:, 3:].reshape(-1, 3, 3)
        edges = {}
        for triangle in corners.tolist():
            a, b, c = map(tuple, triangle)
            for edge in ((a, b), (b, c), (c, a)):
                edges[edge] = edges.get(edge, 0) + 1
        assert all(edges.get((b, a)) == times == 1 for (a, b), times in edges.items())
        metal = mass(tube.line, 38.1, 1.65, 7850.0).volume
        assert volume(corners) == pytest.approx(metal * flats, rel=bound)


def test_dxf_views_are_true_to_scale_and_in_line(arch):
    from ezdxf.filemanagement import read

    views = {}
    for units, inch in (("mm", 1.0), ("in", 25.4)):
        out = arch.with_name(f"{units}.dxf")
        assert soapstone("convert", arch, out, "--units", units).code == 0
        drawing = read(io.StringIO(out.read_text()))
        assert not drawing.audit().errors
        assert drawing.header["$INSUNITS"] == {"mm": 4, "in": 1}[units]
        assert {"CENTRELINE", "TUBE", "STICK", "MARKS", "CUTS"} <= {
            layer.dxf.name for layer in drawing.layers
        }
        space = drawing.modelspace()
        lines = space.query('LWPOLYLINE[layer=="TUBE"]')
        names = {text.dxf.text: text.dxf.insert for text in space.query("TEXT")}
        boxes = [np.array(list(line.get_points("xy"))) * inch for line in lines]
        left, right = names["right side"].x * inch, names["front"].x * inch
        top = names["top"].y * inch
        views[units] = (
            [one for one in boxes if one[:, 0].max() < left and one[:, 1].max() < top],
            right,
        )
    front, at = views["mm"]
    points = np.concatenate(front)
    plan = soapstone("plan", arch, "--json").json["tubes"]
    corners = np.concatenate([tube["points"] for tube in plan])
    # the legs stand on z = 0 and end level, on y = 0, with half a diameter above that
    assert np.ptp(points[:, 1]) == pytest.approx(np.ptp(corners[:, 2]) + 38.1 / 2, abs=0.05)
    assert points[:, 0].min() == pytest.approx(at, abs=1e-6)
    again = np.concatenate(views["in"][0])
    assert again == pytest.approx(points, abs=1e-6)


def test_svg_sticks_are_well_formed_and_at_true_size(arch):
    out = arch.with_name("arch.svg")
    assert soapstone("convert", arch, out).code == 0
    root = ElementTree.fromstring(out.read_text(encoding="utf-8"))
    width, height = (float(root.get(key).removesuffix("mm")) for key in ("width", "height"))
    assert [float(n) for n in root.get("viewBox").split()] == [0.0, 0.0, width, height]
    longest = max(tube["stock"] for tube in soapstone("plan", arch, "--json").json["tubes"])
    paths = root.findall("{http://www.w3.org/2000/svg}path")
    boxes = [re.findall(r"[-0-9.]+", path.get("d")) for path in paths]
    spans = [max(map(float, box[::2])) - min(map(float, box[::2])) for box in boxes if box]
    assert min(abs(span - longest) for span in spans) < 1e-3
