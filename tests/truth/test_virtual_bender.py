"""The virtual bender against cases worked out by hand, with the working beside each."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.random_tubes import RandomTube, random_job
from tests.truth.virtual_bender import (
    Bender,
    CannotBendError,
    Die,
    End,
    Part,
    Step,
    bent,
    blank,
    laid_on,
    loaded_into,
    make,
    sawn,
    slid,
    slopes,
    stroke_travels,
    turned_end_for_end,
    worst_gap,
)

QUARTER = np.pi / 2


def test_one_right_angle_stands_in_the_machine_where_it_should():
    # Lead A, swing left, clr 100, no springback. The bend starts 200 from the A end and uses
    # 100 * pi/2 = 157.08 of the 657.08 stock, so 300 stand behind it, from the origin to x = 300.
    # The die's centre is 100 to the left, at (0, -100, 0). A quarter turn carries the origin to
    # (-100, -100, 0), from where the A leg of 200 runs on to the left.
    tube, _ = make(500 + 100 * QUARTER, [Step(1, "A", 200, 0, 90)], Die(100), Bender())
    part = sawn(tube, 0, 500 + 100 * QUARTER)
    np.testing.assert_allclose(part.ends[0], [-100, -300, 0], atol=1e-9)
    np.testing.assert_allclose(part.corners[1], [-100, 0, 0], atol=1e-9)
    np.testing.assert_allclose(part.ends[1], [300, 0, 0], atol=1e-9)
    # Half way along the arc: the centre plus 100 toward -x and up the diagonal.
    half = [-100 * np.sqrt(0.5), -100 + 100 * np.sqrt(0.5), 0]
    np.testing.assert_allclose(part.stations[2], half, atol=1e-9)


@pytest.mark.parametrize(
    ("plane", "swing", "a_end"),
    [
        ("horizontal", "left", [-100, -300, 0]),
        ("horizontal", "right", [-100, 300, 0]),
        ("vertical", "up", [-100, 0, 300]),
        ("vertical", "down", [-100, 0, -300]),
    ],
)
def test_the_lead_end_swings_to_the_stated_side(plane, swing, a_end):
    stock = 500 + 100 * QUARTER
    tube, _ = make(stock, [Step(1, "A", 200, 0, 90)], Die(100), Bender(swing, plane))
    np.testing.assert_allclose(sawn(tube, 0, stock).ends[0], a_end, atol=1e-9)


def test_a_horizontal_die_cannot_swing_up():
    with pytest.raises(ValueError, match="cannot swing up"):
        make(500, [Step(1, "A", 200, 0, 90)], Die(100), Bender("up"))


# springback 2.5 %, clr 100: 90 free is 92.25 on the die, radius 102.5 once released.
# stretch 2 %: stock used 0.98 * 100 * 92.25 * pi/180 = 157.786...: 92.25 degrees are 1.610066 rad.
TRUE_DIE = Die(100, mark_offset=10, springback=0.025, dial_zero=1.5, stretch=0.02)
USED = 0.98 * 161.0066


@pytest.mark.parametrize(
    ("lead", "mark"),
    [
        ("A", 200 - 10),  # the bend starts 200 from A; the index line is 10 nearer to A
        ("B", 200 + USED + 10),  # it starts where the arc ends seen from A; the line is toward B
    ],
)
def test_springback_mark_offset_dial_zero_and_stretch(lead, mark):
    # Dial: 92.25 true loaded + 1.5 of the dial's zero = 93.75.
    tube, _ = make(500 + USED, [Step(1, lead, mark, 0, 93.75)], TRUE_DIE, Bender())
    part = sawn(tube, 0, 500 + USED)
    assert part.angles == pytest.approx([90])
    assert part.radii == pytest.approx([102.5])
    assert part.legs == pytest.approx([200, 300], abs=1e-4)
    # Corner: leg plus the free tangent length 102.5 * tan 45.
    assert np.linalg.norm(part.corners[1] - part.corners[0]) == pytest.approx(302.5, abs=1e-4)
    assert np.linalg.norm(part.corners[2] - part.corners[1]) == pytest.approx(402.5, abs=1e-4)
    # The free arc is longer than the stock it was made of: 161.0066 out of 157.786.
    begin, end = part.stations[1], part.stations[3]
    assert np.linalg.norm(end - begin) == pytest.approx(102.5 * np.sqrt(2))


def test_a_u_of_two_right_angles():
    # clr 100, legs 200, 100, 150. Corners: 200 + 100 = 300, then 100 + 100 + 100 = 300, then 250.
    arc = 100 * QUARTER
    stock = 450 + 2 * arc
    steps = [Step(1, "A", 200, 0, 90), Step(2, "A", 300 + arc, 0, 90)]
    tube, _ = make(stock, steps, Die(100), Bender())
    part = sawn(tube, 0, stock)
    flat = np.array([[0, 0, 0], [300, 0, 0], [300, 300, 0], [50, 300, 0]], dtype=float)
    assert worst_gap(laid_on(part.corners, flat), flat) < 1e-9
    assert part.rotations == pytest.approx([0, 0])


def test_an_offset_with_a_half_turn_between():
    # Rise 150 at 30 degrees on clr 114.3: sloped leg 150 / sin 30 = 300 from corner to corner, run
    # 300 cos 30 = 259.808. Tangents 114.3 tan 15 = 30.6266, so 300 - 2 * 30.6266 = 238.747 between
    # the bends; each arc 114.3 * pi/6 = 59.847.
    arc = 59.847341
    steps = [Step(1, "A", 100, 0, 30), Step(2, "A", 100 + arc + 238.746815, 180, 30)]
    stock = 100 + arc + 238.746815 + arc + 100
    tube, _ = make(stock, steps, Die(114.3), Bender("right"))
    part = sawn(tube, 0, stock)
    end = 100 + 30.626593
    drawn = np.array([[-end, 0, 0], [0, 0, 0], [259.807621, 150, 0], [259.807621 + end, 150, 0]])
    assert worst_gap(laid_on(part.corners, drawn), drawn) < 1e-5
    assert abs(part.rotations[1]) == pytest.approx(180)


PATH_A = np.array([[0, 0, 0], [300, 0, 0], [300, 250, 0], [300, 250, 400]], dtype=float)


@pytest.mark.parametrize("swing", ["left", "right", "up", "down"])
@pytest.mark.parametrize("lead", ["A", "B"])
def test_path_a_turns_the_right_way(swing, lead):
    # Corners (0,0,0) (300,0,0) (300,250,0) (300,250,400), clr 100: straights 200, 50, 300, both
    # bends 90, stock 864.159 in all. Axes: x cross y = z, then y cross z = x; a right-hand quarter
    # turn about the travel y carries z to x, so the rotation is +90.
    #
    # Lead A, swing left: after the first bend the A leg points left. Rolled 90 clockwise (seen from
    # the tail) left becomes up, and the second bend swings the middle leg left. Travelled from A:
    # down, rightward, toward the tail. Axes down x right = (-z) x (y) = x, right x tail = -z;
    # about the travel y a right-hand quarter turn carries x to -z: +90, as drawn.
    # Lead B: the bend made first is number 2, its B leg points left, is rolled up, then the middle
    # leg swings left. Travelled from A: away from the tail (-x), left (-y), up. Axes
    # (-x) x (-y) = z, (-y) x z = -x; about the travel -y a quarter turn carries z to -x: +90 again.
    arc = 100 * QUARTER
    stock = 550 + 2 * arc
    assert stock == pytest.approx(864.159, abs=1e-3)
    first, second = Step(1, "A", 200, 0, 90), Step(2, "A", 250 + arc, 90, 90)
    if lead == "B":
        first, second = Step(2, "B", 250 + 2 * arc, 0, 90), Step(1, "B", 200 + arc, 90, 90)
    plane = "horizontal" if swing in ("left", "right") else "vertical"
    tube, seen = make(stock, [first, second], Die(100), Bender(swing, plane))
    part = sawn(tube, 0, stock)
    assert part.rotations == pytest.approx([0, 90])
    assert part.legs == pytest.approx([200, 50, 300])
    assert worst_gap(laid_on(part.corners, PATH_A), PATH_A) < 1e-9
    x, _, z = np.eye(3)
    assert worst_gap(part.put_on(np.zeros(3), x, z).corners, PATH_A) < 1e-9
    # Of a U with its arm rolled a quarter turn out of the die's plane: a horizontal die finds it
    # plumb, a vertical one level.
    (reading,) = seen[1].slopes.values()
    assert abs(reading) == pytest.approx(90 if plane == "horizontal" else 0, abs=1e-9)
    (keen,) = seen[1].keenness.values()
    assert keen == pytest.approx(1, rel=1e-3)


def test_the_other_roll_makes_the_other_hand():
    arc = 100 * QUARTER
    stock = 550 + 2 * arc
    steps = [Step(1, "A", 200, 0, 90), Step(2, "A", 250 + arc, -90, 90)]
    part = sawn(make(stock, steps, Die(100), Bender())[0], 0, stock)
    mirrored = PATH_A * [1, 1, -1]
    assert worst_gap(laid_on(part.corners, mirrored), mirrored) < 1e-9
    assert worst_gap(laid_on(part.corners, PATH_A), PATH_A) > 50


def test_roll_up_is_seen_by_the_level():
    # The A leg of a right angle points left, level. Rolled 30 clockwise its far end rises 30: seen
    # from A (high) to the bend (low) that is -30.
    tube = bent(slid(blank(700), 200), Die(100), Bender(), 90, 1)
    assert slopes(tube, 2)[1] == pytest.approx(0, abs=1e-12)
    turned = loaded_into(tube, Step(2, "A", 450, 30, 90), Die(100), Bender())
    assert slopes(turned, 2)[1] == pytest.approx(-30)
    # An arm of a 45 bend, rolled until plumb over the tube, stands at 45 to it.
    tube = bent(slid(blank(700), 200), Die(100), Bender(), 45, 1)
    turned = loaded_into(tube, Step(2, "A", 450, 90, 90), Die(100), Bender())
    assert slopes(turned, 2)[1] == pytest.approx(-45)


def test_the_later_bend_can_be_made_first():
    # Bend 2 of path A first, then the tube slid back past it to bend 1, both with A leading. After
    # bend 2 the A side points left (-y) and the B leg lies along the tail. Sliding back past the
    # bend turns the tube flat until the A side lies along -x again: the B leg then points left. The
    # axis of bend 2 is still -z (that of every bend led by A on this machine). Bend 1 will have
    # -z too, and +90 about the travel x must carry it to axis 2: to +y. So the tube is turned until
    # axis 2 goes from -z to +y: 90 about x, which is anticlockwise seen from the tail: roll -90.
    arc = 100 * QUARTER
    stock = 550 + 2 * arc
    steps = [Step(2, "A", 250 + arc, 0, 90), Step(1, "A", 200, -90, 90)]
    tube, seen = make(stock, steps, Die(100), Bender())
    part = sawn(tube, 0, stock)
    assert worst_gap(laid_on(part.corners, PATH_A), PATH_A) < 1e-9
    # Behind bend 1 only the middle leg's 50 stood straight.
    assert seen[1].room.behind == pytest.approx(50)
    assert seen[1].room.ahead == pytest.approx(200)
    # Both legs beyond bend 2 are there to hold a level on: leg 3, hanging or standing plumb.
    assert abs(seen[1].slopes[3]) == pytest.approx(90)


@pytest.mark.parametrize(("about", "roll"), [("die", 180), ("vertical", 180)])
def test_turned_end_for_end_flat_on_the_table(about, roll):
    # A U on a horizontal die, its first bend with A leading, its second with B leading. The A arm
    # points left. Turned end for end about the vertical it points right (and to the tail side);
    # the B arm will swing left. A U wants both on one side, so the tube must be rolled 180.
    arc = 100 * QUARTER
    stock = 450 + 2 * arc
    steps = [Step(1, "A", 200, 0, 90), Step(2, "B", 300 + 2 * arc, roll, 90)]
    part = sawn(make(stock, steps, Die(100), Bender(turned_about=about))[0], 0, stock)
    assert part.rotations == pytest.approx([0, 0], abs=1e-9)


@pytest.mark.parametrize(("about", "roll"), [("die", 180), ("vertical", 0)])
def test_turned_end_for_end_at_a_vertical_die(about, roll):
    # The A arm points up. About the die's own (horizontal) axis the tube goes heels over head and
    # the arm hangs down; walked round about the vertical it still stands up.
    arc = 100 * QUARTER
    stock = 450 + 2 * arc
    bender = Bender("up", "vertical", turned_about=about)
    steps = [Step(1, "A", 200, 0, 90), Step(2, "B", 300 + 2 * arc, roll, 90)]
    part = sawn(make(stock, steps, Die(100), bender)[0], 0, stock)
    assert part.rotations == pytest.approx([0, 0], abs=1e-9)


def test_turning_end_for_end_twice_changes_nothing():
    tube = bent(slid(blank(700), 200), Die(100), Bender(), 60, 1)
    twice = turned_end_for_end(turned_end_for_end(tube, Bender()), Bender())
    for before, after in zip(tube.pieces, twice.pieces, strict=True):
        np.testing.assert_allclose(after.start, before.start, atol=1e-9)
        np.testing.assert_allclose(after.along, before.along, atol=1e-9)


def test_room_ahead_and_behind():
    # Stock 1000, clr 100, bends at 200 and, after 157.08 of arc and an 80 leg, at 437.08. Lead A:
    # ahead of the first 200, behind it 1000 - 357.08 = 642.92; ahead of the second 80, behind it
    # 642.92 - 80 - 157.08 = 405.84.
    arc = 100 * QUARTER
    steps = [Step(1, "A", 200, 0, 90), Step(2, "A", 280 + arc, 0, 90)]
    _, seen = make(1000, steps, Die(100), Bender())
    assert [found.room.ahead for found in seen] == pytest.approx([200, 80])
    assert [found.room.behind for found in seen] == pytest.approx([642.920367, 405.840735])


def test_grip_is_sawn_off():
    # 60 of grip ahead of a leg of 20, 45 behind a leg of 50.
    arc = 100 * QUARTER
    stock = 60 + 20 + arc + 50 + 45
    tube, _ = make(stock, [Step(1, "A", 80, 0, 90)], Die(100), Bender())
    assert sawn(tube, 60, stock - 45).legs == pytest.approx([20, 50])
    with pytest.raises(CannotBendError, match="A cut"):
        sawn(tube, 81, stock)
    with pytest.raises(CannotBendError, match="B cut"):
        sawn(tube, 0, stock + 1)


def test_what_cannot_be_bent_is_refused():
    stock = 500
    with pytest.raises(CannotBendError, match="not on the stock"):
        make(stock, [Step(1, "A", -1, 0, 90)], Die(100), Bender())
    with pytest.raises(CannotBendError, match="not one straight"):  # runs off the tail
        make(stock, [Step(1, "A", 400, 0, 90)], Die(100), Bender())
    with pytest.raises(CannotBendError, match="not one straight"):  # into a bend already made
        make(stock, [Step(1, "A", 200, 0, 90), Step(2, "A", 300, 0, 30)], Die(100), Bender())
    with pytest.raises(CannotBendError, match="does not move"):
        make(stock, [Step(1, "A", 200, 0, 2)], Die(100, dial_zero=2), Bender())


def test_strokes_are_counted_from_where_the_die_starts():
    # The dial stands at 2 before the die moves: 45 of travel is the reading 47.
    bend = {"strokes": [47.0, 92.0], "dial": 100.0}
    assert stroke_travels(bend, Die(100, dial_zero=2)) == pytest.approx([45, 45, 8])


def bent_in_order(tube: RandomTube, die: Die, bender: Bender, lead: End) -> Part:
    """The tube made the plainest way: every bend in turn from one end, with ample grip."""
    grip = 100.0
    place = grip + tube.part.legs[0]
    steps = []
    for number, angle in enumerate(tube.part.angles, start=1):
        loaded = angle * (1 + die.springback)
        used = (1 - die.stretch) * die.clr * np.radians(loaded)
        mark = place - die.mark_offset if lead == "A" else place + used + die.mark_offset
        roll = tube.part.rotations[number - 1 if lead == "A" else number % len(tube.part.angles)]
        steps.append(Step(number, lead, mark, roll, loaded + die.dial_zero))
        place += used + tube.part.legs[number]
    stock = place + grip
    order = steps if lead == "A" else steps[::-1]
    return sawn(make(stock, order, die, bender)[0], grip, place)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("lead", ["A", "B"])
def test_random_parts_come_out_as_drawn_when_bent_in_order(seed, lead):
    job = random_job(seed)
    for tube in job.tubes:
        part = bent_in_order(tube, job.dies[tube.die], job.bender, lead)
        first = tube.part.pieces[0]
        laid = part.put_on(first.start, first.along, tube.up)
        assert worst_gap(laid.stations, tube.part.stations) < 1e-6
        assert worst_gap(laid_on(part.corners, tube.part.corners), tube.part.corners) < 1e-6
        assert part.legs == pytest.approx(tube.part.legs, abs=1e-6)
        assert part.angles == pytest.approx(tube.part.angles, abs=1e-9)


def test_a_mirrored_part_is_the_other_hand():
    hands = [tube for tube in random_job(1).tubes if tube.mirrored]
    parts = [tube for tube in random_job(1).tubes if not tube.mirrored]
    assert hands
    for hand in hands:
        other = parts[[tube.name for tube in parts].index(f"tube {int(hand.name[5:]) - 1}")]
        turns = [-turn if abs(turn) < 179.99 else 180.0 for turn in other.part.rotations]
        mine = [turn if abs(turn) < 179.99 else 180.0 for turn in hand.part.rotations]
        assert mine == pytest.approx(turns, abs=1e-6)
        assert hand.part.legs == pytest.approx(other.part.legs)
