"""The law the whole program stands on: what a plan says, done at a bender, gives the part drawn.

Five hundred random tubes are planned from their files and bent step by step on the virtual bender,
which knows nothing of how the plan was made. Tolerances: 0.01 mm is a tenth of what a scribed line
can show and far above rounding of the arithmetic; readings agree to the last digits of a float.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soapstone.flow import plan_job
from tests.truth.random_tubes import RandomJob, RandomTube, random_job
from tests.truth.virtual_bender import (
    Array,
    Bender,
    Die,
    Part,
    Rolled,
    laid_on,
    made_blind,
    make,
    rounded_to,
    sawn,
    steps_of,
    stroke_travels,
    worst_gap,
)

JOBS = range(50)
SAME = 0.01  # mm
COARSEST_TAPE = 25.4 / 16  # mm: a tape in inches is read to a sixteenth, one in mm to a millimetre
A_LEVEL_SHOWS = 0.001  # degrees: a hundredth of the last digit of a digital level (common practice)
CORNERS_BELOW = 170.0  # degrees: a plan draws a sharper bend with several corners


@dataclass(frozen=True)
class Made:
    """A random tube, the plan for it, and what came off the bender."""

    tube: RandomTube
    plan: dict[str, Any]
    part: Part
    seen: tuple[Rolled, ...]
    die: Die
    bender: Bender


def bent_as_planned(tube: RandomTube, plan: dict[str, Any], job: RandomJob) -> Made:
    die = job.dies[tube.die]
    bar, seen = make(plan["stock"], steps_of(plan), die, job.bender)
    a_cut, b_cut = (cut["mark"] for cut in plan["cuts"])
    return Made(tube, plan, sawn(bar, a_cut, b_cut), seen, die, job.bender)


@cache
def planned(seed: int) -> tuple[RandomJob, list[dict[str, Any]]]:
    job = random_job(seed)
    with tempfile.TemporaryDirectory() as folder:
        plans = plan_job(job.write(Path(folder))).as_json()["tubes"]
    return job, plans


def can_be_marked(plan: dict[str, Any]) -> bool:
    """Whether every mark lies on the stock: no bender can be set by one that does not."""
    return all(0 <= bend["mark"] <= plan["stock"] for bend in plan["bends"])


@cache
def made(seed: int) -> tuple[Made, ...]:
    """Every tube of the job that can be marked (a law of its own), bent as planned."""
    job, plans = planned(seed)
    return tuple(
        bent_as_planned(tube, plan, job)
        for tube, plan in zip(job.tubes, plans, strict=True)
        if can_be_marked(plan)
    )


@pytest.mark.parametrize("seed", JOBS)
def test_every_corner_lands_and_the_hand_is_right(seed):
    for one in made(seed):
        drawn = one.tube.part
        assert worst_gap(laid_on(one.part.stations, drawn.stations), drawn.stations) < SAME
        if max(drawn.angles) < CORNERS_BELOW:
            assert worst_gap(laid_on(one.part.corners, drawn.corners), drawn.corners) < SAME


@pytest.mark.parametrize("seed", JOBS)
def test_laid_down_by_its_a_end_it_lies_where_it_was_drawn(seed):
    for one in made(seed):
        drawn = one.tube.part
        first = drawn.pieces[0]
        laid = one.part.put_on(first.start, first.along, one.tube.up)
        assert worst_gap(laid.stations, drawn.stations) < SAME
        points = np.array(one.plan["points"])
        np.testing.assert_allclose(points[[0, -1]], np.array(drawn.ends), atol=SAME)
        if max(drawn.angles) < CORNERS_BELOW:
            assert worst_gap(points, drawn.corners) < SAME


@pytest.mark.parametrize("seed", JOBS)
def test_the_plan_says_of_each_bend_what_it_is(seed):
    for one in made(seed):
        drawn, bends = one.tube.part, one.plan["bends"]
        assert sorted(bend["n"] for bend in bends) == list(range(1, len(drawn.angles) + 1))
        for bend in bends:
            k = bend["n"] - 1
            assert bend["angle"] == pytest.approx(drawn.angles[k], abs=1e-6)
            assert bend["leg"] == pytest.approx(drawn.legs[k], abs=1e-5)
            assert -180 < bend["rotation"] <= 180
            turn = bend["rotation"] - drawn.rotations[k]
            assert (turn + 180) % 360 - 180 == pytest.approx(0, abs=1e-5)
            assert bend["loaded"] == pytest.approx(bend["dial"] - one.die.dial_zero, abs=1e-9)
            assert bend["dial_low"] <= bend["dial"] <= bend["dial_high"]
        assert one.plan["length"] == pytest.approx(drawn.pieces[-1].stock_to, abs=1e-4)


@pytest.mark.parametrize("seed", JOBS)
def test_clamp_and_follower_find_straight_or_the_plan_stops(seed):
    for one in made(seed):
        short = [
            step
            for step in one.seen
            if step.room.ahead < one.die.clamp - 1e-6 or step.room.behind < one.die.follower - 1e-6
        ]
        stops = [
            problem
            for problem in one.plan["problems"]
            # what a bend hits on its way is told too, and is held against samples elsewhere
            if problem["severity"] == "stop" and " hits " not in problem["what"]
        ]
        assert bool(short) == bool(stops), (one.tube.name, short, stops)


@pytest.mark.parametrize("seed", JOBS)
def test_marks_lie_on_the_stock_and_little_of_it_is_wasted(seed):
    for one in made(seed):
        stock, (a_cut, b_cut) = one.plan["stock"], one.plan["cuts"]
        for reading in [*one.plan["bends"], a_cut, b_cut]:
            assert 0 <= reading["mark"] <= stock
            assert abs(reading["stock_mark"] - reading["mark"]) <= COARSEST_TAPE / 2 + 1e-9
        # Grip is added only where a leg is too short for what must hold it there, or for the mark.
        rooms = [room for step in one.seen for room in (step.room.ahead, step.room.behind)]
        needs = max(one.die.clamp, one.die.follower, abs(one.die.mark_offset))
        if a_cut["mark"] > 0:
            assert one.tube.part.legs[0] + a_cut["mark"] <= needs + COARSEST_TAPE
            assert min(rooms) > 0
        if b_cut["mark"] < stock:
            assert one.tube.part.legs[-1] + stock - b_cut["mark"] <= needs + COARSEST_TAPE


@pytest.mark.parametrize("seed", JOBS)
def test_no_stroke_is_longer_than_the_ram_and_none_is_wasted(seed):
    for one in made(seed):
        for bend in one.plan["bends"]:
            travels = stroke_travels(bend, one.die)
            assert min(travels) > 0
            if one.bender.stroke:
                assert max(travels) <= one.bender.stroke + 1e-9
                assert len(travels) == ceil(bend["loaded"] / one.bender.stroke - 1e-9)
            else:
                assert len(travels) == 1


@pytest.mark.parametrize("seed", JOBS)
def test_the_level_reads_what_the_plan_says(seed):
    for one in made(seed):
        for bend, step in zip(one.plan["bends"], one.seen, strict=True):
            level = bend["level"]
            if level is None:
                # Nothing bent yet, or nothing that a level would sit on and that tells the roll.
                told = [
                    leg
                    for leg, keen in step.keenness.items()
                    if keen >= 0.25 and one.tube.part.legs[leg - 1] >= 100
                ]
                assert not told
                continue
            real = step.slopes[level["leg"]]
            assert abs(level["reads"]) == pytest.approx(abs(real), abs=A_LEVEL_SHOWS)
            if abs(real) > 0.1:
                assert level["rises"] == ("B" if real > 0 else "A")


@pytest.mark.parametrize("seed", JOBS)
def test_both_hands_share_marks_and_dials_and_swap_the_rolls(seed):
    for other, one in pairwise(made(seed)):
        if not one.tube.mirrored:
            continue
        for mine, theirs in zip(one.plan["bends"], other.plan["bends"], strict=True):
            for key in ("n", "lead", "stock_mark"):
                assert mine[key] == theirs[key]
            for key in ("mark", "dial", "leg"):
                assert mine[key] == pytest.approx(theirs[key], abs=1e-6)
            turn = mine["roll"] + theirs["roll"]
            assert (turn + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


def test_every_mark_lies_on_the_stock():
    unmarkable = [
        f"job {seed}, {plan['name']}"
        for seed in JOBS
        for plan in planned(seed)[1]
        if not can_be_marked(plan)
    ]
    assert not unmarkable


def test_a_leg_too_short_for_the_clamp_is_bent_the_other_way_about(tmp_path):
    # 50 between two right angles: the clamp needs 60, the follower only 40. Bend 2 made first finds
    # all the straight it wants ahead; bend 1 then has 50 behind it. In turn from A, or from B, the
    # clamp would have to hold on 50.
    (tmp_path / "bench.toml").write_text(
        'format = 1\nunits = "mm"\n[bender]\nname = "invented"\nplane = "horizontal"\n'
        'swing = "left"\ndie_height = 2000\n[[die]]\nname = "d"\nod = 25.4\nclr = 90\n'
        "clamp = 60\nfollower = 40\nspringback = 0.02\n[[tubing]]\n"
        'name = "t"\nod = 25.4\nwall = 1.65\nmaterial = "304"\nsticks = [6000]\n'
    )
    job = tmp_path / "job.toml"
    job.write_text(
        'format = 1\nname = "j"\nunits = "mm"\nbench = "bench.toml"\n[[tube]]\nname = "u"\n'
        'tubing = "t"\ndie = "d"\nbends = { legs = [300, 50, 300], angles = [90, 90], '
        "rotations = [0, 90], from = [0, 0, 0], along = [1, 0, 0], up = [0, 1, 0] }\n"
    )
    (plan,) = plan_job(job).as_json()["tubes"]
    assert not [what for what in plan["problems"] if what["severity"] == "stop"]
    die = Die(90, clamp=60, follower=40, springback=0.02)
    _, seen = make(plan["stock"], steps_of(plan), die, Bender())
    assert all(step.room.ahead >= 60 and step.room.behind >= 40 for step in seen)


def as_a_shop_makes_it(one: Made, dial_step: float) -> Part:
    """The part made from the tape's graduations, a dial read to a step, and exact rolls."""
    marks = {bend["n"]: bend["stock_mark"] for bend in one.plan["bends"]}
    steps = [
        replace(step, mark=marks[step.n], dial=rounded_to(step.dial, dial_step))
        for step in steps_of(one.plan)
    ]
    bar = made_blind(one.plan["stock"], steps, one.die, one.bender)
    a_cut, b_cut = (cut["stock_mark"] for cut in one.plan["cuts"])
    # An end leg of a millimetre can be rounded away: then it is sawn where the bend begins.
    first, last = bar.pieces[0], bar.pieces[-1]
    return sawn(bar, min(a_cut, first.stock_to), float(np.clip(b_cut, last.stock_from, bar.stock)))


def misses(dial_step: float) -> Array:
    """How far the worst station of each random tube lies from where it was drawn, mm."""
    found = []
    for seed in JOBS:
        for one in made(seed):
            there = one.tube.part.stations
            part = as_a_shop_makes_it(one, dial_step)
            found.append(worst_gap(laid_on(part.stations, there), there))
    return np.array(found)


@pytest.mark.parametrize(
    ("dial_step", "median", "most", "worst"),
    [(1.0, 1.8, 4.9, 11.2), (0.5, 1.05, 2.6, 5.8), (0.001, 0.62, 1.35, 2.3)],
)
def test_how_far_a_part_made_from_a_tape_and_a_dial_misses(
    dial_step, median, most, worst, record_property
):
    # No source: rounding alone, over these five hundred tubes of up to 6 m, measured and held; the
    # limits stand a tenth above what was measured. It shows what a shop can expect, and that a
    # dial read to half a degree costs more than a tape.
    found = misses(dial_step)
    measured = [float(np.median(found)), float(np.quantile(found, 0.95)), float(found.max())]
    record_property("median, 95 %, worst in mm", measured)
    print(f"dial to {dial_step}: median, 95 %, worst {np.round(measured, 2)} mm")  # noqa: T201
    assert measured[0] < median
    assert measured[1] < most
    assert measured[2] < worst
