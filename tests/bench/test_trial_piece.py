"""The trial piece: planned, bent on a known die and taped, it must give that die back."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from soapstone.bench.calibrate import Calibration, fit, prior_for
from soapstone.bench.trial_measured import LearnedDie, MeasuredPiece, learn_die
from soapstone.bench.trial_piece import TrialPiece, trial_piece
from soapstone.errors import InputError

OD = 38.1
KNOWN = fit([], [], prior_for(0.025, 0.0))
ROUGH = {"gap": 2.0, "lead_corner": 2.0, "tail_corner": 2.0}  # a corner is found half as well


@dataclass(frozen=True)
class TrueDie:
    clr: float = 115.0
    stretch: float = 0.02
    mark_offset: float = 14.0
    springback: float = 0.025


def taped(die: TrueDie, stock: float, mark: float, angle: float) -> dict[str, float]:
    """Bend a piece along its centreline and tape its outline, finely sampled: lengths in mm."""
    radius, turned = die.clr * (1 + die.springback), math.radians(angle)
    lead = mark + die.mark_offset
    tail = stock - lead - (1 - die.stretch) * radius * turned
    heading = np.concatenate([[0.0], np.linspace(0, turned, 20_001), [turned]])
    steps = np.concatenate([[lead], np.zeros(20_001), [tail]])
    arc = heading[1:-1]
    x = np.concatenate([[0.0], lead + radius * np.sin(arc)])
    y = np.concatenate([[0.0], radius - radius * np.cos(arc)])
    x = np.append(x, x[-1] + steps[-1] * math.cos(turned))
    y = np.append(y, y[-1] + steps[-1] * math.sin(turned))
    outline = np.column_stack([x + OD / 2 * np.sin(heading), y - OD / 2 * np.cos(heading)])
    along = np.array([math.cos(turned), math.sin(turned)])
    end = outline[-1]
    back = (end[1] - outline[0, 1]) / along[1]
    corner = end - back * along
    return {
        "lead_overall": outline[:, 0].max(),
        "tail_overall": float((end @ along - outline @ along).max()),
        "gap": float(np.linalg.norm(outline - corner, axis=1).min()),
        "lead_corner": corner[0],
        "tail_corner": back,
        "width": (end - end[0] / along[0] * along)[1] - outline[0, 1],
    }


def planned(max_angle: float = 180.0, units: str = "mm") -> TrialPiece:
    return trial_piece(OD, 115.0, 60.0, 90.0, KNOWN, max_angle=max_angle, units=units)


def exact(die: TrueDie, plan: TrialPiece) -> MeasuredPiece:
    found = taped(die, plan.stock, plan.mark, plan.angle)
    return MeasuredPiece(
        plan.stock, plan.mark, plan.angle, **{name: found[name] for name in plan.readings}
    )


def tape_it(rng: np.random.Generator, die: TrueDie, plan: TrialPiece) -> MeasuredPiece:
    """Bend a little off plan, and read everything with the doubt of tape and protractor."""
    angle = plan.angle + rng.normal(0, 1)
    stock, mark = plan.stock + rng.normal(0, 0.5), plan.mark + rng.normal(0, 0.5)
    found = taped(die, stock, mark, angle)
    read = {n: found[n] + rng.normal(0, 0.5 * ROUGH.get(n, 1.0)) for n in plan.readings}
    return MeasuredPiece(plan.stock, plan.mark, angle + rng.normal(0, 0.15), **read)


@pytest.mark.parametrize("max_angle", [180.0, 130.0, 90.0])
@pytest.mark.parametrize("die", [TrueDie(), TrueDie(120.0, 0.0, -25.0, 0.04)])
def test_exact_measurements_give_the_die_exactly(max_angle: float, die: TrueDie) -> None:
    learned = learn_die([exact(die, planned(max_angle))], OD, die.springback)
    assert learned.clr == pytest.approx(die.clr, abs=1e-3)
    assert learned.stretch == pytest.approx(die.stretch, abs=1e-5)
    assert learned.mark_offset == pytest.approx(die.mark_offset, abs=1e-3)
    assert learned.problems == ()


def draw_die(rng: np.random.Generator) -> TrueDie:
    return TrueDie(
        115 * rng.uniform(0.95, 1.05),
        rng.uniform(0, 0.05),
        rng.uniform(-30, 40),
        rng.normal(0.025, 0.008),
    )


def surprises(die: TrueDie, learned: LearnedDie) -> list[float]:
    """How many standard deviations each number is off."""
    return [
        (learned.clr - die.clr) / learned.clr_sd,
        (learned.stretch - die.stretch) / learned.stretch_sd,
        (learned.mark_offset - die.mark_offset) / learned.mark_offset_sd,
    ]


@pytest.mark.parametrize("max_angle", [180.0, 130.0, 90.0])
def test_the_stated_doubt_holds_the_true_die(max_angle: float) -> None:
    rng = np.random.default_rng(int(max_angle))
    plan = planned(max_angle)
    off = []
    for _ in range(250):
        die = draw_die(rng)
        piece = tape_it(rng, die, plan)
        off.append(surprises(die, learn_die([piece], OD, 0.025, 0.008)))
    assert np.all(np.abs(np.mean(np.abs(np.array(off)) < 1.96, axis=0) - 0.95) < 0.04)


def test_a_hairpin_finds_the_radius_to_a_few_tenths_and_more_pieces_do_better() -> None:
    rng = np.random.default_rng(9)
    hairpin, lesser = planned(180.0), planned(130.0)
    pieces = [tape_it(rng, TrueDie(), plan) for plan in (hairpin, lesser, hairpin)]
    one, three = learn_die(pieces[:1], OD, 0.025), learn_die(pieces, OD, 0.025)
    assert hairpin.kind == "hairpin"
    assert one.clr_free_sd < 0.4
    assert one.stretch_sd < 0.004
    assert three.clr_free_sd < one.clr_free_sd
    assert three.mark_offset_sd < one.mark_offset_sd
    assert abs(three.clr - 115.0) < 3 * three.clr_sd


def test_contradicting_pieces_are_said_to_contradict() -> None:
    good = exact(TrueDie(), planned())
    assert good.tail_overall is not None
    bad = replace(good, tail_overall=good.tail_overall + 12.0)
    assert learn_die([good, good], OD, 0.025).problems == ()
    problems = learn_die([good, bad], OD, 0.025).problems
    assert any("contradict" in finding.what for finding in problems)


def test_a_slipped_clamp_shows_as_an_unlikely_stretch() -> None:
    piece = exact(TrueDie(stretch=0.3), planned())
    assert any("slip" in finding.mend for finding in learn_die([piece], OD, 0.025).problems)


@pytest.mark.parametrize("max_angle", [180.0, 130.0, 90.0])
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("offset", [-30.0, 0.0, 40.0])
def test_the_plan_leaves_room_for_clamp_follower_and_square(
    max_angle: float, units: str, offset: float
) -> None:
    plan = trial_piece(
        OD, 115.0, 60.0, 90.0, KNOWN, max_angle=max_angle, mark_offset=offset, units=units
    )
    die = TrueDie(stretch=0.0, mark_offset=offset)
    lead = plan.mark + offset
    arc = die.clr * 1.025 * math.radians(plan.angle)
    assert lead >= 60.0
    assert plan.stock - lead - arc >= 90.0
    if plan.kind == "hairpin":  # the square at the lead end must meet the tail, not pass its end
        end_x = lead + 115.0 * 1.025 * math.sin(math.radians(plan.angle))
        end_x += (plan.stock - lead - arc) * math.cos(math.radians(plan.angle))
        assert end_x < -OD / 2
    grain = 12.7 if units == "in" else 10.0
    assert plan.mark / grain == pytest.approx(round(plan.mark / grain))


def test_the_steps_say_every_number_and_every_reading() -> None:
    plan = planned(units="mm")
    text = " ".join(plan.steps)
    for part in (f"{plan.stock:.0f} mm", f"{plan.mark:.0f} mm", f"{plan.dial:.1f}°"):
        assert part in text
    assert all(name in text for name in plan.readings)
    assert '"' in " ".join(planned(units="in").steps)


@pytest.mark.parametrize("max_angle", [180.0, 135.0, 91.0])
def test_the_bender_is_not_asked_to_turn_too_far(max_angle: float) -> None:
    learnt: Calibration = fit([95.0, 126.5], [90.0, 120.0], prior_for(0.05, 1.0))
    plan = trial_piece(OD, 115.0, 60.0, 90.0, learnt, max_angle=max_angle)
    assert learnt.loaded(plan.angle) <= max_angle + 1e-9
    assert plan.angle <= 180.0


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"width": None}, "leave something open"),
        ({"lead_overall": None}, "leave something open"),
        ({"lead_overall": -5.0}, "lead_overall: expected a number of mm"),
        ({"angle": math.nan}, "angle: expected a number of degrees"),
        ({"mark": 5000.0}, "mark: expected less than the stock"),
        ({"angle": 60.0}, "expected only on bends of"),
        ({"width": 3.0}, "fit no bend"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(change: dict[str, float | None], said: str) -> None:
    piece = replace(exact(TrueDie(), planned()), **change)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=said) as raised:
        learn_die([piece], OD, 0.025)
    assert "\n" not in str(raised.value)


def test_bench_lines_are_toml() -> None:
    import tomllib

    learned = learn_die([exact(TrueDie(), planned())], OD, 0.025)
    table = tomllib.loads("\n".join(learned.bench_lines()))
    assert table["clr"] == "115.0 mm"
    assert table["mark_offset"] == "14.0 mm"
    assert table["stretch"] == pytest.approx(0.02, abs=1e-4)
