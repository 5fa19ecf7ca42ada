"""Heights over a flat floor: what they read, what they tell, what is refused."""

import numpy as np
import pytest

from soapstone.check.inspect.answer import inspect
from soapstone.check.inspect.files import blank, readings_from, taken_on
from soapstone.check.inspect.model import ToleranceTable
from soapstone.check.inspect.places import Place
from soapstone.check.inspect.reads import Height, drawn, reads
from soapstone.check.inspect.tolerance import limits_for
from soapstone.check.making import making_of
from soapstone.errors import InputError
from soapstone.geometry.chain import walk
from tests.check.inspect.test_choosing import planned, rim
from tests.plan.test_tubes import line

LEGS, ANGLES = [300, 320, 340], [90, 70]


def lowest_over_floor(shape, turned, place="B end"):
    """By points set round a place's rim: the lowest, over the floor under the first two legs."""
    way = walk(shape)
    first, second = way.directions[0], way.directions[1]
    up = np.cross(first, second) / np.linalg.norm(np.cross(first, second))
    up = -up if turned else up
    floor = way.nodes[0] @ up - 38.1 / 2
    assert way.nodes[2] @ up - 38.1 / 2 == pytest.approx(floor)
    centre = way.nodes[-1] if place == "B end" else (way.nodes[-2] + way.nodes[-1]) / 2
    return (rim(centre, way.directions[-1]) @ up).min() - floor


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("roll", [0.0, 3.0, -4.0, 40.0, 180.0, -120.0])
def test_a_height_is_that_of_the_lowest_point_of_the_rim(roll, turned):
    shape = line(LEGS, ANGLES, [0, roll])
    plan = planned(shape)
    what = [Height(Place("end", 1), 1, turned)]
    (read,) = reads(what, making_of(plan), drawn(plan))
    assert read == pytest.approx(lowest_over_floor(shape, turned), abs=1e-3)


def inspected(plan, rows):
    data = readings_from({"height": rows, "bend": [{"n": 1, "angle": 90}, {"n": 2, "angle": 70}]})
    return inspect(taken_on(plan, data), limits_for(plan, ToleranceTable()), "mm")


@pytest.mark.parametrize(("roll", "turned"), [(2.5, False), (-2.5, True)])
def test_a_flat_tube_out_of_roll_is_found_out_by_its_height(roll, turned):
    plan = planned(line(LEGS, ANGLES, [0, 0]))
    made = line(LEGS, ANGLES, [0, roll])
    rows = [
        {"place": p, "flat": 1, "height": lowest_over_floor(made, turned, p), "turned": turned}
        for p in ("leg 3", "B end")
    ]
    assert rows[0]["height"] > 5
    found = inspected(plan, rows)
    (told,) = (one for one in found.numbers if one.what == "roll")
    assert told.made == pytest.approx(roll, abs=told.plus_minus)
    assert told.plus_minus < 0.5
    assert told.verdict == "out"


def test_the_file_to_fill_in_asks_for_it_and_reads_back():
    plan = planned(line(LEGS, ANGLES, [0, 0]))
    text = blank(plan, "mm")
    assert 'place = "B end"\nflat = 1' in text
    assert "# height =" in text


@pytest.mark.parametrize(
    ("row", "key"),
    [
        ({"place": "B end", "flat": 3, "height": 1}, "flat"),
        ({"place": "back of bend 1", "flat": 1, "height": 1}, "underside"),
        ({"place": "C end", "flat": 1, "height": 1}, "place"),
        ({"place": "B end", "flat": 1, "height": 1e6}, "height"),
        ({"place": "B end", "flat": 1, "height": float("nan")}, "height"),
        ({"place": "B end", "height": 1}, "flat"),
    ],
)
def test_a_height_that_cannot_be_is_refused_by_its_key(row, key):
    plan = planned(line(LEGS, ANGLES, [0, 0]))
    with pytest.raises(InputError, match=key) as refused:
        inspected(plan, [row])
    assert "\n" not in str(refused.value)
