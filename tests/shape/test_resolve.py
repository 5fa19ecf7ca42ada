"""Mirror images, and the setups that tubes are bent with."""

import pytest

from soapstone.bench.files import starter_bench
from soapstone.geometry.chain import corners
from soapstone.job.files import job_from_text
from soapstone.shape.resolve import resolve

HEAD = 'units = "mm"\n'
LEG = """
[[tube]]
name = "leg"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 300, 0], [0, 300, 600], [500, 300, 900], [900, 500, 900]]
"""


def shapes(text):
    return {shape.name: shape for shape, _ in resolve(job_from_text(text), starter_bench("mm"))}


@pytest.mark.parametrize("die", ['"38.1 on 115"', '"38.1 on 150"'])
def test_a_mirror_image_has_mirrored_corners_whatever_it_is_bent_on(die):
    image = f'[[tube]]\nname = "other"\ndie = {die}\nmirror = {{ of = "leg", across = "xz" }}\n'
    other = shapes(HEAD + LEG + image)["other"]
    expected = [(0, -300, 0), (0, -300, 600), (500, -300, 900), (900, -500, 900)]
    for point, wanted in zip(corners(other.line), expected, strict=True):
        assert point == pytest.approx(wanted, abs=1e-9)
    assert any("radius" in finding.what for finding in other.findings) == ("150" in die)


def test_a_mirror_image_of_a_mirror_image_is_the_tube_again():
    text = HEAD + (
        '[[tube]]\nname = "third"\nmirror = { of = "second", across = "xz" }\n'
        '[[tube]]\nname = "second"\nmirror = { of = "leg", across = "xz" }\n'
    )
    third = shapes(text + LEG)["third"]
    assert corners(third.line)[1] == pytest.approx((0, 300, 600))
    assert third.line.rotations == shapes(text + LEG)["leg"].line.rotations


def test_a_straight_mirror_image_needs_no_die():
    text = HEAD + (
        '[[tube]]\nname = "rail"\ntubing = "304 38.1x1.65"\npoints = [[0, 9, 0], [500, 9, 0]]\n'
        '[[tube]]\nname = "other"\ndie = "25.4 on 75"\nmirror = { of = "rail", across = "xz" }\n'
    )
    assert shapes(text)["other"].findings == ()


def test_a_die_of_another_diameter_is_a_stop():
    found = shapes(HEAD + LEG.replace("38.1 on 115", "25.4 on 75"))["leg"].findings
    assert found[0].severity == "stop"
    assert "25.4 mm tube" in found[0].what
