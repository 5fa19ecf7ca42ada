"""The best order against all orders there are, each held against dense samples."""

import numpy as np
import pytest

from soapstone.bend.machine import machine
from soapstone.bend.order import best_order
from soapstone.bend.pose import SIDES
from soapstone.geometry.solids import Box
from tests.truth.all_orders import shop
from tests.truth.swung import CLAMP, CLR, FOLLOWER, OD

CASES = (
    [(2, seed) for seed in range(6)] + [(3, seed) for seed in range(6)] + [(4, 0), (4, 1), (6, 0)]
)


@pytest.mark.parametrize(("bends", "seed"), CASES)
def test_no_order_of_all_is_better(bends, seed):
    one = shop(seed, bends)
    named = tuple(
        (f"box {i}", Box(tuple(map(float, at)), tuple(map(float, size))))
        for i, (at, size) in enumerate(one.boxes)
    )
    where = machine(CLR, OD, CLAMP, FOLLOWER, SIDES[one.bender.swing], named, one.height)
    least, most = one.least_costs()
    found = best_order(one.stick, where)
    assert found.whole
    assert least - 1e-6 <= found.cost <= most + 1e-6
    assert np.isfinite(found.cost) == bool(found.order)
