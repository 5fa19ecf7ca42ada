"""Strength as a user asks for it."""

import shutil
from importlib.resources import files

import pypdfium2
import pytest

from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


def test_the_demo_carries_its_mast_and_its_feet_hold_it(arch):
    done = soapstone("strength", arch, "--json")
    assert done.code == 0
    case = done.json["cases"][0]
    assert case["case"] == "slam"
    held = [sum(foot["force"][axis] for foot in case["supports"]) for axis in range(3)]
    assert held == pytest.approx([0, 0, 3 * 22 * 9.80665], abs=1e-3)
    assert case["reserve"] > 1.5
    assert case["stress"] > 0
    assert {"tube", "at"} <= set(case["worst"])
    assert done.json["frequency"] > 0
    left, right = (case["supports"][i]["force"] for i in (0, 1))
    assert left == pytest.approx([right[0], -right[1], right[2]], abs=1e-3), "both hands alike"


def test_own_weight_stands_on_the_feet_too(arch):
    plan = soapstone("plan", arch, "--json").json
    done = soapstone("strength", arch, "--own-weight", "--json").json["cases"][0]
    held = sum(foot["force"][2] for foot in done["supports"])
    weight = 9.80665 * (3 * 22 + sum(tube["mass"] for tube in plan["tubes"]))
    assert held == pytest.approx(weight, rel=1e-3)


def test_too_little_reserve_leaves_with_one_and_a_caution(arch):
    done = soapstone("strength", arch, "--reserve", "50")
    assert done.code == 1
    assert "yields" in done.out
    assert "licensed" in done.out


ONE = (
    'units = "in"\n[[tube]]\nname = "a"\ntubing = "304 1 x .065"\npoints = [[0,0,0],[0,0,30]]\n'
    '[[tube]]\nname = "b"\ntubing = "304 1 x .065"\npoints = [[0,0,30],[20,0,30]]\n'
)
FOOT = '[[support]]\ntube = "a"\nat = "A"\nfix = "all"\n'
PUSH = '[[load]]\ncase = "c"\nat = [20,0,30]\nonto = "b"\nforce = ["0 N", "0 N", "-20 lbf"]\n'
JOINT = '[[joint]]\ntubes = ["a", "b"]\nat = [0,0,30]\n'


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (ONE, "support"),
        (ONE + FOOT, "load"),
        (ONE + FOOT + PUSH, '"b": nothing holds it'),
        (ONE + FOOT.replace('"all"', '["x"]') + JOINT + PUSH, "moves freely"),
        (ONE + FOOT + JOINT.replace("[0,0,30]", "[9,9,9]") + PUSH, "off"),
    ],
)
def test_frames_that_do_not_stand_are_told_so(tmp_path, text, what):
    job = tmp_path / "frame.toml"
    job.write_text(text)
    refused = soapstone("strength", job)
    assert refused.code == 2
    assert is_clean(refused)
    assert what in refused.err


def test_a_bracket_in_inches(tmp_path):
    job = tmp_path / "frame.toml"
    job.write_text(ONE + FOOT + JOINT + PUSH)
    done = soapstone("strength", job, "--reserve", "0.1", "--json")
    assert done.code == 0
    foot = done.json["cases"][0]["supports"][0]
    assert foot["force"] == pytest.approx([0, 0, 20 * 4.4482216], rel=1e-6, abs=1e-6)
    assert abs(foot["moment"][1]) == pytest.approx(20 * 4.4482216 * 0.508, rel=1e-6)
    shown = soapstone("strength", job, "--reserve", "0.1").out
    assert "33.3 lbf ft" in shown, "20 lbf at 20 in"
    assert "ksi" in shown
    assert "MPa" not in shown


TWO = (
    'units = "mm"\n[[tube]]\nname = "t"\ntubing = "304 25.4x1.65"\npoints = [[0,0,0],[1000,0,0]]\n'
    '[[tube]]\nname = "u"\ntubing = "304 25.4x1.65"\npoints = [[0,200,0],[1000,200,0]]\n'
    '[[support]]\ntube = "t"\nat = "A"\nfix = "all"\n'
    '[[support]]\ntube = "u"\nat = "A"\nfix = "all"\n'
    '[[load]]\ncase = "tip"\nat = [1000,0,0]\nonto = "t"\nmass = "2 kg"\n'
)
OTHER = (
    '[[load]]\ncase = "other"\nat = [1000,100,0]\nonto = ["t", "u"]\n'
    'force = ["0 N", "0 N", "-1 N"]\n'
)


def test_what_carries_a_load_of_one_case_stiffens_no_other(tmp_path):
    results = []
    for text in (TWO, TWO + OTHER):
        job = tmp_path / "frame.toml"
        job.write_text(text)
        results.append(soapstone("strength", job, "--reserve", "0.1", "--json").json)
    alone, beside = results
    assert beside["cases"][0] == alone["cases"][0]
    assert beside["frequency"] == pytest.approx(alone["frequency"])


def test_a_load_onto_a_place_far_off_any_tube_is_refused(tmp_path):
    job = tmp_path / "frame.toml"
    job.write_text(TWO.replace('onto = "t"', "onto = [[400, 4000, 0]]"))
    refused = soapstone("strength", job)
    assert refused.code == 2
    assert is_clean(refused)


def test_a_case_that_carries_nothing_says_so(tmp_path):
    job = tmp_path / "frame.toml"
    job.write_text(TWO.replace('mass = "2 kg"', 'force = ["0 N", "0 N", "0 N"]'))
    done = soapstone("strength", job)
    assert done.code == 0
    assert "carries nothing" in done.out


def test_cases_are_drawn_and_bolts_told(arch, tmp_path):
    text = arch.read_text()
    first, support, rest = text.partition("[[support]]\n")
    arch.write_text(f"{first}{support}bolts = {{ circle = 90, count = 4, size = 8 }}\n{rest}")
    done = soapstone("strength", arch, "--out", tmp_path / "s.pdf", "--json")
    foot = done.json["cases"][0]["supports"][0]
    held = foot["bolts"]
    assert held["tension"] > 0
    assert len(held["pulls"]) == 4
    assert held["stress"] > 0
    with pypdfium2.PdfDocument(tmp_path / "s.pdf") as pdf:
        words = pdf[0].get_textpage().get_text_bounded()
    assert "slam" in words
    assert "times what it gives" in words
    assert "engineer" in words
    assert soapstone("strength", arch, "--out", tmp_path / "s.svg").code == 0
    assert (tmp_path / "s.svg").read_text().startswith("<svg")
    wrong = soapstone("strength", arch, "--out", tmp_path / "s.png")
    assert wrong.code == 2
    assert is_clean(wrong)
