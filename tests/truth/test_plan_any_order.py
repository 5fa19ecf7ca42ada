"""Plans in any order, with either end leading at every bend, give the part drawn.

Three hundred random tubes, each in an order and with lead ends drawn by lot, are bent on the
virtual bender, which knows nothing of how the plan was made. 1e-6 mm is what rounding of the
arithmetic leaves over some metres; what a bend finds ahead and behind, and what a level reads, is
held against the tube as it lies in the virtual bender.
"""

from __future__ import annotations

import tempfile
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from soapstone.flow.planning import plan
from soapstone.job.files import bench_of, read_job
from soapstone.plan.order import Turn
from tests.truth.random_tubes import RandomTube, random_job
from tests.truth.test_plan_bends_true import Made, bent_as_planned
from tests.truth.virtual_bender import (
    laid_on,
    worst_gap,
)

JOBS = range(100, 130)  # ten tubes each
SAME = 1e-6  # mm


def drawn_by_lot(tubes: tuple[RandomTube, ...], seed: int) -> dict[str, tuple[Turn, ...]]:
    """An order for every tube that is no other's image; images take that of their tube."""
    rng = np.random.default_rng(seed)
    orders = {}
    for tube in tubes:
        if not tube.mirrored:
            count = len(tube.part.angles)
            leads = rng.choice(["A", "B"], count)
            numbers = rng.permutation(count) + 1
            orders[tube.name] = tuple(
                Turn(int(n), str(lead)) for n, lead in zip(numbers, leads, strict=True)
            )
    return orders


@cache
def made(seed: int) -> tuple[Made, ...]:
    job = random_job(seed)
    with tempfile.TemporaryDirectory() as folder:
        read = read_job(job.write(Path(folder)))
        planned = plan(read, bench_of(read), drawn_by_lot(job.tubes, seed))
    plans = planned.as_json()["tubes"]
    return tuple(
        bent_as_planned(tube, one, job) for tube, one in zip(job.tubes, plans, strict=True)
    )


@pytest.mark.parametrize("seed", JOBS)
def test_the_part_drawn_comes_off_the_bender_in_every_order(seed):
    for one in made(seed):
        drawn = one.tube.part
        first = drawn.pieces[0]
        laid = one.part.put_on(first.start, first.along, one.tube.up)
        assert worst_gap(laid.stations, drawn.stations) < SAME
        assert worst_gap(laid_on(one.part.stations, drawn.stations), drawn.stations) < SAME


@pytest.mark.parametrize("seed", JOBS)
def test_straight_ahead_and_behind_is_what_the_bender_finds(seed):
    for one in made(seed):
        for bend, step in zip(one.plan["bends"], one.seen, strict=True):
            assert bend["ahead"] == pytest.approx(step.room.ahead, abs=SAME)
            assert bend["behind"] == pytest.approx(step.room.behind, abs=SAME)


@pytest.mark.parametrize("seed", JOBS)
def test_every_step_that_is_short_of_straight_is_named_and_no_other(seed):
    for one in made(seed):
        short = {
            step.step.n
            for step in one.seen
            if step.room.ahead < one.die.clamp - 1e-6 or step.room.behind < one.die.follower - 1e-6
        }
        named = {
            int(problem["where"].rpartition(" ")[2])
            for problem in one.plan["problems"]
            # what a bend hits on its way is told too, and is held against samples elsewhere
            if problem["severity"] == "stop" and " hits " not in problem["what"]
        }
        assert named == short


@pytest.mark.parametrize("seed", JOBS)
def test_the_level_reads_what_the_plan_says(seed):
    for one in made(seed):
        for bend, step in zip(one.plan["bends"], one.seen, strict=True):
            level = bend["level"]
            if level is None:
                told = [
                    leg
                    for leg, keen in step.keenness.items()
                    if keen >= 0.25 and one.tube.part.legs[leg - 1] >= 100
                ]
                assert not told
                continue
            real = step.slopes[level["leg"]]
            assert level["reads"] == pytest.approx(abs(real), abs=SAME)
            if abs(real) > 0.1:
                assert level["rises"] == ("B" if real > 0 else "A")


@pytest.mark.parametrize("seed", JOBS)
def test_marks_lie_on_the_stock_and_grips_are_no_longer_than_needed(seed):
    for one in made(seed):
        stock, (a_cut, b_cut) = one.plan["stock"], one.plan["cuts"]
        assert all(0 <= bend["mark"] <= stock for bend in one.plan["bends"])
        needs = max(one.die.clamp, one.die.follower, abs(one.die.mark_offset))
        assert a_cut["mark"] == 0 or one.tube.part.legs[0] + a_cut["mark"] <= needs + 25.4 / 16
        rest = stock - b_cut["mark"]
        assert rest < 1e-9 or one.tube.part.legs[-1] + rest <= needs + 25.4 / 16


@pytest.mark.parametrize("seed", JOBS)
def test_both_hands_share_order_marks_and_dials_and_swap_the_rolls(seed):
    for other, one in pairwise(made(seed)):
        if not one.tube.mirrored:
            continue
        for mine, theirs in zip(one.plan["bends"], other.plan["bends"], strict=True):
            for key in ("n", "lead", "stock_mark", "end_for_end"):
                assert mine[key] == theirs[key]
            for key in ("mark", "dial"):
                assert mine[key] == pytest.approx(theirs[key], abs=SAME)
            # the long way round where only that is free: the bender is not mirrored
            assert -360 < mine["roll"] < 360
            turn = mine["roll"] + theirs["roll"]
            assert (turn + 180) % 360 - 180 == pytest.approx(0, abs=SAME)


def test_orders_drawn_by_lot_change_the_lead_end_and_go_past_bends():
    """The lot is worth something: ends change, bends are jumped, levels lie behind the die too."""
    seen = [one for seed in JOBS for one in made(seed)]
    assert len(seen) == 300
    turned = sum(bend["end_for_end"] for one in seen for bend in one.plan["bends"])
    back = sum(
        later["n"] < earlier["n"] for one in seen for earlier, later in pairwise(one.plan["bends"])
    )
    assert turned > 300
    assert back > 300
