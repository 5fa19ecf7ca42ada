"""The order that keeps a tube off the bender, and what is said when it does not."""

from dataclasses import replace

from soapstone.bend.machine import machine
from soapstone.bend.order import best_order, steps_in
from soapstone.bend.pose import SIDES, Stick
from soapstone.bend.review import step_findings
from soapstone.geometry.solids import Box

# Two bends of 90 degrees, the second square to the first.
STICK = Stick(
    1400.0, (400.0, 900.0), (557.08, 1057.08), (90.0, 90.0), (90.0, 90.0), (0.0, 90.0), (100.0,) * 2
)


def _machine(*bodies, height=None):
    return machine(100.0, 38.1, 60.0, 90.0, SIDES["left"], bodies, height)


def test_a_tube_with_nothing_about_is_bent_in_turn_from_a():
    best = best_order(STICK, _machine())
    assert best.order == ((1, "A"), (2, "A"))
    assert step_findings("leg", steps_in(STICK, _machine(), best.order)) == []


def test_a_low_floor_lets_it_be_and_a_high_one_is_hit():
    assert best_order(STICK, _machine(height=900.0)).order
    assert best_order(STICK, _machine(height=15.0)).order == ()


def test_a_mirrored_tube_does_not_clear_what_its_twin_clears():
    hits = {}
    for rotation in (90.0, -90.0):
        hand = replace(STICK, rotations=(0.0, rotation))
        steps = steps_in(hand, _machine(height=200.0), [(1, "A"), (2, "A")])
        hits[rotation] = bool(step_findings("leg", steps))
    assert hits[90.0] != hits[-90.0]


def test_a_clash_says_step_thing_and_moment():
    wall = Box((-300.0, -300.0, 0.0), (100.0, 100.0, 100.0))
    steps = steps_in(STICK, _machine(("wall", wall)), [(1, "A")])
    said = [str(finding) for finding in step_findings("leg", steps)]
    assert any(line.startswith("leg, bend 1: the A end hits the wall as the die") for line in said)
