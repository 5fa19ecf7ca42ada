"""The best order against all orders there are, each held against dense samples."""

import numpy as np
import pytest

from soapstone.bend.machine import machine
from soapstone.bend.order import best_order
from soapstone.bend.pose import SIDES
from soapstone.geometry.solids import Box
from tests.truth.all_orders import shop
from tests.truth.swung import CLAMP, CLR, FOLLOWER, OD

CASES = [(2, 0), (2, 3), (3, 3), (3, 5), (4, 1), (4, 7), (6, 1), (6, 3)]
"""Bends and seed: tubes that are free in turn, in another order, and in none."""


@pytest.mark.parametrize(("bends", "seed"), CASES)
def test_no_order_of_all_is_better(bends, seed):
    one = shop(seed, bends, sure=30.0)
    named = tuple(
        (f"box {i}", Box(tuple(map(float, at)), tuple(map(float, size))))
        for i, (at, size) in enumerate(one.boxes)
    )
    where = machine(CLR, OD, CLAMP, FOLLOWER, SIDES[one.bender.swing], named, one.height)
    least, most = one.least_costs()
    found = best_order(one.stick, where)
    assert most == pytest.approx(least, abs=0.02)  # samples leave no doubt of these tubes
    assert least - 1e-6 <= found.cost <= most + 1e-6
    assert found.whole
    assert np.isfinite(found.cost) == bool(found.order)
