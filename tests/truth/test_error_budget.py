"""Parts made on the virtual bender with everything a little wrong land as the budget says.

No source but the statement itself. The bender shares no code with the package; errors are drawn by
the sizes that docs/numbers.md states.
"""

import numpy as np
import pytest

from soapstone.check.budget.budget import Passing, budget_of
from soapstone.check.budget.linear import slopes
from soapstone.check.budget.sampled import landings
from soapstone.check.making import making_of
from soapstone.geometry.chain import walk
from soapstone.plan.order import Turn
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.plan.test_tubes import line
from tests.setups import setup
from tests.truth.test_inspection import OD, OFFSET, SPRINGBACK, ZERO, made

PARTS = 3000


def ends_of(plan, parts: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """B end and last leg of made parts, each laid down by its A end as drawn."""
    rng = np.random.default_rng(seed)
    way = walk(plan.shape)
    places, ways = [], []
    for _ in range(parts):
        part, _ = made(plan, rng, creeps=True)
        laid = part.put_on(way.nodes[0], way.directions[0], way.axes[0])
        place, along = laid.pieces[-1].at(1.0)
        places.append(place)
        ways.append(along)
    return np.array(places), np.array(ways)


@pytest.mark.parametrize(
    ("legs", "angles", "turns", "order"),
    [
        ([300, 400], [70], [0], None),
        ([250, 300, 350], [60, 45], [0, 90], ((1, "A"), (2, "A"))),
        ([250, 300, 350, 280], [60, 45, 80], [0, 90, -60], ((3, "B"), (2, "B"), (1, "B"))),
        ([250, 300, 350, 280], [60, 45, 80], [0, 40, 150], ((2, "A"), (1, "B"), (3, "A"))),
    ],
)
def test_where_parts_land(legs, angles, turns, order):
    tools = setup(SPRINGBACK, ZERO, mark_offset=OFFSET, od=OD)
    orders = None if order is None else [tuple(Turn(*turn) for turn in order)]
    shape = Shape("tube", line(legs, angles, turns, 102.0), ())
    plan = plan_tubes([shape], [tools], orders=orders)[0]
    said = budget_of(plan, Passing(10.0, 2.0, "asked"), samples=40_000)
    places, ways = ends_of(plan, PARTS, len(legs))
    way = walk(plan.shape)
    off = np.linalg.norm(places - way.nodes[-1], axis=1)
    turned = np.degrees(np.arccos(np.clip(ways @ way.directions[-1], -1, 1)))
    # 3,000 parts tell a root of mean squares to 2 %, a share of one half to 0.9 %: four times that
    assert np.sqrt((off**2).mean()) == pytest.approx(said.sampled_radius, rel=0.08)
    assert np.mean(off <= said.radius) == pytest.approx(0.95, abs=0.02)
    assert np.mean(turned <= said.turn) == pytest.approx(0.95, abs=0.02)
    passed = np.mean((off <= 10.0) & (turned <= 2.0))
    assert passed == pytest.approx(said.chance, abs=0.04)
    # 3,000 parts tell a share of 95 % to 0.4 %
    sizes = np.linalg.norm(said.axes, axis=1)
    kept = sizes > 1e-3
    along = (places - way.nodes[-1] - said.offset) @ (
        np.array(said.axes)[kept].T / sizes[kept] ** 2
    )
    assert np.mean((along**2).sum(axis=1) <= 1) == pytest.approx(0.95, abs=0.016)
    # bent in one go, where errors are small, what is carried through the chain is what is made
    once = making_of(plan)
    sampled = np.sqrt((landings(once, 40_000, 0).off ** 2).mean())
    assert np.sqrt(slopes(once).mean_square) == pytest.approx(sampled, rel=0.03)
    # measured on its way, a bend is off by less
    assert said.sampled_radius < sampled
