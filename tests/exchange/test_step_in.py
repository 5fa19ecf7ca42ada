"""Jobs out of STEP files, as one who gets drawings from others takes them in."""

import re
import shutil
from importlib.resources import files

import numpy as np
import pytest

from soapstone.exchange.kernel import hush
from soapstone.exchange.solid_tube import SolidTube
from soapstone.exchange.step import apart, read_step
from soapstone.exchange.step.reading import bodies
from soapstone.exchange.step_out import to_step
from soapstone.geometry.centreline import Centreline
from soapstone.job.files import read_job
from tests.cli.running import is_clean, soapstone
from tests.truth import step_made as made

RAIL = Centreline((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (500.0,))
HAIRPIN = Centreline(
    (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (200.0, 150.0), (180.0,), (0.0,), (115.0,)
)


def cylinder(at, way, radius, height):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*at), gp_Dir(*way)), radius, height).Shape()


def cut(shape, tool):
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

    return BRepAlgoAPI_Cut(shape, tool).Shape()


@pytest.fixture(autouse=True)
def _at_once(monkeypatch):
    """Most tests read in this process: starting another takes two seconds each time."""
    hush()
    monkeypatch.setattr(apart, "bodies", here)


def here(path):
    apart.check(path)
    return bodies(path)


@pytest.fixture
def drawn(tmp_path):
    """Write parts by name into a STEP file."""

    def write(**parts):
        path = tmp_path / "drawn.step"
        made.write(path, [(name.replace("_", " "), part, None) for name, part in parts.items()])
        return path

    return write


def test_the_demo_comes_back_from_step_with_its_corners(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    drawing, back = tmp_path / "arch.step", tmp_path / "back.toml"
    assert soapstone("convert", tmp_path / "stern-arch.toml", drawing).code == 0
    assert soapstone("convert", drawing, back, "--material", "304").code == 0
    wanted = soapstone("plan", tmp_path / "stern-arch.toml", "--json").json["tubes"]
    assert [tube.name for tube in read_job(back).tubes] == [tube["name"] for tube in wanted]
    for tube, plan in zip(read_job(back).tubes, wanted, strict=True):
        assert np.abs(np.array(tube.points) - plan["points"]).max() < 1e-4
        assert (tube.tubing.od, tube.tubing.wall) in ((38.1, 1.65), (25.4, 1.65))
    again = soapstone("convert", drawing, tmp_path / "inches.toml", "--units", "in", "--json")
    assert again.code == 0
    inches = read_job(tmp_path / "inches.toml")
    assert inches.tubes[0].tubing.od == pytest.approx(38.1, abs=1e-9)
    assert np.abs(np.array(inches.tubes[0].points) - wanted[0]["points"]).max() < 1e-4


def test_bends_keep_their_drawn_radius_into_other_drawings(tmp_path):
    first, second = tmp_path / "first.step", tmp_path / "second.step"
    first.write_bytes(to_step([SolidTube("hairpin", HAIRPIN, 38.1, 1.65)]))
    assert soapstone("convert", first, second).code == 0
    (tube,) = read_step(second).tubes
    assert tube.line.radii == pytest.approx((115.0,), abs=1e-3)
    assert tube.line.legs == pytest.approx((200.0, 150.0), abs=1e-3)


def test_a_hairpin_is_written_by_its_bends_and_stays_itself(tmp_path):
    drawing, job = tmp_path / "hairpin.step", tmp_path / "hairpin.toml"
    drawing.write_bytes(to_step([SolidTube("hairpin", HAIRPIN, 38.1, 1.65)]))
    assert soapstone("convert", drawing, job).code == 0
    (tube,) = soapstone("plan", job, "--json").json["tubes"]
    assert tube["points"][-1] == pytest.approx([50.0, 230.0, 0.0], abs=1e-3)


def test_what_is_no_tube_is_named_and_left_out(tmp_path, drawn):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeTorus

    plate = BRepPrimAPI_MakeBox(200.0, 100.0, 6.0).Shape()
    wheel = BRepPrimAPI_MakeTorus(100.0, 10.0).Shape()
    path = drawn(
        rail=made.swept(RAIL, 38.1, 1.65),
        base_plate=cut(plate, cylinder((50, 50, -5), (0, 0, 1), 8, 50)),
        washer=cut(cylinder((0, 0, 0), (0, 0, 1), 20, 3), cylinder((0, 0, -1), (0, 0, 1), 10, 9)),
        wheel=cut(wheel, BRepPrimAPI_MakeTorus(100.0, 8.0).Shape()),
    )
    done = soapstone("convert", path, tmp_path / "job.toml", "--json").json
    assert done["tubes"] == ["rail"]
    said = {one["where"]: one["what"] for one in done["problems"]}
    assert {"base plate", "washer", "wheel"} <= said.keys()
    assert "closed ring" in said["wheel"]
    alone = drawn(box=BRepPrimAPI_MakeBox(10.0, 20.0, 30.0).Shape())
    refused = soapstone("convert", alone, tmp_path / "no.toml")
    assert is_clean(refused)
    assert refused.code == 2
    assert "box" in refused.err


def test_coped_ends_reach_as_far_as_the_metal_and_holes_do_no_harm(tmp_path, drawn):
    rail = made.swept(RAIL, 38.1, 1.65)
    coped = cut(rail, cylinder((505, -100, 0), (0, 1, 0), 24, 200))
    drilled = cut(rail, cylinder((250, 0, -50), (0, 0, 1), 6, 100))
    done = soapstone(
        "convert", drawn(coped=coped, drilled=drilled), tmp_path / "job.toml", "--json"
    )
    assert done.code == 0
    told = [one for one in done.json["problems"] if "out of square" in one["what"]]
    assert [one["where"] for one in told] == ["coped"]
    assert "end B" in told[0]["what"]
    ends = [tube.points[-1][0] for tube in read_job(tmp_path / "job.toml").tubes]
    # the tube's top, 19.05 above the middle, is cut least: at 505 - sqrt(24^2 - 19.05^2)
    assert ends == pytest.approx([505 - (24**2 - 19.05**2) ** 0.5, 500.0], abs=1e-2)


def test_a_bar_needs_the_wall_it_does_not_show(tmp_path, drawn):
    path = drawn(bar=made.swept(RAIL, 20.0, None), rail=made.swept(RAIL, 38.1, 1.65))
    without = soapstone("convert", path, tmp_path / "job.toml", "--json")
    assert without.code == 1
    assert without.json["tubes"] == ["rail"]
    assert any("--wall" in one["mend"] for one in without.json["problems"])
    given = soapstone("convert", path, tmp_path / "job.toml", "--wall", "1.5 mm", "--json")
    assert given.code == 0
    assert read_job(tmp_path / "job.toml").tube("bar").tubing.wall == 1.5
    odd = soapstone("convert", path, tmp_path / "job.toml", "--wall", "-2")
    assert odd.code == 2
    assert is_clean(odd)


def test_two_radii_in_one_tube_are_told(tmp_path):
    line = Centreline(
        (0, 0, 0), (1, 0, 0), (0, 1, 0), (200, 300, 200), (40, 50), (0, 90), (100.0, 150.0)
    )
    path = tmp_path / "two.step"
    path.write_bytes(to_step([SolidTube("two", line, 38.1, 1.65)]))
    done = soapstone("convert", path, tmp_path / "job.toml", "--json")
    assert done.code == 1
    assert any("100 mm, 150 mm" in one["what"] for one in done.json["problems"])


def sound() -> bytes:
    return to_step([SolidTube("rail", RAIL, 38.1, 1.65)])


BROKEN = {
    "empty": (b"", "expected STEP"),
    "other": (b"%PDF-1.7\n" * 50, "expected STEP"),
    "packed": (b"PK\x03\x04" + b"\0" * 200, "packed archive"),
    "cut": (sound()[:-4000], "cut short"),
    "nothing": (b"ISO-10303-21;\nEND-ISO-10303-21;\n", "expected"),
    "no_shape": (re.sub(rb"(?s)DATA;.*ENDSEC;", b"DATA;\nENDSEC;", sound()), "no shape"),
    "nowhere": (sound().replace(b"CYLINDRICAL_SURFACE('',", b"PLANE('',"), "expected"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_step_is_refused_in_one_line(tmp_path, name):
    content, expected = BROKEN[name]
    path = tmp_path / f"{name}.step"
    path.write_bytes(content)
    refused = soapstone("convert", path, tmp_path / "job.toml")
    assert refused.code == 2
    assert is_clean(refused)
    assert str(path) in refused.err
    assert expected in refused.err
    assert not (tmp_path / "job.toml").exists()


def test_folders_and_files_that_are_not_there_are_refused(tmp_path):
    (tmp_path / "folder.step").mkdir()
    for name in ("folder.step", "gone.stp"):
        refused = soapstone("convert", tmp_path / name, tmp_path / "job.toml")
        assert refused.code == 2
        assert is_clean(refused)
        assert name in refused.err


def test_a_file_on_which_the_kernel_breaks_down_is_refused_too(tmp_path, monkeypatch):
    """References to the wrong things end the kernel's whole process, and not ours."""
    monkeypatch.undo()
    path = tmp_path / "damaged.step"
    path.write_bytes(re.sub(rb"(DEFINITIONAL_REPRESENTATION\('',\(#)\d+", rb"\g<1>1", sound()))
    refused = soapstone("convert", path, tmp_path / "job.toml")
    assert refused.code == 2
    assert is_clean(refused)
    assert "damaged" in refused.err


def test_numbers_that_are_none_are_refused(tmp_path):
    for number in (b"1.E308", b"NAN", b"-1."):
        path = tmp_path / "odd.step"
        radius = rb"(CYLINDRICAL_SURFACE\('',#\d+,)[0-9.]+"
        path.write_bytes(re.sub(radius, rb"\g<1>" + number, sound()))
        done = soapstone("convert", path, tmp_path / "job.toml")
        assert done.code == 2
        assert is_clean(done)


def test_reading_apart_gives_what_reading_here_gives(tmp_path, monkeypatch):
    path = tmp_path / "rail.step"
    path.write_bytes(sound())
    near = read_step(path)
    monkeypatch.undo()
    assert read_step(path) == near


def test_without_the_kernel_it_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr(apart, "find_spec", lambda name: None)
    path = tmp_path / "rail.step"
    path.write_bytes(sound())
    refused = soapstone("convert", path, tmp_path / "job.toml")
    assert refused.code == 2
    assert is_clean(refused)
    assert "soapstone[step]" in refused.err
