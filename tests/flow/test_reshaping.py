"""Changes typed on a page become changes of the job's file, and of nothing else in it."""

import numpy as np
import pytest

from soapstone.bench.files import starter_bench
from soapstone.flow.planning import plan
from soapstone.flow.reshaping import (
    line_of,
    with_corner,
    with_keepout,
    with_legs,
    with_length,
    with_other_hand,
    with_shape,
    without_corner,
    without_tube,
)
from soapstone.job.files import job_from_text
from soapstone.shape.starter import STARTERS

INCH_JOB = """# rail on the port side
format = 1
units = "in"

[[tube]]
name = "port rail"   # as drawn by eye
tubing = "304 3/4 x .065"
die = "3/4 on 2 1/4"
points = [[0, 0, 0], [0, 0, "20 3/8 in"], [15, 0, 30], [15, 12, 30]]
"""


def read(text):
    job = job_from_text(text)
    return job, starter_bench(job.units)


def shape(text, name):
    job, bench = read(text)
    return line_of(job, bench, name)


def test_a_leg_made_longer_moves_all_that_comes_after_it_along():
    job, bench = read(INCH_JOB)
    before = shape(INCH_JOB, "port rail")
    legs = (before.legs[0] + 25.4, *before.legs[1:])
    text = with_legs(INCH_JOB, job, bench, "port rail", legs, before.angles, before.rotations)
    after = read(text)[0].tubes[0].points
    assert np.subtract(after[1:], job.tubes[0].points[1:]) == pytest.approx(
        np.tile([0, 0, 25.4], (3, 1)), abs=1e-9
    )
    assert "# as drawn by eye" in text
    assert shape(text, "port rail").legs == pytest.approx(legs, abs=1e-9)


def test_angle_and_turn_are_those_typed_whatever_way_the_shape_is_written():
    by_legs = INCH_JOB.replace(
        'points = [[0, 0, 0], [0, 0, "20 3/8 in"], [15, 0, 30], [15, 12, 30]]',
        "bends = { legs = [20, 12, 10], angles = [40, 90], rotations = [0, 90] }",
    )
    for text in (INCH_JOB, by_legs):
        job, bench = read(text)
        line = shape(text, "port rail")
        new = with_legs(text, job, bench, "port rail", line.legs, (35.5, 80), (0, -45))
        assert shape(new, "port rail").angles == pytest.approx((35.5, 80))
        assert shape(new, "port rail").rotations == pytest.approx((0, -45))
        assert shape(new, "port rail").legs == pytest.approx(line.legs, abs=1e-6)


@pytest.mark.parametrize("angle", [178.5, 180, 200])
def test_a_bend_that_has_no_corner_is_written_by_legs_and_angles(angle):
    job, bench = read(INCH_JOB)
    line = shape(INCH_JOB, "port rail")
    new = with_legs(INCH_JOB, job, bench, "port rail", line.legs, (angle, 90), line.rotations)
    turned = shape(new, "port rail")
    assert turned.angles == pytest.approx((angle, 90))
    assert turned.rotations == pytest.approx(line.rotations)
    assert turned.legs == pytest.approx(line.legs, abs=1e-6)
    assert turned.start == pytest.approx(line.start)
    assert turned.along == pytest.approx(line.along)


def test_a_corner_put_in_and_taken_away_leaves_the_tube_as_it_was():
    job, _ = read(INCH_JOB)
    more = with_corner(INCH_JOB, job, "port rail", 1)
    five = read(more)[0].tubes[0].points
    assert five[2] == pytest.approx((7.5 * 25.4, 0, (20.375 + 30) / 2 * 25.4))
    back = without_corner(more, read(more)[0], "port rail", 2)
    was = np.array(job.tubes[0].points)
    assert np.array(read(back)[0].tubes[0].points) == pytest.approx(was, abs=1e-9)
    for end in (0, 3):
        with pytest.raises(ValueError, match="ends"):
            without_corner(INCH_JOB, job, "port rail", end)


@pytest.mark.parametrize("name", STARTERS)
def test_every_starter_shape_can_be_put_into_a_job_and_planned(name):
    job, bench = read(INCH_JOB)
    numbers = {one.key: one.start("in") for one in STARTERS[name].measures}
    text = with_shape(INCH_JOB, job, bench, name, numbers, "")
    new, _ = read(text)
    planned = plan(new, bench).tubes[1]
    assert planned.name == name
    assert planned.stock > 0


def test_the_other_hand_is_the_mirror_image_and_has_the_other_sides_name():
    job, bench = read(INCH_JOB)
    new, _ = read(with_other_hand(INCH_JOB, job, "port rail", "xz"))
    assert new.tubes[1].name == "starboard rail"
    port, starboard = plan(new, bench).tubes
    assert starboard.points == pytest.approx(np.array(port.points) * [1, -1, 1], abs=1e-9)


def test_a_tube_that_is_needed_stays():
    job, _ = read(INCH_JOB)
    pair = with_other_hand(INCH_JOB, job, "port rail", "xz")
    with pytest.raises(ValueError, match="starboard rail"):
        without_tube(pair, read(pair)[0], "port rail")
    assert without_tube(pair, read(pair)[0], "starboard rail").strip() == INCH_JOB.strip()
    with pytest.raises(ValueError, match="at least one"):
        without_tube(INCH_JOB, job, "port rail")


@pytest.mark.parametrize(("typed", "mm"), [("12 3/8 in", 314.325), ("0.5", 12.7), ("10 mm", 10)])
def test_lengths_are_read_as_typed_and_written_in_the_jobs_units(typed, mm):
    job, _ = read(INCH_JOB)
    text = with_length(INCH_JOB, job, ("tube", 0, "gap"), typed)
    assert read(text)[0].tubes[0].gap == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize("form", ["box", "round bar", "ball", "floor"])
def test_what_is_put_in_the_way_has_a_name_of_its_own(form):
    job, _ = read(INCH_JOB)
    once = with_keepout(INCH_JOB, job, form)
    twice = with_keepout(once, read(once)[0], form)
    assert [one.name for one in read(twice)[0].keepouts] == [form, f"{form} 2"]
