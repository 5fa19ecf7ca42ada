"""Tubes laid into one another: they do not touch, they are all in the box, and it is smaller."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chords import chords_of, least_gap
from soapstone.geometry.moves import mirror
from soapstone.yard.nested import APART, pack_together
from tests.truth.surfaces import surface

ORIGIN, X, Y = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
OD = 38.1
SQUARE = Centreline(ORIGIN, X, Y, (500.0, 700.0), (90.0,), (0.0,), (115.0,))
LEG = Centreline(ORIGIN, X, Y, (310.0, 240.0, 420.0), (70.0, 35.0), (0.0, 80.0), (115.0, 115.0))


@pytest.fixture(scope="module")
def pair():
    """A leg and its mirror image, packed."""
    return pack_together([(LEG, OD), (mirror(LEG, ORIGIN, Y), OD)])


def placed(packed, lines):
    return [
        surface(line, OD) @ turn.T + shift
        for line, (turn, shift) in zip(lines, packed.poses, strict=True)
    ]


def test_a_mirrored_pair_takes_less_room_than_its_two_boxes(pair) -> None:
    assert pair.box.volume < 0.75 * sum(box.volume for box in pair.alone)


def test_a_mirrored_pair_does_not_touch(pair) -> None:
    one, other = placed(pair, [LEG, mirror(LEG, ORIGIN, Y)])
    # rings of points lie up to 4 mm apart along straights' ends only; along arcs they are dense
    nearest = cKDTree(one).query(other)[0].min()
    assert pair.gap >= APART - 1e-6
    assert nearest >= pair.gap - 1e-6


def test_a_packed_pair_is_all_in_its_box(pair) -> None:
    for points in placed(pair, [LEG, mirror(LEG, ORIGIN, Y)]):
        inside = np.abs((points - pair.box.centre) @ pair.box.axes.T)
        assert (inside <= np.array(pair.box.size) / 2 + 1e-6).all()


def test_poses_turn_and_do_not_mirror(pair) -> None:
    for turn, _ in pair.poses:
        assert np.linalg.det(turn) == pytest.approx(1.0)
        assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-9)


def test_square_bends_lie_in_each_others_corner() -> None:
    # as angle irons do: flat, one box as thick as the tube and little longer and wider than one
    packed = pack_together([(SQUARE, OD)] * 2)
    assert packed.box.size[2] == pytest.approx(OD, abs=0.5)
    assert packed.box.volume < 0.62 * 2 * packed.alone[0].volume


def test_the_gap_of_chords_never_says_more_than_there_is() -> None:
    one, other = chords_of(LEG, OD), chords_of(SQUARE, OD)
    shift = np.array([0.0, 0.0, 60.0])
    gap = least_gap(one, (other.starts + shift)[None], (other.ends + shift)[None], other.around)
    there = cKDTree(surface(LEG, OD)).query(surface(SQUARE, OD) + shift)[0].min()
    assert gap[0] <= there


def test_straight_tubes_side_by_side_keep_what_is_between_them() -> None:
    one = chords_of(Centreline(ORIGIN, X, Y, (1000.0,)), OD)
    beside = np.array([[0.0, 50.0, 0.0], [1000.0, 50.0, 0.0]])
    gap = least_gap(one, beside[None, :1], beside[None, 1:], np.array([OD / 2]))
    assert gap == pytest.approx(50.0 - OD)
