"""What pieces are worth at the least: the linear programme over ways to cut one stick."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.yard.cut_list import Piece, Stick, refuse_short_stock
from soapstone.yard.filling import Filling, Room, best_filling, fillings_worth
from soapstone.yard.quick import Way

ROUNDS = 500

MOST_WAYS = 2_000
"""Ways to cut one stick that are listed at most."""


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices at which no way to cut a stick pays, and what they prove.

    `bound` is what every answer costs at least, `worth` (n,) a price for each piece, `rent` one
    for each stick that may run out; `ways` are those that were found.
    """

    bound: float
    worth: Array
    rent: Array
    ways: tuple[Way, ...]


def least_prices(
    sticks: Sequence[Stick],
    pieces: Sequence[Piece],
    rooms: Sequence[Room],
    start: Sequence[Way] | None,
) -> Prices:
    """Find prices of pieces, from the ways of an answer if there is one.

    Raises
    ------
    InputError
        The sticks run out, even when ways may be used in part.
    """
    ways = dict.fromkeys(start or ())
    ways |= dict.fromkeys(_plain_ways(rooms, pieces))
    costs = np.array([stick.cost for stick in sticks])
    if start is None:
        found = _priced(np.zeros(len(sticks)), sticks, pieces, rooms, ways, short=True)
        if found.bound > 1e-6:
            raise refuse_short_stock()
        ways = dict.fromkeys(found.ways)
    return _priced(costs, sticks, pieces, rooms, ways, short=False)


def _priced(
    costs: Array,
    sticks: Sequence[Stick],
    pieces: Sequence[Piece],
    rooms: Sequence[Room],
    ways: dict[Way, None],
    *,
    short: bool,
) -> Prices:
    """Join ways until none pays; with `short`, at no cost but 1 for each piece left uncut."""
    demand = np.array([float(piece.count) for piece in pieces])
    best = Prices(-np.inf, np.zeros(len(pieces)), np.zeros(len(sticks)), ())
    hair = 1e-9 * max(1.0, float(costs.max()))
    for _ in range(ROUNDS):
        worth, rent, value = _solved(costs, sticks, pieces, list(ways), short=short)
        fillings = [best_filling(room, worth) for room in rooms]
        proven = _proven(costs, sticks, demand, (worth, rent), fillings)
        if proven.bound > best.bound:
            best = proven
        gains = [f.worth - c - r for f, c, r in zip(fillings, costs, rent, strict=True)]
        fresh = [
            Way(i, filling.takes)
            for i, (filling, gain) in enumerate(zip(fillings, gains, strict=True))
            if gain > hair and Way(i, filling.takes) not in ways
        ]
        if not fresh or value - best.bound <= hair:
            break
        ways |= dict.fromkeys(fresh)
    return Prices(best.bound, best.worth, best.rent, tuple(ways))


def _proven(
    costs: Array,
    sticks: Sequence[Stick],
    demand: Array,
    prices: tuple[Array, Array],
    fillings: Sequence[Filling],
) -> Prices:
    """Lower prices until surely no way pays (Farley 1990), and give what they prove.

    Where sticks may run out their rent rises instead.
    """
    worth, rent = prices
    bounds = [filling.bound for filling in fillings]
    scale = 1.0
    for stick, cost, bound in zip(sticks, costs, bounds, strict=True):
        if stick.count is None and bound > cost:
            scale = max(scale, bound / cost) if cost > 0 else np.inf
    worth = worth / scale
    supply = np.array([float(stick.count or 0) for stick in sticks])
    rent = np.array(
        [
            0.0 if stick.count is None else max(0.0, bound / scale - cost)
            for stick, cost, bound in zip(sticks, costs, bounds, strict=True)
        ]
    )
    return Prices(float(demand @ worth - supply @ rent), worth, rent, ())


def _solved(
    costs: Array, sticks: Sequence[Stick], pieces: Sequence[Piece], ways: list[Way], *, short: bool
) -> tuple[Array, Array, float]:
    """Solve the linear programme: the pieces' prices, the sticks' rents, its value."""
    from scipy.optimize import linprog
    from scipy.sparse import eye, hstack

    rows, limited = rows_of(sticks, ways)
    cost = np.array([costs[way.stick] for way in ways])
    if short:
        rows = hstack((rows, -eye(rows.shape[0], len(pieces)))).tocsc()
        cost = np.append(cost, np.ones(len(pieces)))
    limits = [-float(piece.count) for piece in pieces]
    limits += [float(sticks[i].count or 0) for i in limited]
    result = linprog(cost, A_ub=rows, b_ub=limits, method="highs")
    if result.x is None:
        raise refuse_short_stock()
    pays = np.maximum(-result.ineqlin.marginals, 0.0)
    rent = np.zeros(len(sticks))
    rent[limited] = pays[len(pieces) :]
    return pays[: len(pieces)], rent, float(result.fun)


def rows_of(sticks: Sequence[Stick], ways: Sequence[Way]) -> tuple[Any, list[int]]:
    """Give the rows of a programme, <=: what ways cut, negative; what they use of limited sticks.

    Beside them which sticks are limited.
    """
    from scipy.sparse import csc_matrix

    cut = -np.array([way.takes for way in ways], dtype=float).T
    limited = [i for i, stick in enumerate(sticks) if stick.count is not None]
    use = np.array([[float(way.stick == i) for way in ways] for i in limited])
    return csc_matrix(np.vstack((cut, use.reshape(len(limited), len(ways))))), limited


def _plain_ways(rooms: Sequence[Room], pieces: Sequence[Piece]) -> list[Way]:
    """One kind of piece from each stick, as often as it goes."""
    return [
        Way(i, tuple(room.most[k] * (j == k) for j in range(len(pieces))))
        for i, room in enumerate(rooms)
        for k in room.order
    ]


def all_ways(
    sticks: Sequence[Stick], rooms: Sequence[Room], prices: Prices, upto: float
) -> list[Way] | None:
    """List every full way that an answer costing up to `upto` can use; None if they are many."""
    spare = upto - prices.bound
    spare += 1e-9 * max(1.0, abs(upto))
    listed: list[Way] = []
    for i, (stick, room) in enumerate(zip(sticks, rooms, strict=True)):
        least = stick.cost + float(prices.rent[i]) - spare
        found = fillings_worth(room, prices.worth, least, MOST_WAYS - len(listed))
        if found is None:
            return None
        listed += [Way(i, takes) for takes in found if any(takes)]
    return listed
