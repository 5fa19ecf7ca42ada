"""What a sheet says, word for word."""

from dataclasses import replace

import pytest

from soapstone.plan.model import LevelReading
from soapstone.quantities import parse_tape
from soapstone.sheets.words import (
    Numbers,
    breakable,
    clock_words,
    level_words,
    plain,
    roll_words,
    shortened,
)
from tests.sheets.packs import pair

DULL = "A poor guide here: set the roll by the wrap band."


@pytest.mark.parametrize(
    ("roll", "said"),
    [
        (90.0, "Roll 90° clockwise, seen from the tail."),
        (-37.46, "Roll 37.5° anticlockwise, seen from the tail."),
        (180.0, "Roll 180° clockwise, seen from the tail."),
        (-179.98, "Roll 180° anticlockwise, seen from the tail."),
        (0.04, "No roll: keep the tube as it lies."),
        (-0.0, "No roll: keep the tube as it lies."),
    ],
)
def test_roll(roll, said):
    assert roll_words(roll) == said


@pytest.mark.parametrize(
    ("level", "said"),
    [
        (LevelReading(1, 0.0, "", 1.0), "Leg 1 level."),
        (LevelReading(2, 90.0, "B", 1.0), "Leg 2 plumb, seen from the tail, B end up."),
        (LevelReading(3, 33.83, "A", 0.8), "Leg 3 at 33.8°, A end up."),
        (
            LevelReading(1, 12.0, "B", 0.1),
            f"Leg 1 at 12.0°, B end up. {DULL}",
        ),
        (None, "No straight will hold a level: set the roll by the wrap band."),
    ],
)
def test_level(level, said):
    step = replace(pair()[0].bends[1], level=level)
    assert level_words(step, first=False) == said


def test_the_first_bend_has_nothing_to_level():
    assert level_words(pair()[0].bends[0], first=True) == "First bend: nothing to level yet."


@pytest.mark.parametrize(
    ("clock", "said"),
    [(12.0, "12 o'clock"), (3.1, "3 o'clock"), (0.4, "half past 12"), (11.9, "12 o'clock")],
)
def test_clock(clock, said):
    assert clock_words(clock) == said


@pytest.mark.parametrize(
    ("step", "said"), [(0.1, "93.4°"), (0.5, "93.4°"), (1.0, "93°"), (0.25, "93.42°")]
)
def test_a_dial_is_written_as_finely_as_it_is_read(step, said):
    assert Numbers("mm", parse_tape("1 mm"), step).dial(93.42) == said


def test_lengths_follow_the_tape():
    assert Numbers("mm", parse_tape("0.5 mm"), 1).length(412.26).split() == ["412.5", "mm"]
    assert Numbers("in", parse_tape("1/16 in"), 1).length(300.0).split() == ["11", '13/16"']


def test_user_text_becomes_one_plain_line():
    assert plain(" a\n\tb\u202e\x00c ") == "a bc"
    assert shortened("a" * 50, 10) == "aaaaaaaaa…"
    assert breakable("short " + "x" * 25).replace("\u200b", "") == "short " + "x" * 25
    assert breakable("x" * 25).count("\u200b") == 2
