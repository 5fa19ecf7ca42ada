"""Distances to tape: true maxima between rings, few of them, where a tape passes."""

import numpy as np
import pytest

from soapstone.check.inspect.choosing import (
    candidates,
    check_distances,
    check_plan,
)
from soapstone.check.making import making_of
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import any_perpendicular, cross
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.plan.test_tubes import line
from tests.setups import setup


def planned(shape, **changes):
    return plan_tubes([Shape("tube", shape, ())], [setup(**changes)])[0]


def rim(centre, direction, count=720):
    one = any_perpendicular(direction)
    two = cross(direction, one)
    around = np.linspace(0, 2 * np.pi, count, endpoint=False)[:, None]
    return centre + 38.1 / 2 * (np.cos(around) * one + np.sin(around) * two)


def test_an_l_is_taped_over_its_back():
    """Legs 400 along x and up: outside corners 400 + 19.05 apart in both directions."""
    made = planned(line([300, 300], [90], [0]))
    (over,) = check_distances(made)
    assert (over.start, over.end, over.spans) == ("A end", "B end", (1,))
    assert over.length == pytest.approx(np.hypot(400 + 19.05, 400 + 19.05), abs=1e-9)


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 4, 6, 7, 8])
def test_the_distance_end_to_end_is_the_most_a_tape_can_read(seed):
    rng = np.random.default_rng(seed)
    shape = line(rng.uniform(150, 500, 4), rng.uniform(15, 60, 3), [0, *rng.uniform(-170, 170, 2)])
    way = walk(shape)
    found = {(d.start, d.end): d for _, d in candidates(making_of(planned(shape)))}
    whole = found["A end", "B end"]
    a = rim(way.nodes[0], way.directions[0])
    b = rim(way.nodes[-1], way.directions[-1])
    most = np.linalg.norm(a[:, None] - b[None], axis=-1).max()
    assert whole.length == pytest.approx(most, abs=2e-3)
    assert whole.length >= most


def test_a_wrong_bend_shows_on_the_tape():
    """1.5 degrees too much on any bend moves some distance by more than a tape's step."""
    right = planned(line([300, 250, 250, 300], [40, 35, 50], [0, 90, -60]), mark_offset=10.0)
    for bend in range(3):
        angles = [40.0, 35.0, 50.0]
        angles[bend] += 1.5
        legs = [300, 250, 250, 300]
        legs[bend + 1] -= 100 * np.radians(1.5)
        wrong = planned(line(legs, angles, [0, 90, -60]), mark_offset=10.0)
        there = {(d.start, d.end): d.length for _, d in candidates(making_of(wrong))}
        moved = [abs(there[d.start, d.end] - d.length) for d in check_distances(right)]
        assert max(moved) > 1.0


def test_few_distances_are_chosen_and_they_tell_the_bends_apart():
    """Bends that may be off by degrees are known to a fraction of one from the tape alone."""
    plan = planned(line([400, 400, 400, 400], [60, 60, 60], [0, 90, -60]), mark_offset=10.0)
    chosen = check_plan(plan)
    every = candidates(making_of(plan))
    assert 3 <= len(chosen.distances) < len(every)
    assert max(chosen.angles) < 0.6
    assert max(chosen.rolls) < 1.5


def test_what_no_tape_shows_is_said():
    """A flat tube's roll moves no distance at first: nobody shall believe that it was checked."""
    flat = check_plan(planned(line([300, 300, 300], [90, 90], [0, 0])), 3)
    assert ("roll", 2) in flat.untold


def test_a_flat_floor_shows_the_roll_that_no_tape_does():
    flat = check_plan(planned(line([300, 300, 300], [90, 90], [0, 0])))
    told = [(one.place.name, one.leg, over) for one, over in flat.heights]
    assert told == [("leg 3", 1, 0.0), ("B end", 1, 0.0)]
    assert ("roll", 2) not in flat.untold
    assert flat.rolls[1] < 0.5


def test_a_mark_cut_off_with_the_grip_is_no_place_to_tape_from():
    made = planned(line([20, 400], [60], [0]), mark_offset=30.0)
    assert made.bends[0].mark < made.cuts[0].mark
    assert "mark 1" not in {d.start for d in check_distances(made)}


def test_the_tape_does_not_go_through_the_tube():
    """The ends of a coil of one turn and a half look at each other through its wall."""
    coil = line([60, 0, 0, 60], [179, 179, 179], [0, 8, 8])
    for distance in check_distances(planned(coil, clamp=0.0)):
        middle = (np.array(distance.start_at) + np.array(distance.end_at)) / 2
        assert np.isfinite(middle).all()
        assert distance.length > 38.1
