"""Stock, marks, dials, strokes, rolls and cuts of tubes worked out by hand."""

import math

import pytest

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.moves import mirror, reverse
from soapstone.plan.order import Turn, in_turn
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.setups import setup
from tests.truth.painted import line_at_each_bend
from tests.truth.virtual_bender import Bender, Die, X, Z, rotation


def line(legs, angles, rotations, radius=100.0):
    return Centreline(
        (0.0, 0.0, 0.0),
        (1.0, 0.0, 0.0),
        (0.0, 1.0, 0.0),
        tuple(legs),
        tuple(angles),
        tuple(rotations),
        (radius,) * len(angles),
    )


def plan(shape, with_setup, lead="A", of=""):
    order = in_turn(len(shape.angles), lead)
    return plan_tubes([Shape("tube", shape, (), of)], [with_setup], orders=[order])[0]


def test_marks_and_stock_of_a_bend_that_springs_back_and_stretches():
    """90 degrees held at 94.5 on R 100, 2 % stretch: 0.98 x 100 x 94.5 deg is 161.635 mm."""
    made = plan(
        line([200, 300], [90], [0], radius=105),
        setup(springback=0.05, dial_zero=2.0, stretch=0.02, mark_offset=12.0),
    )
    bend = made.bends[0]
    assert bend.loaded == pytest.approx(94.5)
    assert bend.dial == pytest.approx(96.5)
    assert bend.arc_to - bend.arc_from == pytest.approx(0.98 * 100 * math.radians(94.5))
    assert bend.arc_from == pytest.approx(200)
    assert bend.mark == pytest.approx(188), "the index line lies 12 mm toward the lead end"
    assert made.stock == pytest.approx(200 + 161.635 + 300, abs=1e-3)
    assert bend.clr_free == pytest.approx(105)
    assert made.length == pytest.approx(500 + 105 * math.pi / 2)


def test_short_ends_get_grips_that_are_cut_off_again():
    """Clamp 60 ahead (A leads), follower 90 behind: 20 and 40 mm are there, 40 and 50 missing."""
    made = plan(line([20, 40], [90], [0]), setup())
    cut_a, cut_b = made.cuts
    assert (cut_a.mark, cut_a.keeps, cut_a.offcut) == (40, "B", 40)
    assert made.bends[0].mark == pytest.approx(60)
    assert cut_b.mark == pytest.approx(40 + 20 + 50 * math.pi + 40)
    assert cut_b.keeps == "A"
    assert made.stock == math.ceil(cut_b.mark + 50), "rounded up to the tape: grip is cut off"
    assert cut_b.offcut == pytest.approx(made.stock - cut_b.mark)


def test_ends_long_enough_are_the_sticks_own_ends():
    made = plan(line([60, 90], [90], [0]), setup())
    assert made.cuts[0].mark == 0
    assert math.copysign(1, made.cuts[0].mark) == 1
    assert made.cuts[0].offcut == 0
    assert made.cuts[1].mark == made.stock == pytest.approx(150 + 50 * math.pi)


def test_leading_with_the_other_end_swaps_clamp_and_follower():
    made = plan(line([20, 40], [90], [0]), setup(mark_offset=10.0), lead="B")
    assert made.cuts[0].offcut == 70, "the follower's 90 less the 20 there"
    assert made.bends[0].mark == pytest.approx(made.bends[0].arc_to + 10)
    assert made.stock - made.cuts[1].mark == pytest.approx(20, abs=1)


def test_a_straight_tube_has_a_length_and_no_bends():
    made = plan(line([777.3], [], []), setup())
    assert made.bends == ()
    assert made.stock == 777.3
    assert made.seam is None
    assert made.problems == ()


@pytest.mark.parametrize("lead", ["A", "B"])
def test_a_mirror_image_has_the_same_marks_and_dials_and_the_opposite_rolls(lead):
    shape = line([200, 150, 180, 300], [40, 60, 75], [0, 90, -130])
    there = plan(shape, setup(springback=0.03, mark_offset=5.0), lead)
    image = plan(mirror(shape, (0, 0, 0), (0, 1, 0)), setup(springback=0.03, mark_offset=5.0), lead)
    for bend, twin in zip(there.bends, image.bends, strict=True):
        assert twin.mark == bend.mark
        assert twin.dial == bend.dial
        assert twin.roll == pytest.approx(-bend.roll)
        if bend.level:
            assert twin.level.leg == bend.level.leg
            assert twin.level.reads == pytest.approx(bend.level.reads, abs=1e-9)
            assert twin.level.rises != bend.level.rises or bend.level.rises == ""


def test_the_same_tube_travelled_from_its_other_end_is_bent_the_same():
    """Leading with B on a tube is leading with A on the tube named the other way round."""
    shape = line([200, 150, 180, 300], [40, 60, 75], [0, 90, -130])
    from_b = plan(shape, setup(springback=0.03, mark_offset=5.0), "B")
    named_back = plan(reverse(shape), setup(springback=0.03, mark_offset=5.0), "A")
    for bend, twin in zip(from_b.bends, named_back.bends, strict=True):
        assert bend.dial == pytest.approx(twin.dial)
        assert bend.roll == pytest.approx(twin.roll)
        assert from_b.stock - bend.mark == pytest.approx(twin.mark)
        assert (bend.level is None) == (twin.level is None)
        if bend.level:
            assert bend.level.reads == pytest.approx(twin.level.reads, abs=1e-9)


def test_the_ram_is_pinned_again_at_every_full_stroke():
    made = plan(line([300, 300], [130], [0]), setup(dial_zero=3.0, stroke=45.0))
    assert made.bends[0].strokes == pytest.approx((48, 93))
    just = plan(line([300, 300], [90], [0]), setup(stroke=45.0))
    assert just.bends[0].strokes == pytest.approx((45,)), "the second stroke ends at 90"
    assert plan(line([300, 300], [40], [0]), setup(stroke=45.0)).bends[0].strokes == ()


def test_a_planar_bend_is_kept_level():
    made = plan(line([300, 200, 300], [90, 45], [0, 0]), setup())
    level = made.bends[1].level
    assert (level.leg, level.rises) == (1, "")
    assert level.reads == pytest.approx(0, abs=1e-9)
    assert level.sharpness == pytest.approx(1)


@pytest.mark.parametrize(
    ("plane", "swing", "roll", "reads", "rises"),
    [
        # Leg 1 stuck out to the left; 30 degrees clockwise (seen from the tail) lifts the left
        # side, and leg 1's free end is its A end.
        ("horizontal", "left", 30, 30, "A"),
        # The lead end swings right: a clockwise roll lowers the right side.
        ("horizontal", "right", 30, 30, "B"),
        # Leg 1 stands straight up at the end of the first bend; any roll leans it over.
        ("vertical", "up", 30, 60, "A"),
        ("vertical", "down", 30, 60, "B"),
    ],
)
def test_level_after_a_right_angle_follows_the_roll(plane, swing, roll, reads, rises):
    shape = line([300, 200, 300], [90, 45], [0, roll])
    level = plan(shape, setup(plane=plane, swing=swing)).bends[1].level
    assert level.leg == 1
    assert level.reads == pytest.approx(reads)
    assert level.rises == rises


def test_the_seam_goes_on_top_or_below_for_a_planar_tube_in_a_flat_bender():
    seam = plan(line([300, 200, 300], [90, 45], [0, 180]), setup()).seam
    assert min(abs(seam.clock - 12), abs(seam.clock - 6)) == pytest.approx(0, abs=1e-6)
    assert seam.from_neutral == pytest.approx(0, abs=1e-6)


def test_the_seam_goes_to_the_side_in_an_upright_bender():
    seam = plan(line([300, 300], [90], [0]), setup(plane="vertical", swing="up")).seam
    assert min(abs(seam.clock - 3), abs(seam.clock - 9)) == pytest.approx(0, abs=1e-6)


def test_of_two_bends_a_quarter_turn_apart_the_harder_one_has_the_seam_on_its_side():
    seam = plan(line([300, 200, 300], [80, 20], [0, 90]), setup()).seam
    assert min(abs(seam.clock - 12), abs(seam.clock - 6)) == pytest.approx(0, abs=1e-6)
    assert (seam.worst_bend, seam.from_neutral) == (2, pytest.approx(90))


def test_the_seam_is_never_outside_on_the_hardest_bend():
    """At 12 o'clock plus a left swing the outside is at 3: the seam must keep to the other half."""
    for second in range(-170, 181, 10):
        seam = plan(line([300, 200, 300], [80, 79], [0, second]), setup()).seam
        outward = math.cos(math.radians(seam.clock * 30 - 90))
        assert outward < 1e-6


@pytest.mark.parametrize("order", ["1A 2A 3A 4A", "4B 3B 2B 1B", "3A 1A 4B 2B", "2B 4A 1B 3A"])
@pytest.mark.parametrize(("plane", "swing"), [("horizontal", "left"), ("vertical", "up")])
def test_the_seam_is_as_far_off_the_side_as_the_plan_says_in_any_order(plane, swing, order):
    """Paint the seam on the stick, bend it in the virtual bender, and look at every bend."""
    shape = line([300, 220, 250, 180, 200], [80, 35, 120, 60], [0, 90, -40, 150])
    turns = tuple(Turn(int(n), lead) for n, lead in order.split())
    with_setup = setup(plane=plane, swing=swing)
    made = plan_tubes([Shape("tube", shape, ())], [with_setup], orders=[turns])[0]
    bender = Bender(swing, plane)
    at_first = rotation(-X, made.seam.clock * 30) @ Z
    lines = line_at_each_bend(made, Die(100), bender, at_first)
    out = {bend.n: -seam @ bender.side for bend, seam in zip(made.bends, lines, strict=True)}
    off = {n: math.degrees(math.asin(min(1, abs(part)))) for n, part in out.items()}
    assert off[made.seam.worst_bend] == pytest.approx(made.seam.from_neutral, abs=1e-6)
    assert max(off.values()) == pytest.approx(made.seam.from_neutral, abs=1e-6)
    assert out[3] < 1e-9, "not on the outside of the hardest bend"


def what(made, severity):
    return [f"{p.where}: {p.what}" for p in made.problems if p.severity == severity]


def test_a_leg_too_short_for_the_clamp_is_named_with_what_is_missing():
    made = plan(line([300, 42, 300], [30, 30], [0, 90]), setup())
    assert what(made, "stop") == [
        (
            "tube, bend 2: 42.0 mm of straight ahead of it, up to bend 1, and the clamp needs "
            "60.0 mm: 18.0 mm missing"
        )
    ]


def test_a_bend_beyond_the_bender_is_named():
    made = plan(line([300, 300], [178], [0]), setup(springback=0.03))
    assert "the die must turn 183.3°" in what(made, "stop")[0]


def test_a_stick_too_short_is_named():
    made = plan(line([5000, 1500], [30], [0]), setup())
    assert "the longest stick is 6000.0 mm" in what(made, "stop")[0]


def test_the_lead_end_reaches_the_index_line():
    """An index line 100 ahead of the bend needs 100 of tube there, though the clamp is short."""
    made = plan(line([30, 200], [45], [0]), setup(mark_offset=100.0))
    assert made.cuts[0].offcut == pytest.approx(70)
    assert made.bends[0].mark == pytest.approx(0)
    assert not any("mark" in problem for problem in what(made, "warn"))


def test_a_dial_too_coarse_for_the_tolerance_is_told():
    made = plan(line([300, 300], [52], [0]), setup(dial_step=5.0))
    assert any("nearest graduation is 2.0° off" in problem for problem in what(made, "warn"))


def test_a_bend_smaller_than_what_is_known_of_the_dial_is_made_in_small_steps():
    made = plan(line([300, 300], [0.4], [0]), setup())
    assert any("too few for what is known" in problem for problem in what(made, "warn"))
    assert made.bends[0].first_stop >= 0


def ordered(shape, with_setup, order):
    turns = tuple(Turn(int(n), lead) for n, lead in order.split())
    return plan_tubes([Shape("tube", shape, ())], [with_setup], orders=[turns])[0]


def test_a_bend_not_made_yet_is_straight_metal_for_clamp_and_follower():
    """Bend 2 first: ahead of it lie 300, bend 1's 157.08 of stock and 50; behind bend 1 then 50."""
    made = ordered(line([300, 50, 300], [90, 90], [0, 90]), setup(follower=40.0), "2A 1A")
    assert made.bends[0].ahead == pytest.approx(350 + 50 * math.pi)
    assert made.bends[0].behind == pytest.approx(300)
    assert (made.bends[1].ahead, made.bends[1].behind) == pytest.approx((300, 50))
    assert what(made, "stop") == []


def test_a_short_straight_is_cured_by_another_order_where_there_is_one():
    shape = line([300, 50, 300], [90, 90], [0, 90])
    for order in ("1A 2A", "2B 1B"):
        (stop,) = [
            p for p in ordered(shape, setup(follower=40.0), order).problems if p.severity == "stop"
        ]
        assert stop.what.startswith("50.0 mm of straight ahead of it, up to bend")
        assert stop.mend == "make the bends in the order 2, 1 with the A end leading"
    (stop,) = [p for p in ordered(shape, setup(), "1A 2A").problems if p.severity == "stop"]
    assert stop.mend == "move the bends apart, or use a shorter clamp block"
    (stop,) = [p for p in ordered(shape, setup(), "2A 1A").problems if p.severity == "stop"]
    assert stop.what.startswith("50.0 mm of straight behind it, up to bend 2, and the follower")
    assert stop.mend == "move the bends apart, or use a shorter follower block"


def test_grip_is_needed_only_where_a_bend_has_the_stocks_end_beside_it():
    """Both ends 20 long. Led by A alone the clamp's 60 are at A and the follower's 90 at B; with
    B leading at bend 2 both ends need the clamp alone, and with A at 2 and B at 1 the follower."""
    shape = line([20, 400, 20], [90, 90], [0, 90])
    grips = {
        order: tuple(cut.offcut for cut in ordered(shape, setup(), order).cuts)
        for order in ("1A 2A", "1A 2B", "2A 1B", "1B 2A")
    }
    assert grips["1A 2A"] == pytest.approx((40, 70), abs=1)
    assert grips["1A 2B"] == pytest.approx((40, 40), abs=1)
    assert grips["2A 1B"] == pytest.approx((70, 70), abs=1)
    assert grips["1B 2A"] == pytest.approx((70, 70), abs=1)


def test_a_mark_that_ends_up_on_a_bend_made_before_is_named_with_a_place_to_set_instead():
    """The index line is 80 ahead of the bend, and only 70 are straight there."""
    shape = line([300, 70, 300], [90, 90], [0, 90])
    said = what(ordered(shape, setup(mark_offset=80.0), "1A 2A"), "warn")
    assert any("its mark lies on bend 1 or past it" in problem for problem in said)
    assert not any(
        "its mark" in p for p in what(ordered(shape, setup(mark_offset=60.0), "1A 2A"), "warn")
    )


def test_a_changed_lead_end_is_told_and_the_rolls_follow():
    """A U: in a flat bender, turned end for end, its other arm is half a turn away."""
    made = ordered(line([300, 200, 300], [90, 90], [0, 0]), setup(), "1A 2B")
    assert [bend.end_for_end for bend in made.bends] == [False, True]
    assert [bend.roll for bend in made.bends] == [0, 180]


def test_what_is_no_order_of_the_bends_is_refused():
    shape = line([300, 200, 300], [90, 90], [0, 0])
    for order in ("1A", "1A 1B", "1A 3A", "1A 2C"):
        with pytest.raises(ValueError, match=r"order|leads"):
            ordered(shape, setup(), order)
