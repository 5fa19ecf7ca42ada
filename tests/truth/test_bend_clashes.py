"""What a tube comes near to in the bender, against the virtual bender and dense samples."""

from itertools import permutations, product

import numpy as np
import pytest

from soapstone.bend.clash import FAR, TOLERANCE, bend_nears
from soapstone.bend.machine import machine
from soapstone.bend.order import Checks, best_order, has_straight, order_cost
from soapstone.bend.pose import SIDES, Stick
from soapstone.bend.travel import HIT_TOLERANCE
from soapstone.geometry.solids import Box
from tests.truth.virtual_bender import Bender, Die, Step, bent, blank, loaded_into, rotation

CLR, OD, CLAMP, FOLLOWER, BACK = 100.0, 38.1, 60.0, 90.0, 0.03
SIZE = (60.0, 80.0, 50.0)
SWINGS = [("horizontal", "left"), ("horizontal", "right"), ("vertical", "up"), ("vertical", "down")]


def random_stick(rng: np.random.Generator, bends: int) -> Stick:
    free = rng.uniform(20, 90, bends)
    loaded = free * (1 + BACK)
    used, legs = np.radians(loaded) * CLR, rng.uniform(100, 350, bends + 1)
    ends = np.cumsum(legs[:-1] + used)
    rotations = rng.uniform(-180, 180, bends)
    rotations[0] = 0.0
    columns = (ends - used, ends, free, loaded, rotations, np.full(bends, CLR * (1 + BACK)))
    return Stick(float(ends[-1] + legs[-1]), *(tuple(map(float, column)) for column in columns))


def box_distance(points: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Signed distance of points to the box, written out."""
    over = np.abs(points - at) - np.array(SIZE) / 2
    return np.linalg.norm(np.maximum(over, 0), axis=-1) + np.minimum(over.max(axis=-1), 0)


def made_tube(stick: Stick, made: list[int], n: int, lead: str, bender: Bender, die: Die):
    """The tube of the virtual bender with some bends made, loaded for the next."""
    tube = blank(stick.stock)
    for m in [*made, n]:
        # rolled so that its plane lies against that of bend 1 as drawn; A leads while it is made
        mark = stick.arc_from[m - 1] if lead == "A" else stick.arc_to[m - 1]
        at_zero = loaded_into(tube, Step(m, lead, mark, 0.0, 0.0), die, bender)
        turned = roll_to(stick, made, m, lead, at_zero, bender)
        tube = at_zero if turned is None else at_zero.moved(rotation(np.array([1.0, 0, 0]), turned))
        if m != n:
            tube = bent(tube, die, bender, stick.loaded[m - 1], m)
    return tube


def roll_to(stick, made, m, lead, tube, bender):
    """Degrees about x until a bend made next to m stands to it as the rotations say."""
    arcs = {piece.n: piece for piece in tube.pieces if piece.n}
    if not arcs:
        return None
    other = min(arcs, key=lambda one: abs(one - m))
    # axis of a bend, for travel from A to B, carried straight from the neighbour to m
    wanted = -bender.die_axis if lead == "A" else bender.die_axis
    along = np.array([1.0, 0, 0]) if lead == "A" else np.array([-1.0, 0, 0])
    low, high = sorted((other, m))
    turn = sum(stick.rotations[low:high]) * (1 if other < m else -1)
    there = rotation(along, turn) @ arcs[other].axis
    sine = np.cross(there, wanted)[0]
    return float(np.degrees(np.arctan2(sine, there @ wanted)))


def samples(tube, keep) -> np.ndarray:
    points = [
        piece.at(part)[0]
        for piece in tube.pieces
        for part in np.linspace(0, 1, max(2, int(piece.stock / 2)))
        if keep(piece.stock_from + part * piece.stock)
    ]
    return np.array(points).reshape(-1, 3)


@pytest.mark.parametrize(("plane", "swing"), SWINGS)
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("lead", ["A", "B"])
def test_gaps_are_those_of_dense_samples(plane, swing, seed, lead):
    rng = np.random.default_rng(seed)
    stick = random_stick(rng, 3)
    bender, die = Bender(swing, plane), Die(CLR, springback=BACK)
    tube = made_tube(stick, [1, 3], 2, lead, bender, die)
    low, high = stick.arc_from[1], stick.arc_to[1]
    ahead, behind = (
        (low - CLAMP, high + FOLLOWER) if lead == "A" else (high + CLAMP, low - FOLLOWER)
    )
    to_a = (lambda s: s <= min(ahead, behind)), (lambda s: s >= max(ahead, behind))
    on_lead, on_tail = to_a if lead == "A" else to_a[::-1]
    centre, loaded = CLR * bender.side, stick.loaded[1]
    lead_points, tail_points = samples(tube, on_lead), samples(tube, on_tail)
    # a box beside a place that the lead (or the tail) comes past
    where_it_is = rotation(bender.die_axis, loaded / 2) @ (lead_points[-1] - centre) + centre
    at = (tail_points[-1] if seed % 2 else where_it_is) + rng.uniform(20, 45, 3)
    box = Box(tuple(map(float, at)), SIZE)
    where = machine(CLR, OD, CLAMP, FOLLOWER, SIDES[swing], (("box", box),))
    nears = list(bend_nears(stick, frozenset({1, 3}), 2, lead, where))
    swung, slid = [], []
    for angle in np.linspace(0, loaded, 200):
        turned = centre + (lead_points - centre) @ rotation(bender.die_axis, angle).T
        swung.append(box_distance(turned, at).min())
        back = np.array([-np.radians(angle) * CLR, 0, 0])
        slid.append(box_distance(tail_points + back, at).min())
    assert min(*swung, *slid) - OD / 2 < FAR  # near enough to be told exactly
    for part, found in (("lead", min(swung)), ("tail", min(slid))):
        near = next(
            one for one in nears if (one.what, one.part, one.motion) == ("box", part, "swing")
        )
        gap = found - OD / 2
        assert near.gap <= gap + 1e-6
        if gap < FAR:
            assert near.high >= near.gap
            width = TOLERANCE if gap > 0 else HIT_TOLERANCE
            assert gap <= near.gap + width + 1.5  # how far apart the samples are


@pytest.mark.parametrize("seed", range(8))
def test_the_best_order_is_that_of_all_orders(seed):
    rng = np.random.default_rng(100 + seed)
    stick = random_stick(rng, 3)
    swing = SWINGS[seed % 4][1]
    bodies = (("box", Box((-150.0, 0.0, -250.0), (400.0, 300.0, 300.0))),)
    where = machine(CLR, OD, CLAMP, FOLLOWER, SIDES[swing], bodies, 600.0)
    checks, least = Checks(stick, where, 0.0), np.inf
    for numbers in permutations((1, 2, 3)):
        for leads in product("AB", repeat=3):
            order = list(zip(numbers, leads, strict=True))
            made, lifted = frozenset(), 0
            for i, (n, lead) in enumerate(order):
                free = has_straight(stick, made, n, lead, CLAMP, FOLLOWER)
                if not free or not checks.bend(made, n, lead):
                    break
                if i and order[i - 1][1] == lead:
                    lifted += not checks.roll(made, order[i - 1][0], n, lead)[1]
                made = made | {n}
            else:
                least = min(least, order_cost(stick, order) + 5.0 * lifted)
    assert best_order(stick, where).cost == pytest.approx(least)
