"""What ends sit on, as changed on a page: the file says it, the cut follows, the other hand too."""

import shutil
from importlib.resources import files

import numpy as np
import pytest

from soapstone.errors import InputError
from soapstone.flow import plan_job
from soapstone.flow.coping import templates_of
from soapstone.flow.seating import (
    nearest_first,
    plate_at,
    seats_of,
    with_ends_of_its_tube,
    with_longer_end,
    with_plate_part,
    with_seat,
    without_seat,
)
from soapstone.job.tube import Plane
from soapstone.web.desk import Desk

BRACE, IMAGE = "starboard brace", "port brace"


JOB = """
format = 1
units = "mm"
bench = "bench.toml"

[[tube]]
name = "starboard leg"
tubing = "316 38.1x1.65"
points = [[350, -780, 0], [350, -780, 1200]]

[[tube]]
name = "port leg"
mirror = { of = "starboard leg", across = "xz" }

[[tube]]
name = "cross tube"
tubing = "316 38.1x1.65"
points = [[350, -780, 1000], [350, 780, 1000]]

[[tube]]
name = "starboard brace"  # it sits beside the hatch
tubing = "316 25.4x1.65"
die = "25 on 75"
points = [[1050, -760, 0], [1050, -760, 400], [350, -780, 640]]

[[tube]]
name = "port brace"
mirror = { of = "starboard brace", across = "xz" }
"""


@pytest.fixture
def desk(tmp_path):
    for name in ("bench.toml", "trials-38.csv"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    (tmp_path / "braces.toml").write_text(JOB)
    return Desk.open(tmp_path / "braces.toml")


def seat(desk, tube, end, onto, number=None):
    desk.change(lambda text: with_seat(text, desk.now.job, tube, end, onto, number), "seated")
    return seats_of(desk.now.planned, tube)


def test_an_end_is_put_onto_a_tube_then_onto_a_plate_then_square_again_and_undone(desk):
    before = desk.now.text
    (one,) = seat(desk, BRACE, "B", "starboard leg").of("B")
    assert one.cut.problems == ()
    # the axes meet, so the end is drawn to the leg's middle and falls a little short of its skin
    assert one.cut.offset == pytest.approx(0, abs=1e-6)
    assert -19.05 < one.cut.added < -19.05 + 12.7
    assert plan_job(desk.path).job.copes[0].onto == "starboard leg"
    plan = next(tube for tube in desk.now.planned.planned if tube.name == BRACE)
    (one,) = seat(desk, BRACE, "B", plate_at(plan, "B"), 0).of("B")
    assert isinstance(one.onto, Plane)
    # the plate is square to x, its leg there rises 240 in 700: the saw goes in where the bore comes
    # out first, and the skin is cut back farthest
    assert one.cut.deepest == pytest.approx((12.7 + 11.05) * np.hypot(20, 240) / 700, rel=1e-3)
    desk.change(lambda text: without_seat(text, BRACE, "B", 0), "square")
    assert seats_of(desk.now.planned, BRACE).seats == ()
    desk.undo(), desk.undo(), desk.undo()
    assert desk.now.text == before == desk.path.read_text()


def test_the_other_hand_is_cut_as_its_tube_onto_the_other_hand_of_what_that_sits_on(desk):
    seat(desk, BRACE, "B", "starboard leg")
    seat(desk, BRACE, "A", Plane(at=(1050, -760, 20), normal=(0.0, 0.5, 1.0)))
    desk.change(lambda text: with_ends_of_its_tube(text, desk.now.job, IMAGE), "as its tube")
    ours, theirs = (seats_of(desk.now.planned, name) for name in (BRACE, IMAGE))
    assert theirs.of("B")[0].onto == "port leg"
    for end in "AB":
        (a,), (b,) = ours.of(end), theirs.of(end)
        # a mirror changes no length and no angle
        assert (b.cut.saw, b.cut.deepest, b.cut.weld, b.cut.angle) == pytest.approx(
            (a.cut.saw, a.cut.deepest, a.cut.weld, a.cut.angle), abs=1e-6
        )
        assert b.cut.problems == ()
    desk.change(lambda text: with_ends_of_its_tube(text, desk.now.job, IMAGE), "again")
    assert len(desk.now.job.copes) == 4


def test_one_number_of_a_plate_is_typed_while_another_page_changes_other_ends(desk):
    seat(desk, BRACE, "A", Plane(at=(1050, -760, 0), normal=(0.0, 0.0, 1.0)))
    seat(desk, IMAGE, "B", "port leg")
    # another page takes the first cope of the file away and puts it at its end
    desk.change(lambda text: without_seat(text, BRACE, "A", 0), "off")
    seat(desk, BRACE, "A", Plane(at=(1050, -760, 0), normal=(0.0, 0.0, 1.0)))
    desk.change(lambda text: with_plate_part(text, BRACE, "A", 0, "at", 2, [1050, -760, 25]), "up")
    assert desk.now.job.copes[1].onto.at == (1050, -760, 25)
    assert desk.now.job.copes[0].onto == "port leg"
    gone = "look at the page again"
    with pytest.raises(InputError, match=gone):
        desk.change(lambda text: without_seat(text, BRACE, "A", 1), "nothing there")
    with pytest.raises(InputError, match=gone):
        desk.change(lambda text: with_plate_part(text, IMAGE, "B", 0, "at", 0, [0, 0, 0]), "tube")
    with pytest.raises(InputError, match="normal"):
        desk.change(
            lambda text: with_plate_part(text, BRACE, "A", 0, "normal", 2, [0, 0, 0]), "no way"
        )


def test_an_end_off_its_seat_has_no_template_and_the_nearest_tube_is_offered_first(desk):
    assert nearest_first(desk.now.planned, BRACE, "B")[0] == "starboard leg"
    (far,) = seat(desk, BRACE, "A", "cross tube").of("A")
    assert "off" in far.cut.problems[0].what
    with pytest.raises(InputError, match="no end that can be coped"):
        templates_of(desk.now.planned, BRACE)
    seat(desk, BRACE, "B", "starboard leg")
    assert templates_of(desk.now.planned, BRACE).startswith(b"%PDF")
    with pytest.raises(InputError, match="its own tube"):
        seat(desk, BRACE, "B", BRACE, 0)


@pytest.mark.parametrize("normal", [(0.0, 0.5, 1.0), (0.3, -0.1, 1.0)])
def test_an_end_too_short_for_its_plate_is_drawn_as_much_longer_as_is_said(desk, normal):
    foot = next(tube for tube in desk.now.planned.planned if tube.name == BRACE).points[0]
    (short,) = seat(desk, BRACE, "A", Plane(at=foot, normal=normal)).of("A")
    # a round on a slope reaches past its middle by its radius times the slope; the cut is clear of
    # the bore's edge too, and so reaches as far as the bore does
    slope = np.hypot(*normal[:2]) / normal[2]
    assert short.cut.short == pytest.approx((12.7 - 1.65) * slope, rel=1e-6)
    more = short.cut.short + 0.01
    desk.change(lambda text: with_longer_end(text, desk.now.job, BRACE, "A", more), "longer")
    (now,) = seats_of(desk.now.planned, BRACE).of("A")
    assert now.cut.problems == ()
    assert now.cut.saw == pytest.approx(0.01, abs=1e-3)
    assert now.cut.short == 0
    with pytest.raises(InputError, match="not given by corners"):
        desk.change(lambda text: with_longer_end(text, desk.now.job, IMAGE, "A", 1.0), "image")
