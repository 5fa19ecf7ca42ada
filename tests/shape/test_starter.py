"""Starter shapes measure, as bent, what was asked for; what cannot be had is told by how much."""

import re
from dataclasses import replace

import numpy as np
import pytest

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import sample, walk
from soapstone.geometry.measure import bounds
from soapstone.geometry.vectors import any_perpendicular, cross
from soapstone.quantities import format_length
from soapstone.shape.corners import line_from_corners
from soapstone.shape.measured import (
    Bent,
    StarterShape,
    box_saddle,
    gooseneck,
    hoop,
    leaning_u,
    offset,
    offset_by_length,
    reverse_curve,
    saddle,
)
from soapstone.shape.starter import STARTERS, starter_shape

TUBE = Bent(od=38.1, clr=114.3)


def bent(shape: StarterShape, tube: Bent = TUBE) -> Centreline:
    assert not shape.findings
    line, findings = line_from_corners("tube", shape.points, tube.clr)
    assert line is not None, findings
    return line


def box(shape: StarterShape, tube: Bent = TUBE) -> tuple[np.ndarray, np.ndarray]:
    least, most = bounds(bent(shape, tube), tube.od)
    return np.array(least), np.array(most)


# --- as measured --------------------------------------------------------------------------------


def test_hoop_is_as_wide_and_high_as_asked_outside() -> None:
    shape = hoop(TUBE, width=1200, height=900)
    least, most = box(shape)
    assert most - least == pytest.approx([38.1, 1200, 900], abs=1e-9)
    assert least[2] == pytest.approx(0)
    assert bent(shape).angles == pytest.approx((90, 90))


@pytest.mark.parametrize(("lean", "back"), [(0, 0), (8, 0), (-15, 0), (0, 20), (10, 12), (-5, -30)])
def test_leaning_u_stands_as_measured(lean: float, back: float) -> None:
    shape = leaning_u(TUBE, width=1300, height=900, lean=lean, back=back)
    line = bent(shape)
    way = walk(line)
    _, most = box(shape)
    assert most[2] == pytest.approx(900)
    # outside to outside on the floor: every line along the leg's skin, brought down to z = 0
    down = way.directions[0]
    beside = any_perpendicular(down)
    turned = np.linspace(0, 2 * np.pi, 100_001)[:, None]
    skin = way.nodes[0] + TUBE.od / 2 * (
        np.cos(turned) * beside + np.sin(turned) * cross(down, beside)
    )
    on_floor = skin - skin[:, 2:] / down[2] * down
    assert 2 * np.abs(on_floor[:, 1]).max() == pytest.approx(1300, abs=1e-5)
    # the lean as read square to the U, and the tip of its plane from plumb
    normal = cross(way.directions[0], way.directions[1])
    across = np.array([0.0, 1.0, 0.0])
    in_plane = cross(normal / np.linalg.norm(normal), across)
    tipped = np.degrees(np.arctan2(-in_plane[0], in_plane[2]))
    assert (tipped + 90) % 180 - 90 == pytest.approx(back, abs=1e-9)
    assert np.degrees(np.arcsin(down @ across)) == pytest.approx(lean, abs=1e-9)
    assert line.angles == pytest.approx((90 - lean, 90 - lean))


def test_offset_agrees_with_the_elementary_relations() -> None:
    # rise 150, 30°, R 114.3: run 259.808, sloped leg 300, straight between the bends 238.747, each
    # arc 59.847, from R tan(t / 2), R t, rise / sin t and rise / tan t, computed by hand
    shape = offset(TUBE, rise=150, angle=30, ends=300)
    points = np.array(shape.points)
    assert points[2] - points[1] == pytest.approx([259.808, 0, 150], abs=5e-4)
    assert np.linalg.norm(points[2] - points[1]) == pytest.approx(300)
    line = bent(shape)
    assert line.legs[1] == pytest.approx(238.747, abs=1e-3)
    assert line.radii[0] * np.radians(line.angles[0]) == pytest.approx(59.847, abs=1e-3)
    assert line.rotations == pytest.approx((0, 180))


@pytest.mark.parametrize(
    ("angle", "multiplier"), [(10, 6.0), (22.5, 2.6), (30, 2.0), (45, 1.4), (60, 1.2)]
)
def test_offset_agrees_with_the_multipliers_of_the_trade(angle: float, multiplier: float) -> None:
    # distance between bends over rise, as rounded in the trade: common practice, from memory; the
    # coarsest of them is 4 % off
    points = np.array(offset(Bent(20, 30), rise=200, angle=angle, ends=300).points)
    assert np.linalg.norm(points[2] - points[1]) / 200 == pytest.approx(multiplier, rel=0.045)


def test_offset_by_length_is_the_same_offset() -> None:
    by_angle = offset(TUBE, rise=150, angle=30, ends=250)
    by_length = offset_by_length(TUBE, rise=150, run=150 * np.sqrt(3), ends=250)
    assert np.array(by_length.points) == pytest.approx(np.array(by_angle.points))


@pytest.mark.parametrize("angle", [20, 45, 60, 90])
def test_saddle_lifts_the_tube_itself_by_the_height(angle: float) -> None:
    shape = saddle(TUBE, height=160, angle=angle, ends=300)
    least, most = box(shape)
    assert most[2] == pytest.approx(160 + TUBE.od / 2)
    assert least[2] == pytest.approx(-TUBE.od / 2)
    assert bent(shape).angles == pytest.approx((angle / 2, angle, angle / 2))
    assert least[0] == pytest.approx(-most[0])


def test_box_saddle_lies_flat_on_the_box() -> None:
    shape = box_saddle(TUBE, height=150, width=220, angle=45, ends=300)
    line = bent(shape)
    over = sample(line, 1.0)
    over = over[np.abs(over[:, 0]) <= 110 + 1e-9]
    assert over[:, 2] == pytest.approx(150)
    assert over[:, 0].max() == pytest.approx(110)
    assert line.angles == pytest.approx((45,) * 4)
    _, most = box(shape)
    assert most[2] == pytest.approx(150 + TUBE.od / 2)


@pytest.mark.parametrize("down", [30, 60, 90, 120])
def test_gooseneck_reaches_its_mouth(down: float) -> None:
    shape = gooseneck(TUBE, height=1000, reach=520, drop=200, down=down)
    least, most = box(shape)
    assert most[2] == pytest.approx(1000)
    assert least[0] == pytest.approx(-TUBE.od / 2)
    mouth = walk(bent(shape)).nodes[-1]
    assert mouth[0] - least[0] == pytest.approx(520)
    assert most[2] - mouth[2] == pytest.approx(200)
    assert bent(shape).angles == pytest.approx((90, down))


@pytest.mark.parametrize("between", [0, 80, 200])
@pytest.mark.parametrize("across", [60, 150, 240])
def test_s_is_as_wide_and_long_as_asked(across: float, between: float) -> None:
    shape = reverse_curve(TUBE, across=across, length=900, between=between)
    line = bent(shape)
    least, most = box(shape)
    assert most - least == pytest.approx([900, 38.1, across])
    assert line.legs[1] == pytest.approx(between, abs=1e-6)
    assert line.angles[0] == pytest.approx(line.angles[1])


# --- the table ----------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", STARTERS)
def test_every_shape_can_be_bent_from_its_usual_numbers(name: str, units: str) -> None:
    numbers = {m.key: m.start(units) for m in STARTERS[name].measures}
    line = bent(starter_shape(name, TUBE, numbers))
    assert min(line.legs) > 40  # room for a clamp
    for measure in STARTERS[name].measures:
        number = numbers[measure.key]
        assert measure.least <= number <= measure.most
        if measure.kind == "length" and units == "in":
            assert number / 25.4 == pytest.approx(round(number / 25.4))


def test_names_and_numbers_that_do_not_belong_are_misuse() -> None:
    with pytest.raises(ValueError, match='no starter shape "hop"; did you mean "hoop"'):
        starter_shape("hop", TUBE, {})
    with pytest.raises(ValueError, match="a hoop is made from width, height"):
        starter_shape("hoop", TUBE, {"width": 3})


def test_numbers_outside_their_limits_are_told_all_at_once() -> None:
    numbers = {"rise": -5, "angle": 95, "ends": float("nan")}
    shape = starter_shape("offset", TUBE, numbers)
    assert not shape.points
    assert [finding.where for finding in shape.findings] == [
        "offset, rise",
        "offset, angle",
        "offset, ends",
    ]
    assert "expected 1° to 90°, found 95°" in str(shape.findings[1])
    usual = {m.key: m.usual for m in STARTERS["s"].measures}
    assert not starter_shape("s", TUBE, usual | {"between": 0}).findings
    assert starter_shape("s", TUBE, usual | {"length": 0}).findings


# --- what cannot be had -------------------------------------------------------------------------

NEVER_TOO_SMALL = {("offset by length", "rise"), ("box saddle", "width"), ("s", "across")}
TOO_SMALL = [
    (name, measure.key)
    for name, starter in STARTERS.items()
    for measure in starter.measures
    if measure.kind == "length" and (name, measure.key) not in NEVER_TOO_SMALL
]


@pytest.mark.parametrize(("name", "key"), TOO_SMALL)
def test_what_is_too_small_is_told_by_how_much_to_the_last_tenth(name: str, key: str) -> None:
    """At the length named the shape can just be bent: a straight of it is nothing."""
    usual = {m.key: m.usual for m in STARTERS[name].measures}
    if key == "between":
        usual["across"] = 38.1 + 2 * TUBE.clr + 60
    exact = replace(TUBE, say=lambda mm: f"<{mm!r}>")
    small = {**usual, key: 1.0}
    shape = starter_shape(name, exact, small)
    assert not shape.points
    (finding,) = [f for f in shape.findings if f.where == f"{name}, {key}"]
    found, short, need, *_, clr = map(float, re.findall("<(.*?)>", finding.what))
    assert found == 1
    assert found + short == pytest.approx(need)
    assert clr == TUBE.clr
    line = bent(starter_shape(name, TUBE, {**usual, key: need + 1e-6}))
    tight = min(line.legs)
    if key == "between":
        assert line.angles == pytest.approx((90, 90), abs=1e-3)
    else:
        assert tight == pytest.approx(0, abs=1e-3)
    assert not starter_shape(name, TUBE, {**usual, key: need - 0.1}).points


def test_findings_speak_the_shop_s_units() -> None:
    tube = replace(TUBE, say=lambda mm: format_length(mm, "in"))
    (finding,) = hoop(tube, width=10 * 25.4, height=900).findings
    assert str(finding) == (
        'hoop, width: 10" is 1/2" short of the 10 1/2" that two bends of 90° and the tube take '
        'at CLR 4 1/2"; make it larger, or take a die of smaller radius'
    )


def test_an_s_no_wider_than_the_tube_is_none() -> None:
    (finding,) = reverse_curve(TUBE, across=38, length=900, between=0).findings
    assert "38.0 mm is no more than the tube itself, 38.1 mm" in str(finding)
