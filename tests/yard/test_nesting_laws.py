"""Laws of nesting: nothing is lost, nothing is longer than its stick, no answer is cheaper."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.errors import InputError
from soapstone.yard.cut_list import Piece, Stick
from soapstone.yard.nesting import nest
from soapstone.yard.quick import Way, cost_of, few_long_remnants, first_fit

LENGTHS = st.sampled_from((6096.0, 3048.0, 6000.0, 2438.4))
BOUGHT = st.builds(Stick, LENGTHS, st.none(), st.sampled_from((30.0, 61.5, 55.0)))
AT_HAND = st.builds(Stick, st.floats(400, 2500), st.integers(1, 3), st.just(0.0))
PIECES = st.lists(st.tuples(st.floats(150, 2400), st.integers(1, 4)), min_size=1, max_size=5)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(BOUGHT, min_size=1, max_size=2),
    st.lists(AT_HAND, max_size=2),
    PIECES,
    st.sampled_from((0.0, 2.4, 3.175)),
)
def test_all_is_cut_within_its_stick_and_never_dearer_than_first_fit(
    bought, at_hand, rows, kerf
) -> None:
    sticks = (*at_hand, *bought)
    pieces = [Piece(length, count, "") for length, count in rows]
    found = nest(sticks, pieces, kerf)
    cut = np.sum([way.takes for way in found.ways], axis=0)
    assert cut.tolist() == [piece.count for piece in pieces]
    for way in found.ways:
        used = sum((p.length + kerf) * n for p, n in zip(pieces, way.takes, strict=True))
        assert used <= sticks[way.stick].length + kerf + 1e-5
    for i, stick in enumerate(sticks):
        assert stick.count is None or sum(w.stick == i for w in found.ways) <= stick.count
    plain = first_fit(sticks, pieces, kerf)
    assert plain is not None
    assert found.cost <= cost_of(sticks, plain) + 1e-9
    assert found.least_cost <= found.cost + 1e-9


def by_assignment(sticks, pieces, kerf):
    """The least cost by the plainest programme there is: which piece lies in which stick."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    total = sum(p.count for p in pieces)
    each = [s for s in sticks for _ in range(total if s.count is None else min(total, s.count))]
    kinds, many = len(pieces), len(each)
    cost = np.concatenate((np.zeros(kinds * many), [s.cost for s in each]))
    cut = np.hstack((np.kron(np.eye(kinds), np.ones(many)), np.zeros((kinds, many))))
    fill = np.hstack(
        (
            np.kron([p.length + kerf for p in pieces], np.eye(many)),
            -np.diag([s.length + kerf + 1e-7 for s in each]),
        )
    )
    counts = [p.count for p in pieces]
    found = milp(
        cost,
        constraints=[LinearConstraint(cut, counts, counts), LinearConstraint(fill, -np.inf, 0)],
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, np.concatenate((np.repeat(counts, many), np.ones(many)))),
    )
    return found.fun if found.status == 0 else None


def test_the_least_cost_is_that_of_the_plainest_programme() -> None:
    lot = np.random.default_rng(11)
    for _ in range(12):
        sticks = [
            Stick(6096.0, None, float(lot.integers(40, 70))),
            Stick(3048.0, None, float(lot.integers(20, 40))),
            Stick(float(lot.uniform(500, 2500)), int(lot.integers(1, 3)), 0.0),
        ]
        pieces = [
            Piece(float(lot.uniform(200, 2900)), int(lot.integers(1, 4)), "") for _ in range(4)
        ]
        found = nest(sticks, pieces, 2.4)
        assert found.optimal
        assert found.cost == pytest.approx(by_assignment(sticks, pieces, 2.4), abs=1e-6)


def test_sticks_that_run_out_are_told_however_they_are_cut() -> None:
    """Their metal would do, and two halves of a way would; whole sticks do not."""
    pieces = [Piece(600.0, 3, "")]
    with pytest.raises(InputError, match="no way"):
        nest([Stick(1000.0, 2, 1.0)], pieces, 0.0)


def test_what_is_left_over_is_left_in_one_piece() -> None:
    sticks, pieces = [Stick(1000.0, None, 1.0)], [Piece(400.0, 2, ""), Piece(100.0, 4, "")]
    spread = [Way(0, (1, 2)), Way(0, (1, 2))]
    kept = few_long_remnants(sticks, pieces, 0.0, spread)
    assert sorted(way.takes for way in kept) == [(0, 2), (2, 2)]
    assert sorted(way.takes for way in nest(sticks, pieces, 0.0).ways) == [(0, 2), (2, 2)]
