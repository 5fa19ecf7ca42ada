"""Gaps a fabricator can work out by hand, and what is said of them."""

from dataclasses import replace

import numpy as np
import pytest

from soapstone.fit.clearance import Clearance, KeepOut, clearance_findings, clearances, least_gap
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
    box_mesh,
)
from tests.geometry.meshes import lumpy_ball

OD = 38.0
STRAIGHT = Centreline((-500.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1000.0,))
CORNER = Centreline(  # along x, then a quarter turn of radius 100 about (0, 100, 0), then along y
    (-300.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (300.0, 300.0), (90.0,), (0.0,), (100.0,)
)


def gap(line: Centreline, solid: Solid) -> Clearance:
    return clearances(line, OD, [KeepOut("it", solid, 10.0)])[0]


@pytest.mark.parametrize(
    ("solid", "expected"),
    [
        (Box((0.0, 0.0, -60.0), (300.0, 200.0, 20.0)), 31.0),  # flat under it
        (
            Box((0.0, 0.0, -60.0), (300.0, 20.0, 20.0), (45.0, 0.0, 0.0)),
            41 - np.sqrt(200),
        ),  # on edge
        (Box((560.0, 0.0, 0.0), (20.0, 20.0, 20.0)), 31.0),  # beyond its B end
        (Box((0.0, 0.0, 0.0), (2000.0, 60.0, 80.0)), -49.0),  # all round it: depth and radius
        (Cylinder((0.0, -200.0, 80.0), (0.0, 200.0, 80.0), 60.0), 31.0),  # across
        (Cylinder((-400.0, 0.0, 80.0), (400.0, 0.0, 80.0), 60.0), 31.0),  # along
        (Cylinder((0.0, 0.0, 50.0), (0.0, 0.0, 90.0), 60.0), 31.0),  # its flat end
        (Ball((0.0, 60.0, 80.0), 60.0), 51.0),
        (Ball((0.0, 0.0, 0.0), 60.0), -49.0),
        (HalfSpace((9.0, 9.0, -50.0), (0.0, 0.0, 3.0)), 31.0),
        (HalfSpace((9.0, 9.0, 50.0), (0.0, 0.0, 3.0)), -69.0),
    ],
)
def test_gap_of_a_straight_tube(solid: Solid, expected: float) -> None:
    found = gap(STRAIGHT, solid)
    assert found.gap == pytest.approx(expected, abs=0.011)
    assert found.gap <= expected + 1e-9 <= found.high + 2e-9


def test_gap_of_a_bend_is_that_of_its_arc_and_not_of_its_corner() -> None:
    """The arc passes (100 sin 45, 100 - 100 cos 45), 100 from its centre; the corner is nearer."""
    at = 100 * np.sqrt(0.5)
    found = gap(CORNER, Ball((at + 60 * np.sqrt(0.5), 100 - at - 60 * np.sqrt(0.5), 0.0), 40.0))
    assert found.gap == pytest.approx(60 - 20 - 19, abs=0.011)
    assert found.along == pytest.approx(300 + 50 * np.pi / 2, abs=0.1)
    np.testing.assert_allclose(found.point, (at, 100 - at, 0.0), atol=0.1)


def test_the_place_named_is_where_the_gap_is() -> None:
    found = gap(STRAIGHT, Ball((123.0, 0.0, 100.0), 50.0))
    assert found.along == pytest.approx(623.0, abs=0.5)
    np.testing.assert_allclose(found.point, (123.0, 0.0, 0.0), atol=0.5)
    np.testing.assert_allclose(found.nearest, (123.0, 0.0, 75.0), atol=0.5)
    assert found.angles == ()


def test_another_tube_of_the_job() -> None:
    across = Centreline((0.0, -300.0, 90.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0), (600.0,))
    assert gap(STRAIGHT, Rod(across, 42.0)).gap == pytest.approx(90 - 19 - 21, abs=0.015)
    higher = Centreline(
        (-300.0, 0.0, 90.0), *CORNER_WAYS, (300.0, 300.0), (90.0,), (0.0,), (100.0,)
    )
    assert gap(CORNER, Rod(higher, 42.0)).gap == pytest.approx(90 - 19 - 21, abs=0.015)


CORNER_WAYS = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def test_a_tube_inside_a_closed_solid_hits_it_without_touching_its_surface() -> None:
    short = Centreline((-50.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (100.0,))
    boxed = gap(short, box_mesh(Box((0.0, 0.0, 0.0), (800.0, 700.0, 600.0))))
    assert boxed.gap == pytest.approx(-300 - 19, abs=0.02)
    assert gap(short, Mesh(*lumpy_ball(40))).gap < -200


def test_a_tube_through_a_closed_mesh_is_as_deep_as_in_the_solid() -> None:
    box = Box((30.0, 20.0, 10.0), (500.0, 300.0, 200.0), (0.0, 0.0, 20.0))
    mesh, solid = gap(STRAIGHT, box_mesh(box)), gap(STRAIGHT, box)
    assert mesh.gap == pytest.approx(solid.gap, abs=0.02)
    assert mesh.gap < -19


def test_a_mesh_with_free_edges_has_no_inside() -> None:
    """The same box without its lid: the tube inside is clear of its walls."""
    closed = box_mesh(Box((0.0, 0.0, 0.0), (2000.0, 400.0, 300.0)))
    lid = np.abs(closed.triangles()[:, :, 2].mean(axis=1) - 150) < 1e-9
    openbox = Mesh(closed.vertices, closed.faces[~lid], closed.at, closed.turn)
    assert gap(STRAIGHT, openbox).gap == pytest.approx(150 - 19, abs=0.011)


def test_a_mesh_turned_inside_out_is_the_same_solid() -> None:
    box = box_mesh(Box((0.0, 0.0, 0.0), (2000.0, 400.0, 300.0)))
    inside_out = Mesh(box.vertices, box.faces[:, ::-1].copy())
    assert gap(STRAIGHT, inside_out).gap == pytest.approx(-169, abs=0.02)


def joined(*meshes: Mesh) -> Mesh:
    """Several meshes as one."""
    corners = np.concatenate([mesh.triangles().reshape(-1, 3) for mesh in meshes])
    return Mesh(corners, np.arange(len(corners)).reshape(-1, 3))


SHORT = Centreline((-50.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (100.0,))
ROOM = box_mesh(Box((0.0, 0.0, 0.0), (800.0, 700.0, 600.0)))


def test_a_tube_inside_two_parts_that_overlap_hits_them() -> None:
    """Counted by even and odd it would be outside."""
    other = box_mesh(Box((30.0, 0.0, 0.0), (800.0, 600.0, 500.0)))
    assert gap(SHORT, joined(ROOM, other)).gap < -200


def test_a_tube_in_a_hollow_is_clear_of_its_walls() -> None:
    hollow = box_mesh(Box((0.0, 0.0, 0.0), (400.0, 300.0, 200.0)))
    inward = Mesh(hollow.vertices, hollow.faces[:, ::-1].copy())
    assert gap(SHORT, joined(ROOM, inward)).gap == pytest.approx(100 - 19, abs=0.011)


def test_a_closed_part_stays_solid_beside_an_open_sheet() -> None:
    sheet = Mesh(
        np.array([[900, 0, 0], [950, 0, 0], [900, 90, 0]], dtype=float), np.array([[0, 1, 2]])
    )
    assert gap(SHORT, joined(ROOM, sheet)).gap == pytest.approx(-300 - 19, abs=0.02)


def test_flat_contact_of_a_scan_with_thousands_of_triangles_is_found_at_once() -> None:
    """80,000 triangles of one plane, equally near; it would take minutes were each gone into."""
    from soapstone.geometry.distance import least_distance, line_pieces

    side = np.linspace(-600, 600, 201)
    x, y = np.meshgrid(side, side, indexing="ij")
    vertices = np.stack([x, y, 0 * x - 50], axis=-1).reshape(-1, 3)
    i = (np.arange(200)[:, None] * 201 + np.arange(200)).ravel()
    faces = np.concatenate([np.stack([i, i + 201, i + 202], 1), np.stack([i, i + 202, i + 1], 1)])
    keepout = KeepOut("deck", Mesh(vertices, faces), 10.0)
    found = clearances(CORNER, OD, [keepout])[0]
    assert found.gap == pytest.approx(31.0, abs=0.011)
    assert least_distance(line_pieces(STRAIGHT), keepout.packed).high == pytest.approx(50.0)


def test_a_tube_without_bends_or_a_leg_of_no_length() -> None:
    bent = Centreline(
        (0.0, 0.0, 0.0), *CORNER_WAYS, (0.0, 0.0, 50.0), (90.0, 90.0), (0.0, 180.0), (100.0, 100.0)
    )
    floor = HalfSpace((0.0, 0.0, -40.0), (0.0, 0.0, 1.0))
    assert gap(bent, floor).gap == pytest.approx(21.0, abs=0.011)


KEEPOUTS = [
    KeepOut("deck", HalfSpace((0.0, 0.0, -50.0), (0.0, 0.0, 1.0)), 10.0),
    KeepOut("tank", Ball((0.0, 0.0, 100.0), 150.0), 10.0),
    KeepOut("post", Cylinder((300.0, 10.0, -99.0), (300.0, 10.0, 99.0), 20.0), 10.0),
    KeepOut("far", Ball((0.0, 0.0, 900.0), 50.0), 10.0),
]


def test_least_gap_is_the_least_of_all() -> None:
    each = clearances(STRAIGHT, OD, KEEPOUTS)
    assert [one.keepout for one in each] == ["deck", "tank", "post", "far"]
    least = least_gap(STRAIGHT, OD, KEEPOUTS)
    assert least == min(each, key=lambda one: one.gap)
    assert least is not None
    assert least.keepout == "post"
    assert least_gap(STRAIGHT, OD, []) is None


def test_findings_name_what_is_too_near_the_worst_first() -> None:
    findings = clearance_findings("port leg", clearances(STRAIGHT, OD, KEEPOUTS))
    far = "move it {} mm further off there, or find a route around it"
    post = 'port leg: hits "post" by 19.0 mm, 800.0 mm from the A end; ' + far.format("29.0")
    tank = 'port leg: clears "tank" by 6.0 mm of 10.0 mm, 500.0 mm from the A end; '
    assert [str(finding) for finding in findings] == [post, tank + far.format("4.0")]
    assert {finding.severity for finding in findings} == {"stop"}


def test_a_gap_that_is_just_kept_is_no_finding() -> None:
    deck = KeepOut("deck", HalfSpace((0.0, 0.0, -50.0), (0.0, 0.0, 1.0)), 31.0)
    assert clearance_findings("leg", clearances(CORNER, OD, [deck])) == []


def test_a_gap_that_could_not_be_made_certain_is_a_warning() -> None:
    found = gap(STRAIGHT, Ball((0.0, 0.0, 100.0), 100.0))
    findings = clearance_findings("leg", [replace(found, gap=2.0, wanted=30.0)])
    assert [finding.severity for finding in findings] == ["warn"]
    assert "only 2.0 mm could be made certain, of 30.0 mm" in findings[0].what


def test_gaps_above_the_ceiling_need_not_be_told_apart() -> None:
    found = clearances(STRAIGHT, OD, KEEPOUTS, ceiling=5.0)
    assert all(one.gap >= 5.0 or one.high - one.gap < 0.011 for one in found)
    assert found[2].gap == pytest.approx(-19.0, abs=0.011)


def test_a_thick_tube_beyond_the_ceiling_is_not_taken_for_the_nearest() -> None:
    # two bent tubes 90 mm apart, surface to surface 50 mm; the deck is nearer
    higher = Centreline(
        (-300.0, 0.0, 90.0), *CORNER_WAYS, (300.0, 300.0), (90.0,), (0.0,), (100.0,)
    )
    deck = KeepOut("deck", HalfSpace((0.0, 0.0, -59.0), (0.0, 0.0, 1.0)), 10.0)
    least = least_gap(CORNER, OD, [deck, KeepOut("other leg", Rod(higher, 42.0), 10.0)])
    assert least is not None
    assert least.keepout == "deck"
    found = clearances(CORNER, OD, [KeepOut("other leg", Rod(higher, 42.0), 10.0)], ceiling=20.0)
    assert found[0].gap >= 20.0
