"""Choose among ways to cut a stick, each so and so many times: whole numbers, by HiGHS."""

from collections.abc import Sequence

import numpy as np

from soapstone.yard.cut_list import Piece, Stick
from soapstone.yard.prices import rows_of
from soapstone.yard.quick import Way

EFFORT = 10_000_000
"""Branches times the square of the ways: counted, so that every machine gives one answer."""

MOST_NODES = 150
FEWEST_NODES = 10


def choose(
    sticks: Sequence[Stick], pieces: Sequence[Piece], ways: Sequence[Way], under: float
) -> tuple[list[Way] | None, bool]:
    """Give the cheapest choice of ways that costs less than `under`, and whether that is settled.

    Settled without an answer: these ways have none.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_matrix, vstack

    if not ways:
        return None, True
    rows, limited = rows_of(sticks, ways)
    cost = np.array([sticks[way.stick].cost for way in ways])
    high = [-float(piece.count) for piece in pieces]
    high += [float(sticks[i].count or 0) for i in limited]
    whole = {"constraints": LinearConstraint(rows, -np.inf, high)}
    if np.isfinite(under):
        rows = vstack((rows, csc_matrix(cost))).tocsc()
        whole = {"constraints": LinearConstraint(rows, -np.inf, [*high, under])}
    result = milp(
        cost,
        **whole,
        bounds=Bounds(0, np.inf),
        integrality=np.ones(len(cost)),
        options={
            "mip_rel_gap": 0.0,
            "node_limit": max(FEWEST_NODES, min(MOST_NODES, EFFORT // len(ways) ** 2)),
        },
    )
    if result.x is None:
        return None, result.status == 2
    times = np.rint(result.x).astype(int).tolist()
    return _without_surplus(pieces, ways, times), result.status == 0


def _without_surplus(
    pieces: Sequence[Piece], ways: Sequence[Way], times: Sequence[int]
) -> list[Way] | None:
    """Leave out what is cut more often than asked for."""
    left, chosen = [piece.count for piece in pieces], []
    for way, n in zip(ways, times, strict=True):
        for _ in range(n):
            takes = tuple(min(a, b) for a, b in zip(way.takes, left, strict=True))
            left = [b - a for a, b in zip(takes, left, strict=True)]
            if any(takes):
                chosen.append(Way(way.stick, takes))
    return chosen if not any(left) else None
