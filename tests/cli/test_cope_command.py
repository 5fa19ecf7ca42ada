"""Copes as a user asks for them."""

import math
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from scipy.spatial.transform import Rotation

from tests.cli.running import is_clean, soapstone

JOB = """
units = "mm"
[[tube]]
name = "leg"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 0, -500], [0, 0, 500]]
[[tube]]
name = "brace"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 0, 0], [400, 0, 0], [400, 0, 400]]
[[cope]]
tube = "brace"
end = "A"
onto = "leg"
[[cope]]
tube = "brace"
end = "B"
onto = { at = [0, 0, 400], normal = [0, 0, 1] }
"""


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_a_tube_onto_its_like_is_cut_a_radius_deep(job):
    done = soapstone("cope", job, "--json")
    assert done.code == 0
    onto_leg, onto_plate = done.json["copes"]
    assert onto_leg["angle"] == pytest.approx(90)
    assert onto_leg["offset"] == pytest.approx(0, abs=1e-6)
    profile = dict(map(tuple, onto_leg["profile"]))
    assert profile[0.0] == pytest.approx(19.05, abs=1e-3)
    assert profile[90.0] == pytest.approx(0.0, abs=1e-2)
    clear = dict(map(tuple, onto_leg["clear"]))
    inner = 19.05 - 1.65
    assert clear[90.0] == pytest.approx(math.sqrt(19.05**2 - inner**2), abs=1e-3)
    assert onto_plate["angle"] == pytest.approx(90)
    assert onto_plate["weld"] == pytest.approx(math.pi * 38.1, rel=1e-3)
    assert max(abs(depth) for _, depth in onto_plate["profile"]) < 1e-6


def test_two_copes_of_one_tube_are_clocked_by_its_bend(job):
    copes = soapstone("cope", job, "--json").json["copes"]
    assert all(one["from_bend"] is not None for one in copes)


def test_templates_are_written_at_true_size(job, tmp_path):
    done = soapstone("cope", job, "--svg", tmp_path / "wrap.svg", "--json")
    files = sorted(tmp_path.glob("wrap-*.svg"))
    assert [str(file) for file in files] == sorted(done.json["files"])
    text = files[0].read_text()
    width = float(text.split('width="')[1].split("mm")[0])
    assert width > math.pi * 38.1
    assert "brace" in text


def test_the_table_says_where_to_saw_and_how_deep(job):
    shown = soapstone("cope", job)
    assert "saw it square at" in shown.out
    assert "weld" in shown.out


def test_a_branch_wider_than_what_it_sits_on_is_no_cope(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace("[0, 0, 0], [400, 0, 0]", "[0, 15, 0], [400, 15, 0]"))
    done = soapstone("cope", path, "--json")
    assert done.code == 1
    assert any("passes by" in problem["what"] for problem in done.json["copes"][0]["problems"])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('onto = "leg"', 'onto = "log"'),
        ('onto = "leg"', 'onto = "brace"'),
        ('tube = "brace"\nend = "A"', 'tube = "brace"\nend = "C"'),
        ("normal = [0, 0, 1]", "normal = [0, 0, 0]"),
    ],
)
def test_odd_copes_are_refused_in_a_line(tmp_path, old, new):
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace(old, new))
    refused = soapstone("cope", path)
    assert refused.code == 2
    assert is_clean(refused)


def test_a_job_without_copes_says_so(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB.split("[[cope]]", maxsplit=1)[0])
    refused = soapstone("cope", path)
    assert refused.code == 2
    assert is_clean(refused)


@pytest.mark.parametrize(
    ("points", "what"),
    [
        ("[[0, 0, 300], [0, 0, 0]]", "drawn"),  # the other end is meant
        ("[[500, 0, 0], [500, 0, 300]]", "off its end"),  # a corner of two ends
        ("[[500, 0, 0], [900, 0, 0]]", "end"),  # one behind the other
        ("[[0, 0, 19.05], [0, 0, 300]]", "beyond the stick"),  # drawn to the near side
        ("[[0, 0, 0], [0, 0, 10]]", "within it"),  # a stub inside
    ],
)
def test_ends_that_cannot_sit_so_are_stopped(tmp_path, points, what):
    path = tmp_path / "job.toml"
    path.write_text(
        'units = "mm"\n[[tube]]\nname = "m"\ntubing = "304 38.1x1.65"\n'
        "points = [[-500, 0, 0], [500, 0, 0]]\n"
        f'[[tube]]\nname = "b"\ntubing = "304 25.4x1.65"\npoints = {points}\n'
        '[[cope]]\ntube = "b"\nend = "A"\nonto = "m"\n'
    )
    done = soapstone("cope", path, "--json")
    assert done.code == 1
    assert what in done.json["copes"][0]["problems"][0]["what"]


TWISTED = """
units = "mm"
[[tube]]
name = "leg"
tubing = "304 38.1x1.65"
points = [[0, 0, -500], [0, 0, 500]]
[[tube]]
name = "arm"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 0, 0], [500, 0, 0], [500, 300, 350], [900, 650, 350]]
[[cope]]
tube = "arm"
end = "A"
onto = "leg"
[[cope]]
tube = "arm"
end = "B"
onto = { at = [900, 650, 350], normal = [1, 0, 0.2] }
"""


def direction(cope, back):
    """Where a cope's line lies, as a direction out of the tube."""
    turn, zero = math.radians(cope["line"]), np.array(cope["zero"])
    return math.cos(turn) * zero + math.sin(turn) * np.cross(back, zero)


def test_one_line_along_the_stick_clocks_both_ends(tmp_path):
    """A line on the stick turns with every bend about its axis: so both templates must meet it."""
    path = tmp_path / "job.toml"
    path.write_text(TWISTED)
    first, second = soapstone("cope", path, "--json").json["copes"]
    corners = np.array([[0, 0, 0], [500, 0, 0], [500, 300, 350], [900, 650, 350]], dtype=float)
    ways = [step / np.linalg.norm(step) for step in np.diff(corners, axis=0)]
    line = direction(first, ways[0])
    for before, after in pairwise(ways):
        axis = np.cross(before, after)
        line = Rotation.from_rotvec(axis / np.linalg.norm(axis) * math.acos(before @ after)).apply(
            line
        )
    assert direction(second, -ways[-1]) == pytest.approx(line, abs=1e-6)


def test_the_line_is_the_top_of_the_stick_in_a_bender_that_swings_left(job):
    """Seen from the tail the bend turns left, its inside; the top is then square to its plane."""
    lead = soapstone("plan", job, "--json").json["tubes"][1]["bends"][0]["lead"]
    top = [0, -1, 0] if lead == "B" else [0, 1, 0]
    onto_leg, onto_plate = soapstone("cope", job, "--json").json["copes"]
    assert direction(onto_leg, np.array([1.0, 0, 0])) == pytest.approx(top, abs=1e-6)
    assert direction(onto_plate, np.array([0, 0, -1.0])) == pytest.approx(top, abs=1e-6)


def test_an_end_that_meets_two_things_is_cut_for_both(tmp_path):
    plate = (
        '[[cope]]\ntube = "brace"\nend = "A"\nonto = { at = [15, 0, 0], normal = [1, 0.3, 0] }\n'
    )
    alone = tmp_path / "alone.toml"
    alone.write_text(JOB.replace('end = "A"\nonto = "leg"', plate.partition('brace"\n')[2]))
    both = tmp_path / "both.toml"
    both.write_text(JOB + plate)
    one = soapstone("cope", alone, "--json").json["copes"][0]
    done = soapstone("cope", both, "--json").json["copes"]
    leg, two = done[0], done[2]
    deep = {at + 0.0: depth for at, depth in two["clear"]}
    assert all(deep[at] >= depth - 1e-6 for at, depth in one["clear"])
    # where the plate's cut is the deeper one it is as before, and elsewhere the leg's is
    assert any(depth > deep[at] - 1e-6 for at, depth in one["clear"])
    assert any(deep[at] > depth + 1 for at, depth in one["clear"])
    assert leg["tip"] == pytest.approx(two["tip"], abs=0.1)
    assert leg["saw"] == pytest.approx(two["saw"], abs=0.1)
    assert any("one cut for both" in said["what"] for said in two["problems"])


def test_templates_are_printed_and_the_plan_says_where_to_saw(job, tmp_path):
    done = soapstone("cope", job, "--out", tmp_path / "wraps.pdf", "--json")
    assert done.code == 0
    with pypdfium2.PdfDocument(tmp_path / "wraps.pdf") as pdf:
        words = pdf[0].get_textpage().get_text_bounded()
    assert "true size" in words
    assert "brace, A end onto leg" in words
    planned = soapstone("plan", job, "--json").json
    said = [problem["what"] for problem in planned["tubes"][1]["problems"]]
    assert sum("saw it square at" in what for what in said) == 2
    assert not any("copes" in finding["what"] for finding in planned["findings"])
