"""Solids have a size, stand where they are put, and meshes know whether they are closed."""

import numpy as np
import pytest

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.mesh_shells import CLOSED, MUDDLED, OPEN, is_closed, shells
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    box_mesh,
    turn_matrix,
)
from tests.geometry.meshes import lumpy_ball

O = (0.0, 0.0, 0.0)  # noqa: E741
LINE = Centreline(O, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (100.0,))
CORNERS = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], dtype=float)
ONE = np.array([[0, 1, 2]])


@pytest.mark.parametrize(
    ("make", "expected"),
    [
        (lambda: Box(O, (100.0, 0.0, 50.0)), "edge of a box"),
        (lambda: Box(O, (100.0, -3.0, 50.0)), "edge of a box"),
        (lambda: Box((0.0, float("nan"), 0.0), (1.0, 1.0, 1.0)), "three numbers"),
        (lambda: Cylinder(O, O, 20.0), "length"),
        (lambda: Cylinder(O, (0.0, 0.0, 5.0), 0.0), "diameter"),
        (lambda: Ball(O, 0.0), "diameter"),
        (lambda: Ball(O, float("inf")), "diameter"),
        (lambda: HalfSpace(O, O), "normal"),
        (lambda: Rod(LINE, 0.0), "diameter"),
        (lambda: Mesh(CORNERS, np.empty((0, 3), np.int64)), "at least one triangle"),
        (lambda: Mesh(CORNERS, np.array([[0, 1, 3]])), "vertices that it has"),
        (lambda: Mesh(CORNERS * 0, ONE), "extent"),
        (lambda: Mesh(CORNERS * np.nan, ONE), "numbers"),
        (lambda: Mesh(CORNERS[:, :2], ONE), "x, y, z"),
    ],
)
def test_a_solid_without_thickness_is_refused(make, expected: str) -> None:
    with pytest.raises(ValueError, match=expected):
        make()


def test_turns_are_about_fixed_x_then_y_then_z() -> None:
    """x goes to y by the turn about z; y first to z about x, and then on to x about y."""
    np.testing.assert_allclose(turn_matrix((0, 0, 90)) @ [1, 0, 0], [0, 1, 0], atol=1e-15)
    np.testing.assert_allclose(turn_matrix((90, 90, 0)) @ [0, 1, 0], [1, 0, 0], atol=1e-15)
    np.testing.assert_allclose(turn_matrix((90, 0, 90)) @ [0, 0, 1], [1, 0, 0], atol=1e-15)


def test_a_mesh_is_turned_about_its_origin_and_then_moved() -> None:
    mesh = Mesh(CORNERS + np.eye(3)[0], ONE, (10.0, 0.0, 5.0), (0.0, 0.0, 90.0))
    np.testing.assert_allclose(mesh.triangles()[0], [[10, 1, 5], [10, 2, 5], [9, 1, 5]], atol=1e-12)


def test_a_mesh_is_closed_when_no_edge_is_free() -> None:
    ball = lumpy_ball(20)
    assert is_closed(Mesh(*ball))
    assert not is_closed(Mesh(ball[0], ball[1][:-1]))
    assert is_closed(box_mesh(Box((5.0, 6.0, 7.0), (1.0, 2.0, 3.0), (10.0, 20.0, 30.0))))


def test_a_mesh_that_repeats_its_vertices_is_closed_all_the_same() -> None:
    """As STL does: each triangle has corners of its own, and they are of single precision."""
    vertices, faces = lumpy_ball(20)
    corners = vertices[faces].astype(np.float32).astype(float).reshape(-1, 3)
    assert is_closed(Mesh(corners, np.arange(len(corners)).reshape(-1, 3)))


def test_triangles_that_are_only_points_or_lines_leave_a_mesh_closed() -> None:
    vertices, faces = lumpy_ball(20)
    flat = np.array([[3, 3, 3], [4, 5, 5], [4, 4, 9]])
    assert is_closed(Mesh(vertices, np.concatenate([faces, flat])))


def test_each_surface_of_a_mesh_is_judged_by_itself() -> None:
    """A closed ball, one with a hole, and one with a triangle turned round, in one mesh."""
    vertices, faces = lumpy_ball(20)
    turned = faces.copy()
    turned[5] = turned[5][::-1]
    n = len(vertices)
    parts = [faces, faces[:-1] + n, turned + 2 * n]
    apart = np.concatenate([vertices, vertices + 1000, vertices + 2000])
    kinds = shells(Mesh(apart, np.concatenate(parts)))
    found = [set(part.tolist()) for part in np.split(kinds, np.cumsum([len(p) for p in parts[:2]]))]
    assert found == [{CLOSED}, {OPEN}, {MUDDLED}]
