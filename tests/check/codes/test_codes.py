"""Rule sets: what passes, what fails, and what is never passed without having been looked at."""

from dataclasses import replace

import pytest

from soapstone.check.codes.judging import judge, ruling_findings
from soapstone.check.codes.model import Checked, Guard
from soapstone.check.codes.rules import INCH, RULE_SETS
from soapstone.findings import say_mm
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import corners
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.setups import setup

UP = (0.0, 0.0, 1.0)
FLOOR = (0.0, 0.0, 0.0)
SETS = {one.name: one for one in RULE_SETS}


def tube(line, name="rail", yield_strength=207.0, clearance=None, **changes):
    """A planned tube as the rules look at it."""
    return Checked(planned(line, name, **changes), yield_strength, clearance, "bulkhead")


def planned(line, name, **changes):
    (plan,) = plan_tubes([Shape(name, line, corners(line))], [setup(**changes)], say_mm, [None])
    return plan


def level(height, run=1500.0):
    """A straight rail along x, its centreline this high."""
    return Centreline((0.0, 0.0, height), (1.0, 0.0, 0.0), UP, (run,))


def bent(radius):
    return Centreline(FLOOR, (1.0, 0.0, 0.0), UP, (300.0, 300.0), (90.0,), (0.0,), (radius,))


def rail(*tubes, at=FLOOR, grip=False):
    return Guard("rail", tubes, at, UP, grip)


def statuses(name, tubes=(), guards=(), kind=None):
    found = judge([SETS[name]], tubes, guards, say_mm)
    return [one.status for one in found if kind in (None, one.rule.kind)]


@pytest.mark.parametrize(
    ("inches", "status"),
    [(1.125, "fail"), (1.315, "pass"), (1.66, "pass"), (1.9, "pass"), (2.375, "fail")],
)
def test_grips_of_pipe_sizes_pass_as_the_standard_has_them(inches, status) -> None:
    # 2010 ADA 505.7.1: 1 1/4 to 2 in; NPS 1, 1 1/4 and 1 1/2 pass, NPS 2 and 1 1/8 in tube do not
    held = tube(level(900.0), od=inches * INCH)
    assert statuses("accessible handrail", guards=[rail(held, grip=True)], kind="grip") == [status]


@pytest.mark.parametrize(
    ("height", "status"), [(980.0, "fail"), (980.96, "pass"), (1100.0, "pass")]
)
def test_a_workboats_rail_is_as_high_as_its_top(height, status) -> None:
    # the top of a tube of 38.1 mm is 19.05 above its centreline: 1000 wants 980.95
    assert statuses("workboat rail", guards=[rail(tube(level(height)))], kind="height") == [status]


@pytest.mark.parametrize(("middle", "upper"), [(611.8, "fail"), (611.95, "pass"), (640.0, "pass")])
def test_openings_are_between_the_tubes(middle, upper) -> None:
    # 380 from surface to surface: centrelines 418.1 apart; 230 under the lowest: 249.05 high
    heights = {"low": 240.0, "mid": middle, "top": 1030.0}
    low, mid, top = (tube(level(z), name) for name, z in heights.items())
    guards = [rail(top, low, mid)]
    assert statuses("workboat rail", guards=guards, kind="opening") == ["pass", upper]
    assert statuses("workboat rail", guards=guards, kind="lowest") == ["pass"]


def test_posts_of_a_rail_do_not_count_for_its_height() -> None:
    hoop = Centreline(
        FLOOR, UP, (1.0, 0.0, 0.0), (900.0, 1000.0, 900.0), (90.0, 90.0), (0.0, 0.0), (115.0, 115.0)
    )
    # rail's centreline 900 + 115, top 1034.05
    assert statuses("workboat rail", guards=[rail(tube(hoop))], kind="height") == ["pass"]


@pytest.mark.parametrize(("clr", "status"), [(114.3, "pass"), (114.0, "fail")])
def test_bends_of_three_diameters_pass_to_the_hair(clr, status) -> None:
    made = tube(bent(clr), clr=clr)
    assert statuses("student frame", [made], kind="radius") == [status]


def test_roundness_is_never_passed_by_reckoning() -> None:
    made = tube(bent(400.0), clr=400.0)
    assert statuses("safety cage", [made], kind="roundness") == ["not checked"]
    assert statuses("power piping", [made], kind="flattening") == ["not checked"]


def test_a_seam_fails_and_none_is_still_not_proven() -> None:
    assert statuses("safety cage", [tube(level(0.0))], kind="seamless") == ["fail"]
    drawn = tube(level(0.0), seam=False)
    assert statuses("safety cage", [drawn], kind="seamless") == ["not checked"]


@pytest.mark.parametrize(("clearance", "status"), [(60.0, "pass"), (20.0, "not checked")])
def test_finger_room_passes_by_the_whole_rails_gap_only(clearance, status) -> None:
    held = tube(level(900.0), clearance=clearance)
    guard = rail(held, grip=True)
    assert statuses("accessible handrail", guards=[guard], kind="grip gap") == [status]


@pytest.mark.parametrize("name", sorted(SETS))
def test_nothing_is_passed_where_there_is_nothing_to_look_at(name) -> None:
    rulings = judge([SETS[name]], [], [], say_mm)
    assert {one.status for one in rulings} == {"not checked"}
    assert all(one.needs for one in rulings)
    assert len(ruling_findings(rulings)) == len(rulings)


@pytest.mark.parametrize("name", sorted(SETS))
def test_every_rule_says_where_it_stands(name) -> None:
    for rule in SETS[name].rules:
        assert "quoted" in rule.clause or "from memory" in rule.clause


def test_a_rail_without_a_floor_says_that_it_needs_one() -> None:
    guard = replace(rail(tube(level(1200.0))), at=None)
    (ruling,) = judge([SETS["small craft high rail"]], [], [guard], say_mm)[:1]
    assert ruling.status == "not checked"
    assert "floor" in ruling.needs
