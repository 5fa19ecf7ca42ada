"""What swings is kept clear over its whole travel."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from soapstone.fit.clearance import Clearance, KeepOut, clearance_findings, clearances, field
from soapstone.fit.motion import Hinge, combinations, poses, swung
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Solid, box_mesh

OD = 38.0
X, Y, Z, O = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, 0.0)  # noqa: E741
STRAIGHT = Centreline((-500.0, 0.0, 0.0), X, Y, (1000.0,))


def gap(solid: Solid, *hinges: Hinge, line: Centreline = STRAIGHT) -> Clearance:
    return clearances(line, OD, [KeepOut("door", solid, 10.0, hinges)])[0]


def test_a_ball_on_an_arm_is_nearest_at_the_bottom_of_its_swing() -> None:
    """Its centre goes round (0, 0, 400) at 250 mm, so it comes down to 150 above the tube."""
    found = gap(Ball((250.0, 0.0, 400.0), 100.0), Hinge((0.0, 0.0, 400.0), Y, 0.0, 180.0))
    assert found.gap == pytest.approx(150 - 50 - 19, abs=0.011)
    assert found.angles == pytest.approx((90.0,), abs=0.5)
    assert found.along == pytest.approx(500.0, abs=2)
    np.testing.assert_allclose(found.nearest, (0.0, 0.0, 100.0), atol=2)


def test_a_swing_that_stops_short_is_nearest_at_its_end() -> None:
    found = gap(Ball((250.0, 0.0, 400.0), 100.0), Hinge((0.0, 0.0, 400.0), Y, 0.0, 30.0))
    assert found.gap == pytest.approx(400 - 250 * np.sin(np.radians(30)) - 69, abs=0.011)
    assert found.angles == pytest.approx((30.0,), abs=0.1)


def test_the_swing_is_right_handed() -> None:
    """A plate along +x, turned about +y by a positive angle, goes down to -z."""
    plate = Box((200.0, 0.0, 300.0), (400.0, 100.0, 10.0))
    assert gap(plate, Hinge((0.0, 0.0, 300.0), Y, 0.0, 30.0)).gap < 100
    assert gap(plate, Hinge((0.0, 0.0, 300.0), Y, 0.0, -30.0)).gap > 240
    assert gap(plate, Hinge((0.0, 0.0, 300.0), (0.0, -1.0, 0.0), -30.0, 0.0)).gap < 100


def test_hinges_are_applied_first_to_last() -> None:
    """A ball on +y: about x it comes up to +z, then about y towards +x. About y first it stays."""
    ball, at = Ball((0.0, 300.0, 0.0), 50.0), 300 * np.sqrt(0.5)
    line = Centreline((float(at), -100.0, float(at)), Y, X, (200.0,))
    first, then = Hinge(O, X, 0.0, 90.0), Hinge(O, Y, 0.0, 90.0)
    assert gap(ball, first, then, line=line).gap == pytest.approx(-25 - 19, abs=0.02)
    assert gap(ball, then, first, line=line).gap > 50


def test_every_combination_of_two_hinges_is_kept_clear() -> None:
    """Neither swing alone comes near, both together do."""
    arm = Ball((200.0, 0.0, 500.0), 60.0)
    line = Centreline((-5.0, 0.0, 220.0), X, Y, (10.0,))
    steer, tilt = Hinge((0.0, 0.0, 500.0), Z, -90.0, 0.0), Hinge((0.0, 0.0, 500.0), X, 0.0, 90.0)
    assert min(gap(arm, tilt, line=line).gap, gap(arm, steer, line=line).gap) > 250
    both = gap(arm, steer, tilt, line=line)
    assert both.gap == pytest.approx(80 - 30 - 19, abs=0.02)
    assert both.angles == pytest.approx((-90.0, 90.0), abs=1)


def test_turning_on_the_spot_changes_nothing_and_takes_no_time() -> None:
    """Discs, balls and planes about their own axes, and a plate that stays flat under the tube."""
    cases: list[tuple[Solid, tuple[Hinge, ...]]] = [
        (Cylinder((0.0, 0.0, -90.0), (0.0, 0.0, -50.0), 900.0), (Hinge(O, Z, -180.0, 180.0),) * 2),
        (
            Ball((0.0, 0.0, -90.0), 80.0),
            (Hinge((0.0, 0.0, -90.0), (1.0, 1.0, 0.3), -180.0, 180.0),) * 3,
        ),
        (HalfSpace((0.0, 0.0, -50.0), Z), (Hinge((70.0, 0.0, 0.0), Z, -180.0, 180.0),)),
        (Box((0.0, 0.0, -60.0), (800.0, 800.0, 20.0)), (Hinge(O, Z, -45.0, 45.0),)),
        (Box((0.0, 0.0, -60.0), (800.0, 800.0, 20.0)), (Hinge(O, Z, -45.0, 45.0),) * 3),
    ]
    for solid, hinges in cases:
        assert gap(solid, *hinges).gap == pytest.approx(31.0, abs=0.011)


def test_two_hinges_on_one_line_act_as_one() -> None:
    """30 degrees each, one of them drawn the other way round, are 60 together."""
    box, at = Box((100.0, 50.0, 300.0), (200.0, 100.0, 50.0), (10.0, 20.0, 30.0)), (0.0, 0.0, 200.0)
    one = gap(box, Hinge(at, (0.2, 1.0, 0.0), -20.0, 40.0))
    first = Hinge(at, (0.2, 1.0, 0.0), -20.0, 10.0)
    then = Hinge((0.2, 1.0, 200.0), (-0.2, -1.0, 0.0), -30.0, 0.0)
    two = gap(box, first, then)
    assert two.gap == pytest.approx(one.gap, abs=1e-9)
    assert two.angles[0] - two.angles[1] == pytest.approx(one.angles[0])
    assert -20 <= two.angles[0] <= 10
    np.testing.assert_allclose(two.nearest, one.nearest, atol=1e-6)


def test_a_door_that_swings_through_the_tube_hits_it() -> None:
    door = Box((0.0, 0.0, 500.0), (600.0, 20.0, 1100.0))
    found = gap(door, Hinge((0.0, -200.0, 500.0), Z, -90.0, 90.0), Hinge(O, Z, -90.0, 90.0))
    assert found.gap == pytest.approx(-10 - 19, abs=0.02)


def test_a_closed_mesh_that_swings_over_a_tube_swallows_it() -> None:
    short = Centreline((-20.0, 0.0, 0.0), X, Y, (40.0,))
    mesh = box_mesh(Box((600.0, 0.0, 0.0), (500.0, 400.0, 300.0)))
    hinge = Hinge((300.0, 0.0, 0.0), Z, 0.0, 180.0)
    assert gap(mesh, line=short).gap == pytest.approx(350 - 20 - 19, abs=0.02)
    assert gap(mesh, hinge, line=short).gap == pytest.approx(-150 - 19, abs=0.02)


def test_a_swing_gains_nothing_from_being_named_backwards() -> None:
    box = Box((100.0, 50.0, 300.0), (200.0, 100.0, 50.0), (10.0, 20.0, 30.0))
    there = gap(box, Hinge((0.0, 0.0, 200.0), (0.2, 1.0, 0.0), -20.0, 70.0))
    back = gap(box, Hinge((0.0, 0.0, 200.0), (0.2, 1.0, 0.0), 70.0, -20.0))
    assert (there.gap, there.angles) == (back.gap, back.angles)


def test_a_longer_swing_is_never_clearer() -> None:
    box = Box((100.0, 50.0, 300.0), (200.0, 100.0, 50.0), (10.0, 20.0, 30.0))
    gaps = [
        gap(box, Hinge((0.0, 0.0, 250.0), (0.2, 1.0, 0.0), -stop, stop)).gap
        for stop in (0.0, 5.0, 20.0, 60.0, 180.0)
    ]
    assert all(more <= less + 0.01 for less, more in pairwise(gaps))


def test_a_finding_says_where_the_hinge_stands() -> None:
    arm = KeepOut("arm", Ball((250.0, 0.0, 400.0), 280.0), 10.0, (Hinge((0, 0, 400), Y, 0, 30),))
    finding = clearance_findings("leg", clearances(STRAIGHT, OD, [replace(arm, gap=200.0)]))[0]
    assert "with its hinge at 30.0°" in finding.what


@pytest.mark.parametrize(
    ("along", "start", "expected"),
    [(O, 0.0, "direction"), (Z, float("nan"), "numbers"), (Z, float("inf"), "numbers")],
)
def test_a_hinge_without_axis_or_angle_is_refused(along, start: float, expected: str) -> None:
    with pytest.raises(ValueError, match=expected):
        Hinge(O, along, start, 30.0)


def test_poses_take_a_point_back_to_where_the_drawn_solid_has_it() -> None:
    hinges = (
        Hinge((10.0, 0.0, 5.0), (1.0, 2.0, 0.0), -30.0, 40.0),
        Hinge(O, (0.0, 1.0, 3.0), 0.0, 90.0),
    )
    angles = combinations(hinges, 25.0)
    assert angles.shape == (4 * 5, 2)
    drawn = np.array([120.0, -40.0, 60.0])
    for at, row in zip(angles, poses(hinges, angles), strict=True):
        world = swung(drawn, hinges, list(at))
        np.testing.assert_allclose(row[:9].reshape(3, 3) @ world + row[9:], drawn, atol=1e-10)


def test_a_field_has_every_keepout_in_its_nearest_pose() -> None:
    from soapstone.geometry.distance_field import field_distances

    hinge = Hinge((0.0, 0.0, 400.0), Y, 0.0, 180.0)
    mesh = box_mesh(Box((250.0, 0.0, 400.0), (80.0, 80.0, 80.0)))
    keepouts = [
        KeepOut("arm", Ball((250.0, 0.0, 400.0), 100.0), 10.0, (hinge,)),
        KeepOut("block", Mesh(mesh.vertices, mesh.faces, mesh.at), 10.0, (hinge,)),
        KeepOut("deck", HalfSpace((0.0, 0.0, -50.0), Z), 10.0),
    ]
    found = field(keepouts, 15.0)
    points = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 150.0]])
    distances, gradients, rows = field_distances(found, points, np.inf)
    np.testing.assert_allclose(distances, [[100.0, 110.0, 50.0], [-50.0, -40.0, 200.0]], atol=1e-9)
    np.testing.assert_allclose(gradients[0], [[0, 0, -1], [0, 0, -1], [0, 0, 1]], atol=1e-9)
    assert found.angles[rows[0, 0], 0] == pytest.approx(90.0)
