"""Impossible shapes name the corner and how much is missing; possible ones come out true."""

import math

import pytest

from soapstone.geometry.measure import length
from soapstone.shape.corners import line_from_corners


def fault(points, radius=100.0):
    line, findings = line_from_corners("leg", points, radius)
    assert line is None
    assert all(finding.severity == "stop" for finding in findings)
    return [f"{finding.where}: {finding.what}" for finding in findings]


def test_a_path_worked_by_hand():
    """Two right angles with R 100: straights 200, 50, 300, one quarter turn, cut length 864.159."""
    points = [(0, 0, 0), (300, 0, 0), (300, 250, 0), (300, 250, 400)]
    line, findings = line_from_corners("leg", points, 100)
    assert findings == ()
    assert line.legs == pytest.approx((200, 50, 300))
    assert line.angles == pytest.approx((90, 90))
    assert line.rotations == pytest.approx((0, 90))
    assert length(line) == pytest.approx(864.159, abs=1e-3)


def test_an_offset_worked_by_trigonometry():
    """Rise 150 at 30 degrees with R 114.3: sloped side 300, straight between the bends 238.747."""
    run = 150 / math.tan(math.radians(30))
    points = [(0, 0, 0), (500, 0, 0), (500 + run, 0, 150), (1200, 0, 150)]
    line, _ = line_from_corners("offset", points, 114.3)
    assert line.legs[1] == pytest.approx(238.747, abs=1e-3)
    assert line.angles == pytest.approx((30, 30))
    assert line.rotations == pytest.approx((0, 180))


def test_bends_that_overlap_say_which_and_by_how_much():
    faults = fault([(0, 0, 0), (300, 0, 0), (300, 150, 0), (600, 150, 0)])
    assert faults == [
        (
            "leg, point 2 to 3: the bends at its two ends need 200.0 mm between their corners, "
            "there is 150.0 mm: 50.0 mm missing"
        )
    ]


def test_an_end_too_near_its_bend_says_which_end():
    faults = fault([(0, 0, 0), (60, 0, 0), (60, 300, 0), (140, 300, 0)])
    assert "point 1 to 2: the bend at point 2 needs 100.0 mm before it" in faults[0]
    assert "point 3 to 4: the bend at point 3 needs 100.0 mm after it" in faults[1]
    assert "20.0 mm missing" in faults[1]


def test_a_straight_tube_needs_no_bend():
    line, findings = line_from_corners("rail", [(0, 0, 0), (0, 0, 5)], 100)
    assert (line.legs, line.angles, findings) == ((5.0,), (), ())


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0, 0), (300, 0, 0), (600, 0, 0)], "point 2: the tube goes straight through it"),
        ([(0, 0, 0), (300, 0, 0), (10, 0, 0)], "point 2: the tube doubles back on itself"),
        ([(0, 0, 0), (300, 0, 0), (300, 0, 0)], "point 2 and 3: the two points are the same"),
        ([(0, 0, 0), (0, 0, 0)], "point 1 and 2: the two points are the same"),
    ],
)
def test_corners_that_are_none(points, says):
    assert any(says in text for text in fault(points))


def test_every_fault_is_told_at_once():
    points = [(0, 0, 0), (300, 0, 0), (600, 0, 0), (600, 0, 0), (600, 300, 0), (600, 0, 0)]
    faults = fault(points)
    assert len(faults) == 3


def test_lengths_are_told_in_the_owners_units():
    _, findings = line_from_corners(
        "leg", [(0, 0, 0), (60, 0, 0), (60, 300, 0)], 100, say=lambda mm: f"{mm / 25.4:.2f} in"
    )
    assert "3.94 in" in findings[0].what
