"""The tube in the bender: where it lies, how it was rolled, where it goes."""

import math

import numpy as np
import pytest

from soapstone.bend.pose import SIDES
from soapstone.geometry.chain import walk
from soapstone.plan.order import Turn
from soapstone.sheets.level_view import around_leg
from soapstone.sheets.machine import stage
from tests.setups import setup
from tests.sheets.packs import in_order, line, named, planned
from tests.truth.virtual_bender import Bender, Die, Step, blank, loaded_into
from tests.truth.virtual_bender import bent as bent_by

BENDERS = [
    ("horizontal", "left"),
    ("horizontal", "right"),
    ("vertical", "up"),
    ("vertical", "down"),
]
LEADS = ["A", "B"]


def bent(plane: str, swing: str, lead: str):
    """Four bends out of plane with grips at both ends, on one kind of bender."""
    with_setup = setup(springback=0.03, plane=plane, swing=swing, mark_offset=7.0)
    shape = line([20, 220, 250, 180, 15], [80, 35, 120, 60], [0, 90, -40, 150], 103)
    return planned([named("tube", shape)], with_setup, lead)[0]


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_the_bend_starts_at_the_origin_with_the_tail_along_x(plane, swing, lead):
    tube = bent(plane, swing, lead)
    for place in range(len(tube.bends)):
        here = stage(tube, place, 200.0)
        way = walk(here.before)
        tail = way.nodes[-1] if lead == "A" else way.nodes[0]
        assert tail[1:] == pytest.approx([0.0, 0.0], abs=1e-6)
        assert 0 < tail[0] <= 200.0 + 1e-6
        out = way.directions[-1] if lead == "A" else -way.directions[0]
        assert out == pytest.approx([1.0, 0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_the_lead_swings_where_the_bender_swings_it(plane, swing, lead):
    tube = bent(plane, swing, lead)
    aside = np.array(SIDES[swing])
    for place, step in enumerate(tube.bends):
        way = walk(stage(tube, place, 200.0).after)
        leg = place + 1 if lead == "A" else len(way.directions) - 2 - place
        ahead = -way.directions[leg - 1] if lead == "A" else way.directions[leg + 1]
        loaded = math.radians(step.loaded)
        wanted = -math.cos(loaded) * np.array([1.0, 0.0, 0.0]) + math.sin(loaded) * aside
        assert ahead == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_the_leg_that_the_level_lies_on_has_the_slope_it_must_read(plane, swing, lead):
    checked = 0
    tube = bent(plane, swing, lead)
    for place, step in enumerate(tube.bends):
        here = stage(tube, place, 200.0)
        if step.level is None:
            assert here.level_leg is None
            continue
        rise = math.degrees(math.asin(walk(here.before).directions[here.level_leg][2]))
        assert abs(rise) == pytest.approx(step.level.reads, abs=1e-6)
        assert {"B": 1, "A": -1, "": 0}[step.level.rises] == (
            0 if abs(rise) < 0.05 else math.copysign(1, rise)
        )
        checked += 1
    assert checked >= 1


@pytest.mark.parametrize("lead", LEADS)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_before_the_roll_the_tube_lies_as_the_last_bend_left_it(plane, swing, lead):
    """The bend made last lies in the plane of the die, and the roll clockwise leads from there."""
    tube = bent(plane, swing, lead)
    for place in range(1, len(tube.bends)):
        here = stage(tube, place, 200.0)
        axis = walk(here.unrolled).axes[here.turned]
        assert axis @ np.array(SIDES[swing]) == pytest.approx(0.0, abs=1e-9)
        assert axis[0] == pytest.approx(0.0, abs=1e-9)
        roll = math.radians(tube.bends[place].roll)
        # seen from the tail y is to the right and z is up: clockwise takes up to the right
        y, z = axis[1], axis[2]
        turned = (
            y * math.cos(roll) + z * math.sin(roll),
            -y * math.sin(roll) + z * math.cos(roll),
        )
        assert walk(here.before).axes[here.turned][1:] == pytest.approx(turned, abs=1e-9)


MIXED = ["3A 1A 4B 2B", "2B 4A 1B 3A", "4A 3A 2A 1A", "1B 2B 3B 4B", "2A 3B 1A 4B"]


def in_any_order(plane: str, swing: str, order: str):
    with_setup = setup(springback=0.03, plane=plane, swing=swing, mark_offset=7.0)
    shape = line([20, 220, 250, 180, 15], [80, 35, 120, 60], [0, 90, -40, 150], 103)
    turns = tuple(Turn(int(n), lead) for n, lead in order.split())
    return in_order([named("tube", shape)], with_setup, [turns])[0]


@pytest.mark.parametrize("order", MIXED)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_in_any_order_a_stage_is_what_the_virtual_bender_shows(plane, swing, order):
    """Corners of the tube before and at the end of every bend, as another program bends it."""
    tube = in_any_order(plane, swing, order)
    bender = Bender(swing, plane)
    die = Die(100, mark_offset=7.0, springback=0.03)
    there = blank(tube.stock)
    for place, step in enumerate(tube.bends):
        done = Step(step.n, step.lead, step.mark, step.roll, step.dial)
        there = loaded_into(there, done, die, bender)
        here = stage(tube, place, 1e6)
        arcs = [piece for piece in there.pieces if piece.n]
        ends = [there.pieces[0].start, there.pieces[-1].at(1.0)[0]]
        nodes = walk(here.before).nodes
        assert nodes[[0, -1]] == pytest.approx(np.array(ends), abs=1e-6)
        for number, arc in enumerate(arcs):
            assert nodes[2 * number + 1] == pytest.approx(arc.start, abs=1e-6)
            assert nodes[2 * number + 2] == pytest.approx(arc.at(1.0)[0], abs=1e-6)
        lead = (
            there.pieces[: here.leg * 2] if step.lead == "A" else there.pieces[here.leg * 2 + 1 :]
        )
        assert here.bent_ahead == any(piece.n for piece in lead)
        there = bent_by(there, die, bender, step.dial, step.n)


@pytest.mark.parametrize("order", MIXED)
@pytest.mark.parametrize(("plane", "swing"), BENDERS)
def test_in_any_order_the_level_lies_on_a_leg_with_the_slope_it_must_read(plane, swing, order):
    tube = in_any_order(plane, swing, order)
    for place, step in enumerate(tube.bends):
        here = stage(tube, place, 200.0)
        if step.level is not None:
            rise = math.degrees(math.asin(walk(here.before).directions[here.level_leg][2]))
            assert abs(rise) == pytest.approx(step.level.reads, abs=1e-6)


def test_grips_are_still_on():
    tube = bent("horizontal", "left", "A")
    first = walk(stage(tube, 0, 200.0).before)
    assert first.nodes[0] == pytest.approx([-tube.bends[0].arc_from, 0.0, 0.0])
    assert tube.cuts[0].offcut > 0


@pytest.mark.parametrize("index", range(5))
def test_a_leg_shown_alone_lies_where_it_lay_in_the_whole_tube(index):
    whole = line([300, 220, 250, 180, 200], [80, 35, 120, 60], [0, 90, -40, 150], 103)
    part = around_leg(whole, index)
    place = 0 if index == 0 else 1
    mine, all_of_it = walk(part), walk(whole)
    shown = mine.nodes[2 * place : 2 * place + 2]
    assert shown == pytest.approx(all_of_it.nodes[2 * index : 2 * index + 2], abs=1e-9)
    assert len(part.legs) == (2 if index in (0, 4) else 3)
    for own, theirs in zip(mine.axes, all_of_it.axes[max(index - 1, 0) :], strict=False):
        assert own == pytest.approx(theirs, abs=1e-9)
