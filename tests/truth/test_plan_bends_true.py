"""The law the whole program stands on: what a plan says, done at a bender, gives the part drawn.

Five hundred random tubes are planned from their files and bent step by step on the virtual bender,
which knows nothing of how the plan was made. Tolerances: 0.01 mm is a tenth of what a scribed line
can show and far above rounding of the arithmetic; readings agree to the last digits of a float.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soapstone.flow import plan_job
from tests.truth.random_tubes import RandomJob, RandomTube, random_job
from tests.truth.virtual_bender import (
    Bender,
    Die,
    Part,
    Rolled,
    laid_on,
    make,
    rounded_to,
    sawn,
    steps_of,
    stroke_travels,
    worst_gap,
)

JOBS = range(50)
SAME = 0.01  # mm
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


@lru_cache(maxsize=None)
def planned(seed: int) -> tuple[RandomJob, list[dict[str, Any]]]:
    job = random_job(seed)
    with tempfile.TemporaryDirectory() as folder:
        plans = plan_job(job.write(Path(folder))).as_json()["tubes"]
    return job, plans


@lru_cache(maxsize=None)
def made(seed: int) -> tuple[Made, ...]:
    job, plans = planned(seed)
    return tuple(
        bent_as_planned(tube, plan, job) for tube, plan in zip(job.tubes, plans, strict=True)
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
def test_clamp_and_follower_find_straight_and_marks_lie_on_the_stock(seed):
    for one in made(seed):
        stock = one.plan["stock"]
        for step in one.seen:
            assert step.room.ahead >= one.die.clamp - 1e-6
            assert step.room.behind >= one.die.follower - 1e-6
        for reading in [*one.plan["bends"], *one.plan["cuts"]]:
            assert 0 <= reading["mark"] <= stock
            # A tape in inches is read to a sixteenth, one in millimetres to a millimetre.
            assert abs(reading["stock_mark"] - reading["mark"]) <= 25.4 / 32 + 1e-9


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
            if not step.slopes:
                assert bend["level"] is None
                continue
            leg = bend["level"]["leg"]
            assert abs(bend["level"]["reads"]) == pytest.approx(abs(step.slopes[leg]), abs=1e-6)


@pytest.mark.parametrize("seed", JOBS)
def test_both_hands_share_marks_and_dials_and_swap_the_rolls(seed):
    all_made = made(seed)
    for other, one in zip(all_made, all_made[1:], strict=False):
        if not one.tube.mirrored:
            continue
        for mine, theirs in zip(one.plan["bends"], other.plan["bends"], strict=True):
            for key in ("n", "lead", "stock_mark"):
                assert mine[key] == theirs[key]
            for key in ("mark", "dial", "leg"):
                assert mine[key] == pytest.approx(theirs[key], abs=1e-6)
            turn = mine["roll"] + theirs["roll"]
            assert (turn + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


def at_the_bench(one: Made, dial_step: float) -> Part:
    """The part made from marks on a millimetre tape, a dial read to a step, and exact rolls."""
    steps = [
        replace(step, mark=rounded_to(step.mark, 1.0), dial=rounded_to(step.dial, dial_step))
        for step in steps_of(one.plan)
    ]
    bar, _ = make(one.plan["stock"], steps, one.die, one.bender)
    a_cut, b_cut = (rounded_to(cut["mark"], 1.0) for cut in one.plan["cuts"])
    return sawn(bar, max(a_cut, 0.0), min(b_cut, one.plan["stock"]))


def misses(dial_step: float) -> np.ndarray:
    """How far the worst station of each random tube lies from where it was drawn, mm."""
    found = []
    for seed in JOBS:
        for one in made(seed):
            there = one.tube.part.stations
            found.append(worst_gap(laid_on(at_the_bench(one, dial_step).stations, there), there))
    return np.array(found)
