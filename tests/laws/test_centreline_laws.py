"""What holds for every centreline: moves, mirrors, reversal, corners and back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.geometry.chain import corners, turns, walk
from soapstone.geometry.measure import bounds, length, mass
from soapstone.geometry.moves import mirror, reverse
from soapstone.geometry.vectors import wrap_degrees
from soapstone.shape.corners import line_from_corners
from tests.laws.centreline_strategies import centrelines, moved

OD = 38.1


def same_turn(a, b, atol):
    return np.allclose(wrap_degrees(np.array(a) - np.array(b)), 0, atol=atol)


@given(centrelines(least=1))
def test_corners_give_the_centreline_back(line):
    points = corners(line)
    back, findings = line_from_corners("tube", points, line.radii[0])
    assert findings == ()
    size = max(1.0, np.abs(points).max())
    assert np.allclose(back.legs, line.legs, atol=1e-9 * size)
    assert np.allclose(back.angles, line.angles, atol=1e-7)
    # a bend of half a degree turns its plane by far more than the corners' rounding
    assert same_turn(back.rotations, line.rotations, atol=1e-5)
    assert np.allclose(walk(back).nodes, walk(line).nodes, atol=1e-7)


@given(centrelines())
def test_reversing_twice_changes_nothing(line):
    there = reverse(line)
    assert np.allclose(walk(there).nodes, walk(line).nodes[::-1], atol=1e-6)
    back = reverse(there)
    assert back.legs == line.legs
    assert back.angles == line.angles
    assert back.rotations == line.rotations
    assert np.allclose(walk(back).nodes, walk(line).nodes, atol=1e-6)


@given(
    centrelines(least=2), st.tuples(*[st.floats(-1, 1)] * 3), st.tuples(*[st.floats(-99, 99)] * 3)
)
def test_a_mirror_image_turns_the_other_way(line, normal, at):
    if np.linalg.norm(normal) < 0.1:
        return
    image = mirror(line, at, normal)
    n = np.array(normal) / np.linalg.norm(normal)
    nodes = walk(line).nodes
    expected = nodes - 2 * ((nodes - np.array(at)) @ n)[:, None] * n
    assert np.allclose(walk(image).nodes, expected, atol=1e-6)
    assert image.legs == line.legs
    assert image.angles == line.angles
    assert same_turn(image.rotations, -np.array(line.rotations), atol=1e-12)
    assert all(-180 < rotation <= 180 for rotation in image.rotations)


@given(centrelines(least=1), st.data())
def test_where_a_tube_stands_does_not_change_it(line, data):
    other = data.draw(moved(line))
    assert length(other) == pytest.approx(length(line), rel=1e-12)
    assert other.rotations == line.rotations
    found = turns(np.array(corners(other)))
    assert np.allclose(found.angles, line.angles, atol=1e-7)
    assert mass(other, OD, 2.0, 8000).mass == pytest.approx(mass(line, OD, 2.0, 8000).mass)


@given(centrelines())
def test_both_ways_of_travel_have_one_box_and_one_centre_of_mass(line):
    other = reverse(line)
    assert np.allclose(bounds(line, OD), bounds(other, OD), atol=1e-6)
    assert np.allclose(
        mass(line, OD, 2.0, 8000).centre, mass(other, OD, 2.0, 8000).centre, atol=1e-6
    )


@settings(max_examples=50)
@given(centrelines(least=1, most=4, sharpest=340.0))
def test_wide_bends_have_corners_that_circumscribe_them(line):
    """Bends past half a turn too: each arc touches every side of its corners' polygon."""
    points = np.array(corners(line))
    back, findings = line_from_corners("tube", points, line.radii[0])
    assert findings == ()
    assert sum(back.angles) == pytest.approx(sum(line.angles))
    assert length(back) == pytest.approx(length(line), rel=1e-7)
    assert np.allclose(walk(back).nodes[-1], walk(line).nodes[-1], atol=1e-5)


def test_thousands_of_variants_go_together_as_they_go_alone():
    rng = np.random.default_rng(7)
    points = np.cumsum(rng.uniform(-400, 400, (5000, 6, 3)), axis=1)
    together = turns(points)
    for i in range(0, 5000, 500):
        alone = turns(points[i])
        assert np.array_equal(alone.angles, together.angles[i])
        assert np.array_equal(alone.rotations, together.rotations[i])
