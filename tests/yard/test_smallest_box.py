"""The smallest box about tubes: closed forms, points of the surface, and what turning changes."""

import numpy as np
import pytest

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.measure import bounds
from soapstone.geometry.moves import mirror, move
from soapstone.geometry.reach import body_of, far
from soapstone.yard.smallest_box import smallest_box
from tests.truth.surfaces import surface

ORIGIN, X, Y = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
TWISTED = Centreline(ORIGIN, X, Y, (310.0, 240.0, 420.0), (70.0, 35.0), (0.0, 80.0), (115.0, 115.0))


def box_of(line: Centreline, od: float = 38.1):
    return smallest_box(body_of([(line, od)]))


def test_a_straight_tube_fills_its_box_end_to_end() -> None:
    slanting = Centreline((5.0, 6.0, 7.0), (0.48, 0.6, 0.64), (0.8, -0.64, 0.0), (6000.0,))
    box = box_of(slanting)
    assert box.size == pytest.approx((6000.0, 38.1, 38.1), abs=1e-4)
    assert abs(box.axes[0] @ (0.48, 0.6, 0.64)) == pytest.approx(1.0, abs=1e-9)


def test_a_ring_with_a_gap_lies_with_the_gap_to_one_side() -> None:
    # of all ways round, the box is smallest where it cuts off the most: (R + r)(1 + cos(gap / 2))
    ring = Centreline(ORIGIN, X, Y, (0.0, 0.0), (320.0,), (0.0,), (300.0,))
    outside = 300.0 + 19.05
    wanted = (2 * outside, outside * (1 + np.cos(np.radians(20.0))), 38.1)
    assert box_of(ring).size == pytest.approx(wanted, rel=1e-6)


def test_half_a_ring_lies_flat_on_its_ends() -> None:
    # as long as it is wide outside, 2 (R + r), and R + r high
    bend = Centreline(ORIGIN, X, Y, (0.0, 0.0), (180.0,), (0.0,), (100.0,))
    assert box_of(bend, 20.0).size == pytest.approx((220.0, 110.0, 20.0), rel=1e-6)


def test_every_point_of_the_tube_is_in_the_box_and_touches_its_six_sides() -> None:
    box = box_of(TWISTED)
    places = (surface(TWISTED, 38.1) - box.centre) @ box.axes.T
    half = np.array(box.size) / 2
    assert np.abs(places).max(axis=0) == pytest.approx(half, abs=0.05)
    assert -places.min(axis=0) == pytest.approx(half, abs=0.05)
    assert (np.abs(places) <= half + 1e-6).all()


def test_the_proof_is_near_the_box() -> None:
    box = box_of(TWISTED)
    assert 0.997 * box.volume < box.least <= box.volume


@pytest.mark.parametrize("turned", [101.0])
def test_turning_or_mirroring_a_tube_leaves_its_box_as_large(turned: float) -> None:
    size = box_of(TWISTED).size
    other = move(mirror(TWISTED, (10.0, 0.0, 0.0), (1.0, 2.0, 3.0)), (50.0, 60.0, 70.0), X, turned)
    assert box_of(other).size == pytest.approx(size, rel=1e-4)


def test_how_far_a_tube_reaches_is_its_box_along_the_axes() -> None:
    low, high = bounds(TWISTED, 38.1)
    body = body_of([(TWISTED, 38.1)])
    assert far(body, np.eye(3)) == pytest.approx(high)
    assert -far(body, -np.eye(3)) == pytest.approx(low)
