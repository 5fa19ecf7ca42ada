"""What the error budget tells a fabricator."""

from dataclasses import replace

import numpy as np
import pytest

from soapstone.bench.accuracy import Accuracy
from soapstone.check.budget.budget import Passing, budget_of
from soapstone.check.budget.linear import ellipsoid, slopes
from soapstone.check.budget.sampled import shop_of
from soapstone.check.making import making_of
from soapstone.geometry.chain import walk
from soapstone.geometry.moves import mirror
from soapstone.plan.order import Turn
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.plan.test_tubes import line
from tests.setups import setup

SHAPE = line([250, 300, 350, 280], [60, 45, 80], [0, 90, -60])
PASSING = Passing(6.0, 1.0, "asked")


def planned(shape=SHAPE, **changes):
    tools = replace(setup(0.02, 1.0), **changes)
    return plan_tubes([Shape("tube", shape, ())], [tools])[0]


def test_both_hands_have_one_budget():
    hands = planned(), planned(mirror(SHAPE, (0, 0, 0), (0, 1, 0)))
    here, there = (budget_of(plan, PASSING, samples=20_000) for plan in hands)
    assert there.radius == pytest.approx(here.radius, rel=0.02)
    assert there.linear_radius == pytest.approx(here.linear_radius, rel=1e-9)
    assert there.bends == pytest.approx(here.bends, abs=1e-9)
    # the mean of 20,000 made tubes, whose rolls were off by the same hand and not by mirrored ones
    assert np.abs(there.offset) == pytest.approx(np.abs(here.offset), abs=0.01)
    exact = [slopes(making_of(plan)).offset for plan in hands]
    assert np.abs(exact[1]) == pytest.approx(np.abs(exact[0]), abs=1e-6)


def test_parts_of_the_error_make_up_the_whole():
    said = budget_of(planned(), PASSING, samples=2_000)
    assert sum(share.part for share in said.shares) == pytest.approx(1.0)
    of_bends = sum(share.part for share in said.shares if share.bend)
    assert sum(said.bends) == pytest.approx(of_bends)


def test_marks_that_are_all_off_alike_shift_the_end_by_what_they_are_off():
    plan = planned()
    bends = tuple(replace(bend, stock_mark=bend.stock_mark - 7.0) for bend in plan.bends)
    moved = slopes(making_of(replace(plan, bends=bends))).offset - slopes(making_of(plan)).offset
    # the A leg gets 7 mm shorter and the B leg 7 mm longer, the bends between stay as they are
    here = making_of(plan).made(np.zeros(len(making_of(plan).causes))).walk(plan.shape)
    assert moved == pytest.approx(7.0 * (here.directions[-1] - here.directions[0]), abs=1e-6)


def test_what_is_worst_is_named_and_better_tools_help():
    poor = Accuracy(level=8.0, band=8.0)
    said = budget_of(planned(accuracy=poor), PASSING, samples=20_000)
    assert said.shares[0].what == "the roll"
    keen = Accuracy(level=0.5, band=1.0)
    better = [("a level", planned(accuracy=keen)), ("nothing", planned(accuracy=poor))]
    gained = budget_of(planned(accuracy=poor), PASSING, better, samples=20_000).gains
    assert [gain.what for gain in gained] == ["a level"]
    assert gained[0].radius < said.radius / 2


def test_the_same_seed_gives_the_same_budget():
    one, other = (budget_of(planned(), PASSING, samples=5_001, seed=3) for _ in range(2))
    assert one == other


def test_ends_alone_do_not_feel_the_first_bend_as_the_far_end_does():
    said = budget_of(planned(), PASSING, samples=20_000)
    assert said.apart < said.radius
    assert 0 <= said.chance <= 1
    assert said.turn > 0


@pytest.mark.parametrize(
    ("shape", "directions"),
    [(SHAPE, 3), (line([250, 300, 350], [60, 45], [0, 0]), 3), (line([250, 300], [60], [0]), 2)],
)
def test_the_ellipsoid_holds_19_ends_in_20(shape, directions):
    plan = planned(shape)
    making = making_of(plan, crept=True)
    said = budget_of(plan, PASSING, samples=40_000)
    off = np.random.default_rng(5).standard_normal((100_000, len(making.causes)))
    way = making.made(off).walk(plan.shape)
    middle = walk(plan.shape).nodes[-1] + said.offset
    sizes = np.linalg.norm(said.axes, axis=1)
    assert np.count_nonzero(sizes > 1e-3) == directions
    ways = np.array(said.axes)[:directions] / sizes[:directions, None]
    along = (way.nodes[:, -1] - middle) @ ways.T / sizes[:directions]
    # 100,000 tell a share of 95 % to 0.07 %; what is left is that errors do not add up quite evenly
    assert np.mean((along**2).sum(axis=1) <= 1) == pytest.approx(0.95, abs=0.006)


def test_what_spreads_along_a_line_is_held_by_a_line():
    sizes, ways = ellipsoid(np.diag([0.0, 4.0, 0.0]))
    assert sizes == pytest.approx([2 * 1.95996, 0.0, 0.0], abs=1e-9)
    assert np.abs(ways[0]) == pytest.approx([0.0, 1.0, 0.0])


def test_a_tube_with_nothing_off_has_an_ellipsoid_of_nothing():
    assert ellipsoid(np.zeros((3, 3)))[0] == pytest.approx(np.zeros(3))


def test_a_poor_protractor_is_named_where_bends_are_crept_up_to():
    plan = planned(accuracy=Accuracy(protractor=3.0))
    assert all(bend.first_stop is not None for bend in plan.bends)
    poor, usual = (budget_of(one, PASSING, samples=20_000) for one in (plan, planned()))
    assert poor.shares[0].what == "the protractor"
    assert poor.radius > 1.3 * usual.radius


def test_a_protractor_matters_not_to_bends_made_in_one_go():
    one_go, poor = (
        budget_of(planned(tolerance=30.0, accuracy=truth), PASSING, samples=5_000)
        for truth in (Accuracy(), Accuracy(protractor=3.0))
    )
    assert poor.radius == one_go.radius
    assert "the protractor" not in [share.what for share in poor.shares]


@pytest.mark.parametrize("crept", [False, True])
def test_the_quick_way_makes_the_same_tubes_as_the_plain_one(crept):
    from soapstone.check.budget.repeated import BACK, OFF, PLACES, TURN, make_pairs

    order = tuple(Turn(*turn) for turn in ((2, "A"), (1, "B"), (3, "A")))
    tools = setup(0.02, 1.0, mark_offset=7.0, stretch=0.01)
    plan = plan_tubes([Shape("tube", SHAPE, ())], [tools], orders=[order])[0]
    making = making_of(plan, crept=crept)
    # three times the usual errors, so that bends are made in one stop, in two, and too far
    causes = 3 * np.random.default_rng(0).standard_normal((100, len(making.causes)))
    out = np.empty((PLACES + 2, 200))
    make_pairs(*shop_of(making, [(2, 0.5), (3, 0.25)]), causes, out, 0)
    way = making.made(np.concatenate((causes, -causes))).walk(plan.shape)
    drawn = walk(plan.shape)
    off = np.linalg.norm(way.nodes[:, -1] - drawn.nodes[-1], axis=1)
    assert out[OFF] == pytest.approx(off, abs=1e-9)
    lean = np.degrees(np.arccos(np.clip(way.directions[:, -1] @ drawn.directions[-1], -1, 1)))
    assert out[TURN] == pytest.approx(lean, abs=1e-5)
    half = (way.nodes[:, 2] + way.nodes[:, 3]) / 2
    wanted = (drawn.nodes[2] + drawn.nodes[3]) / 2
    assert out[PLACES] == pytest.approx(np.linalg.norm(half - wanted, axis=1), abs=1e-9)
    frames = [
        np.stack((w.directions[..., -1, :], np.cross(axis, w.directions[..., -1, :]), axis), -2)
        for w, axis in ((way, way.axes[..., -1, :]), (drawn, drawn.axes[-1]))
    ]
    seen, meant = (
        f @ (w.nodes[..., 0, :] - w.nodes[..., -1, :])[..., None]
        for f, w in zip(frames, (way, drawn), strict=True)
    )
    assert out[BACK] == pytest.approx(np.linalg.norm(seen - meant, axis=(1, 2)), abs=1e-9)


def test_named_points_on_the_tube_are_looked_at_and_others_not():
    plan = planned()
    way = walk(plan.shape)
    points = {
        "mid leg": tuple((way.nodes[2] + way.nodes[3]) / 2),
        "corner 2": plan.points[2],
        "end": tuple(way.nodes[-1]),
        "elsewhere": (9e3, 0.0, 0.0),
    }
    said = budget_of(plan, PASSING, samples=20_000, points=points)
    assert [name for name, _ in said.places] == ["mid leg", "corner 2"]
    # errors add up along the tube
    assert 0 < said.places[0][1] < said.places[1][1] < said.radius


def test_the_end_it_is_laid_by_matters_and_is_told():
    # a long leg after a sharp bend: held at its own end, that leg is where it should be
    shape = line([200, 250, 1500], [60, 80], [0, 90])
    there = budget_of(planned(shape), PASSING, samples=20_000)
    turned = line([1500, 250, 200], [80, 60], [0, 90])
    back = budget_of(planned(turned), PASSING, samples=20_000)
    assert there.radius > there.turn
    assert there.back == pytest.approx(back.radius, rel=0.2)
    assert there.radius == pytest.approx(back.back, rel=0.2)
