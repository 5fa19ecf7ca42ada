"""Parts made on the virtual bender with everything a little wrong, taped, and found out.

No source but the statement itself: what an inspection says a number may be off by holds 19 times
of 20. Parts are made by a bender that shares no code with the package; what a tape reads on them is
the most found between points set densely round both places (within 0.001 mm of the most there is).
Errors are drawn by the sizes that docs/numbers.md states.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from soapstone.check.inspect.answer import inspect
from soapstone.check.inspect.choosing import check_plan
from soapstone.check.inspect.files import readings_from, taken_on
from soapstone.check.inspect.model import ToleranceTable
from soapstone.check.inspect.result import Inspection
from soapstone.check.inspect.tolerance import limits_for
from soapstone.plan.model import TubePlan
from soapstone.plan.order import Turn
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.plan.test_tubes import line
from tests.setups import setup
from tests.truth.virtual_bender import Bender, Die, Part, Step, bent, blank, loaded_into, sawn

OD, SURE = 38.1, 1.96
SPRINGBACK, ZERO, OFFSET = 0.02, 1.2, 10.0
TAPE, PROTRACTOR = 1.0, 0.5  # plus or minus, 19 times of 20
PARTS = 90
"""benchmarks/bench_inspect.py makes as many as are asked for."""


@dataclass(frozen=True)
class Mistakes:
    """Gross mistakes by the number of the bend, degrees or mm."""

    dial: tuple[int, float] = (0, 0.0)
    roll: tuple[int, float] = (0, 0.0)
    tape: tuple[int, float] = (-1, 0.0)


def random_plan(rng: np.random.Generator) -> TubePlan:
    count = int(rng.integers(1, 5))
    legs = rng.uniform(180, 500, count + 1)
    angles = rng.uniform(20, 100, count)
    turns = [0.0, *rng.uniform(-170, 170, count - 1)]
    if rng.random() < 0.25:
        turns = [0.0, *rng.choice([0.0, 180.0], count - 1)]
    return planned(line(legs, angles, turns))


def planned(shape) -> TubePlan:
    tools = setup(SPRINGBACK, ZERO, mark_offset=OFFSET, od=OD)
    return plan_tubes([Shape("tube", shape, ())], [tools])[0]


def made(
    plan: TubePlan,
    rng: np.random.Generator,
    gross: Mistakes = Mistakes(),
    creeps: bool = False,
) -> tuple:
    """The part and its marks (stock coordinates), every step off by what a shop is off by.

    A shop that creeps stops a bend with a first stop there, measures it and takes it on; one that
    does not is taken to stop where the bend is drawn in the mean.
    """
    springback = SPRINGBACK + rng.normal() * np.hypot(0.25 * SPRINGBACK, 0.005)
    zero = ZERO + rng.normal() * 0.5
    scatter = 0.25 * np.exp(0.7 * rng.normal())
    offset, stretch = OFFSET + 0.5 * rng.normal(), 0.003 * rng.normal()
    machine = Bender()
    tube = blank(plan.stock_tape + 0.5 * rng.normal() * (plan.cuts[1].offcut <= 0))
    marks = {}
    for bend in plan.bends:
        mark = bend.stock_mark + rng.normal() * np.hypot(1 / np.sqrt(12), 0.5)
        told = bend.dial_stop if bend.first_stop is None else bend.dial
        dial = told + rng.normal() * 0.5 / np.sqrt(12)
        band = np.degrees(0.5 / (OD / 2))
        level = band if bend.level is None else min(band, 0.25 / bend.level.sharpness)
        roll = bend.roll + rng.normal() * level * (bend is not plan.bends[0])
        dial += gross.dial[1] * (gross.dial[0] == bend.n)
        roll += gross.roll[1] * (gross.roll[0] == bend.n)
        loaded = dial - zero
        free = (loaded - scatter * rng.normal()) / (1 + springback)
        if creeps and bend.first_stop is not None:
            loaded, free = crept(plan, bend, (zero, springback, scatter), rng)
            dial = loaded + zero
        die = Die(100.0, offset, 0, 0, loaded / free - 1, zero, stretch)
        ready = loaded_into(tube, Step(bend.n, bend.lead, mark, roll, dial), die, machine)
        tube = bent(ready, die, machine, dial, bend.n)
        marks[bend.n] = mark
    ends = [cut.stock_mark for cut in plan.cuts]
    cut = [cut.offcut > 0 for cut in plan.cuts]
    a_cut = ends[0] + 0.5 * rng.normal() if cut[0] else 0.0
    b_cut = ends[1] + 0.5 * rng.normal() if cut[1] else tube.stock
    return sawn(tube, a_cut, b_cut), marks


def crept(plan, bend, truth, rng: np.random.Generator) -> tuple[float, float]:
    """Loaded and free angle of a bend that is stopped, released, measured and taken on."""
    zero, springback, scatter = truth
    common = np.sqrt(0.9) * rng.normal()

    def stopped(dial: float) -> tuple[float, float]:
        loaded = dial + rng.normal() * plan.setup.dial_step / np.sqrt(12) - zero
        odd = scatter * (common + np.sqrt(0.1) * rng.normal())
        return loaded, (loaded - odd) / (1 + springback)

    once = stopped(bend.first_stop)
    measured = once[1] + rng.normal() * PROTRACTOR / SURE
    if measured >= bend.angle:
        return once
    told = plan.setup.calibration.second_stop(bend.first_stop, measured, bend.angle)
    twice = stopped(told)
    return twice if twice[0] > once[0] and twice[1] > once[1] else once


def rim(part: Part, marks, place: str) -> np.ndarray:
    """360 points round the tube at a place."""
    if place.endswith("end"):
        piece, share = (part.pieces[0], 0.0) if place[0] == "A" else (part.pieces[-1], 1.0)
    else:
        at = marks[int(place.split()[1])]
        piece = next(p for p in part.pieces if p.stock_from - 1e-9 <= at <= p.stock_to + 1e-9)
        share = (at - piece.stock_from) / piece.stock
    centre, along = piece.at(share)
    one = np.cross(along, [0.3, -0.5, 0.81] if abs(along[2]) < 0.7 else [1.0, 0.2, 0.1])
    one /= np.linalg.norm(one)
    around = np.linspace(0, 2 * np.pi, 360, endpoint=False)[:, None]
    return centre + OD / 2 * (np.cos(around) * one + np.sin(around) * np.cross(along, one))


def taped(part: Part, marks, start: str, end: str) -> float:
    a, b = rim(part, marks, start), rim(part, marks, end)
    return float(np.sqrt(((a[:, None] - b[None]) ** 2).sum(axis=-1).max()))


def readings(plan, part, marks, rng, protractors, gross=Mistakes()):
    distances = check_plan(plan).distances
    tapes = [
        {
            "from": d.start,
            "to": d.end,
            "length": taped(part, marks, d.start, d.end)
            + rng.normal() * TAPE / SURE
            + gross.tape[1] * (gross.tape[0] == i),
        }
        for i, d in enumerate(distances)
    ]
    bends = [
        {"n": n + 1, "angle": angle + rng.normal() * PROTRACTOR / SURE}
        for n, angle in enumerate(part.angles)
        if protractors
    ]
    return readings_from({"tape": tapes, "bend": bends})


def inspected(plan, data) -> Inspection:
    return inspect(taken_on(plan, data), limits_for(plan, ToleranceTable()), "mm")


def true_numbers(part: Part) -> dict[tuple[str, int], float]:
    told = {("leg", i + 1): leg for i, leg in enumerate(part.legs)}
    told |= {("angle", i + 1): angle for i, angle in enumerate(part.angles)}
    return told | {("roll", i + 1): turn for i, turn in enumerate(part.rotations) if i}


@cache
def results(parts: int = PARTS) -> tuple[tuple[str, float, float], ...]:
    """What, error over standard deviation, and plus or minus, of all numbers of all parts."""
    found = []
    for seed in range(parts):
        rng = np.random.default_rng(seed)
        plan = random_plan(rng)
        part, marks = made(plan, rng)
        result = inspected(plan, readings(plan, part, marks, rng, seed % 2 == 0))
        truth = true_numbers(part)
        for one in result.numbers:
            error = one.made - truth[one.what, one.n]
            error = (error + 180) % 360 - 180 if one.what == "roll" else error
            found.append((one.what, abs(error) / one.plus_minus, one.plus_minus))
    return tuple(found)


@pytest.mark.parametrize("what", ["leg", "angle", "roll"])
def test_what_is_found_is_right_19_times_of_20(what, record_property):
    # about 250 numbers of a kind: chance alone moves the share by 1.4 % (one deviation)
    shares = [share for kind, share, _ in results() if kind == what]
    held = float(np.mean(np.array(shares) <= 1))
    record_property("held", held)
    print(f"{what}: {len(shares)} numbers, {100 * held:.1f} % within what was said")  # noqa: T201
    assert 0.92 <= held <= 0.98


MIXED = [
    ((2, "A"), (1, "B"), (3, "A")),
    ((3, "B"), (1, "A"), (2, "B")),
    ((2, "B"), (3, "B"), (1, "B")),
    ((1, "A"), (3, "B"), (2, "A")),
]
"""Orders of three bends that turn the tube end for end, or begin in the middle."""


def mixed(rng: np.random.Generator, order, rolled: int = 0) -> tuple[TubePlan, Inspection, Part]:
    """A tube bent in that order and inspected; its roll before bend `rolled` is 12 degrees off."""
    shape = line(rng.uniform(300, 500, 4), rng.uniform(30, 80, 3), [0, *rng.uniform(40, 120, 2)])
    tools = setup(SPRINGBACK, ZERO, mark_offset=OFFSET, od=OD)
    (plan,) = plan_tubes(
        [Shape("tube", shape, ())], [tools], orders=[tuple(Turn(n, lead) for n, lead in order)]
    )
    assert tuple((bend.n, bend.lead) for bend in plan.bends) == order
    part, marks = made(plan, rng, Mistakes(roll=(rolled, 12.0)))
    return plan, inspected(plan, readings(plan, part, marks, rng, True)), part


@pytest.mark.parametrize("order", MIXED)
def test_a_tube_bent_in_any_order_is_found_as_it_is(order):
    off = []
    for seed in range(3):
        _, found, part = mixed(np.random.default_rng(seed), order)
        truth = true_numbers(part)
        off += [abs(one.made - truth[one.what, one.n]) / one.plus_minus for one in found.numbers]
    # 27 numbers that hold 19 times of 20 each: 5 misses or more come by chance once in 80
    assert sum(one > 1 for one in off) <= 4
    assert max(off) < 2.2


@pytest.mark.parametrize("order", MIXED)
def test_a_roll_gone_wrong_is_named_by_the_bend_it_was_made_for(order):
    rolled = order[1][0]
    _, found, _ = mixed(np.random.default_rng(3), order, rolled)
    assert f"roll of bend {rolled}" in {one.row for one in found.suspects}


GROSS = [
    (Mistakes(dial=(2, 4.0)), "dial of bend 2"),
    (Mistakes(tape=(1, 25.0)), "tape 2"),
    (Mistakes(roll=(2, 12.0)), "roll of bend 2"),
]


@pytest.mark.parametrize(("gross", "named"), GROSS)
def test_a_gross_mistake_is_named(gross, named):
    """Alone or with what would explain it as well; of ten tubes it may be overlooked in one."""
    told = []
    for seed in range(50, 60):
        rng = np.random.default_rng(seed)
        turns = [0, *rng.uniform(40, 120, 2)]
        plan = planned(line(rng.uniform(250, 450, 4), rng.uniform(30, 90, 3), turns))
        part, marks = made(plan, rng, gross)
        found = inspected(plan, readings(plan, part, marks, rng, True, gross))
        told.append(named in {one.row for one in found.suspects})
        if told[-1] and gross.dial[0]:
            assert (found.worst.what, found.worst.n) == ("angle", 2)
    assert sum(told) >= 9


def test_a_bend_as_a_trial_bend_does_not_echo_what_the_trials_promised():
    """A lot that springs back twice as much is told by its own angles, and not as expected."""
    plan = planned(line([400, 400, 400], [60, 90], [0, 60]))
    rng = np.random.default_rng(1)
    tube, machine, marks = blank(plan.stock_tape), Bender(), {}
    for bend in plan.bends:
        marks[bend.n] = bend.stock_mark
        die = Die(100.0, OFFSET, 0, 0, 2 * SPRINGBACK, ZERO)
        step = Step(bend.n, bend.lead, bend.stock_mark, bend.roll, bend.dial_stop)
        tube = bent(loaded_into(tube, step, die, machine), die, machine, bend.dial_stop, bend.n)
    part = sawn(tube, 0.0, tube.stock)
    data = readings(plan, part, marks, rng, True)
    bends = [
        {"n": b.n, "angle": row.angle, "dial": b.dial_stop}
        for b, row in zip(plan.bends, data.bends, strict=True)
    ]
    tapes = [tape.model_dump(by_alias=True, exclude_none=True) for tape in data.tapes]
    found = inspected(plan, readings_from({"tape": tapes, "bend": bends}))
    assert len(found.trials) == 2
    for trial, angle in zip(found.trials, part.angles, strict=True):
        assert trial.angle == pytest.approx(angle, abs=trial.plus_minus)
        assert trial.plus_minus < 0.6
