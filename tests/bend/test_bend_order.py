"""The order that keeps a tube off the bender, and what is said when it does not."""

from dataclasses import replace

import numpy as np

from soapstone.bench.accuracy import Accuracy
from soapstone.bend.glance import glance
from soapstone.bend.machine import machine
from soapstone.bend.order import best_order, hold, steps_in
from soapstone.bend.pose import SIDES, Stick
from soapstone.bend.review import step_findings
from soapstone.geometry.solids import Box
from tests.truth.swung import random_stick

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


def test_an_order_of_any_number_of_bends_is_found_or_said_not_to_be_whole():
    assert best_order(straight_run(14), _machine()).whole
    long = best_order(straight_run(20), _machine())
    assert len(long.order) == 20
    assert not long.whole  # only in turn, from both ends
    assert hold(straight_run(61), _machine(), [(1, "A")]) == []


def test_what_a_tube_is_fed_into_makes_it_be_lifted_out():
    # once bent, the A end stands off to the left, and is fed along with the tube
    upright = replace(STICK, rotations=(0.0, 0.0))
    order = [(1, "A"), (2, "A")]
    beam = Box((-330.0, -460.0, 0.0), (40.0, 40.0, 60.0))
    free, met = (hold(upright, _machine(*bodies), order) for bodies in ((), (("beam", beam),)))
    assert [step.lifted for step in free] == [False, False]
    assert [step.lifted for step in met] == [False, True]
    assert met[0].free  # it stands outside of what the A end sweeps over at bend 1
    said = step_findings("leg", steps_in(upright, _machine(("beam", beam)), order))
    assert any("cannot be fed on" in finding.what for finding in said)


def test_a_glance_never_says_what_is_not_so_and_seldom_nothing():
    told = 0
    for seed in range(24):
        rng = np.random.default_rng(seed)
        stick = random_stick(rng, int(rng.integers(1, 5)))
        bodies = (
            ("box", Box(tuple(map(float, rng.uniform(-600, 600, 3))), (300.0, 200.0, 250.0))),
        )
        swing = ["left", "right", "up", "down"][seed % 4]
        where = machine(100.0, 38.1, 60.0, 90.0, SIDES[swing], bodies, float(rng.uniform(300, 900)))
        order = [(n, "A") for n in range(1, len(stick.angles) + 1)]
        held, seen = hold(stick, where, order), glance(stick, where, order)
        told += seen is not None
        if seen is False:
            assert not all(step.free for step in held)
        if seen is True:
            assert all(step.free and not step.lifted for step in held)
            assert all(step.roll is None or abs(step.roll) <= 180 for step in held)
    assert told >= 20


def test_rolls_that_cannot_be_set_truly_cost_more():
    """A bend that is rolled by a dull level, or a band, puts the far end out by more."""
    true = machine(100.0, 38.1, 60.0, 90.0, SIDES["left"], accuracy=Accuracy(level=0.1, band=0.2))
    rough = machine(100.0, 38.1, 60.0, 90.0, SIDES["left"], accuracy=Accuracy(level=2.0, band=4.0))
    assert best_order(STICK, rough).cost > best_order(STICK, true).cost + 0.05


def straight_run(bends):
    """Slight bends far apart, all in one plane."""
    starts = tuple(300.0 * n for n in range(1, bends + 1))
    return Stick(
        300.0 * (bends + 2),
        starts,
        tuple(at + 1.8 for at in starts),
        (1.0,) * bends,
        (1.03,) * bends,
        (0.0,) * bends,
        (103.0,) * bends,
    )
