"""The order of least handling, held against every order there is."""

import itertools
import math

import numpy as np
import pytest

from soapstone.plan.order import Turn, in_turn, neighbours, order_words, simplest_order


def order_of(text):
    return tuple(Turn(int(n), lead) for n, lead in text.split())


def missing(order, legs, arcs, clamp, follower):
    """Straight missing at every step, found by looking along the tube piece by piece."""
    made, lacks = set(), []
    for turn in order:
        for toward, end in ((-1, "A"), (1, "B")):
            straight, n = 0.0, turn.n
            while True:
                straight += legs[n - 1 if toward < 0 else n]
                n += toward
                if n in (0, len(arcs) + 1) or n in made:
                    break
                straight += arcs[n - 1]
            needs = clamp if turn.lead == end else follower
            lacks.append(max(0.0, needs - straight) if n in made else 0.0)
        made.add(turn.n)
    return [lack if lack > 1e-6 else 0.0 for lack in lacks]


def cost(order, legs, arcs, clamp, follower):
    """What an order costs, weightiest first, as the docstring says it."""
    lacks = missing(order, legs, arcs, clamp, follower)
    pairs = list(itertools.pairwise(order))
    return (
        sum(lack > 0 for lack in lacks),
        sum(math.ceil(lack * 1000) for lack in lacks),
        sum(a.lead != b.lead for a, b in pairs),
        sum(abs(b.n - a.n) > 1 for a, b in pairs),
        sum((b.n < a.n) if b.lead == "A" else (b.n > a.n) for a, b in pairs),
        sum(turn.lead == "B" for turn in order),
    )


def every_order(count):
    for numbers in itertools.permutations(range(1, count + 1)):
        for leads in itertools.product("AB", repeat=count):
            yield tuple(Turn(n, lead) for n, lead in zip(numbers, leads, strict=True))


@pytest.mark.parametrize("seed", range(30))
def test_no_order_costs_less(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 5))
    legs = rng.uniform(5, 120, count + 1).tolist()
    tube = (legs, rng.uniform(5, 100, count).tolist(), *rng.uniform(20, 120, 2).tolist())
    found = simplest_order(*tube)
    assert cost(found, *tube) == min(cost(order, *tube) for order in every_order(count))


@pytest.mark.parametrize(
    ("legs", "clamp", "follower", "order"),
    [
        ([300, 100, 100, 300], 60, 90, "1A 2A 3A"),
        # the clamp finds 50 at most: it must have what is not bent yet ahead of it
        ([300, 50, 50, 300], 60, 40, "3A 2A 1A"),
        # short before bend 2 alone
        ([300, 50, 100, 300], 60, 40, "3A 2A 1A"),
        ([300, 10, 300], 60, 40, None),
    ],
)
def test_in_turn_where_it_can_be_and_otherwise_with_one_lead_end(legs, clamp, follower, order):
    found = simplest_order(legs, [100.0] * (len(legs) - 1), clamp, follower)
    if order is None:
        assert any(missing(found, legs, [100.0] * (len(legs) - 1), clamp, follower))
    else:
        assert found == order_of(order)


def test_twelve_bends_and_more_still_have_an_order_that_finds_its_straight():
    for count in (12, 13, 40):
        tube = ([300.0] + [50.0] * (count - 1) + [300.0], [100.0] * count, 60.0, 40.0)
        found = simplest_order(*tube)
        assert sorted(turn.n for turn in found) == list(range(1, count + 1))
        assert not any(missing(found, *tube))


def test_a_mirror_image_and_a_tube_seen_from_its_other_end_go_the_same_way():
    legs, arcs = [300.0, 50.0, 90.0, 300.0], [100.0, 30.0, 80.0]
    found = simplest_order(legs, arcs, 60, 40)
    back = simplest_order(legs[::-1], arcs[::-1], 60, 40)
    other = tuple(Turn(4 - turn.n, "AB"["BA".index(turn.lead)]) for turn in back)
    assert cost(found, legs, arcs, 60, 40)[:5] == cost(other, legs, arcs, 60, 40)[:5]


def test_neighbours_are_the_bends_made_before_that_lie_next():
    assert neighbours(order_of("3A 1A 4B 2B")) == [(0, 5), (0, 3), (3, 5), (1, 3)]
    assert neighbours(in_turn(3)) == [(0, 4), (1, 4), (2, 4)]


def test_an_order_is_said_by_its_lead_ends():
    assert order_words(order_of("2A 1A 3B")) == (
        "2, 1 with the A end leading, then 3 with the B end leading"
    )
