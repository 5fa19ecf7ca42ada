"""Cut pieces out of sticks for the least money, with a proven bound.

Column generation (Gilmore and Gomory 1961, "A linear programming approach to the cutting-stock
problem"): a linear programme over ways to cut one stick, joined by the way that pays best at its
prices until none pays. Its value bounds every answer from below. An answer that costs no more
than a given sum uses only ways whose loss at those prices is under what lies between: where these
are few they are all listed, and a choice of whole numbers among them is the best there is.
Everything is bounded by counts, not by a clock, so that an answer does not depend on the machine.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from soapstone.yard.cut_list import Piece, Stick, refuse_long, refuse_short_stock
from soapstone.yard.filling import room_of
from soapstone.yard.prices import all_ways, least_prices
from soapstone.yard.quick import Way, cheaper_sticks, cost_of, few_long_remnants, first_fit
from soapstone.yard.whole import choose

MOST_KINDS = 100
"""Above so many different lengths the answer is first-fit-decreasing's, packed anew."""

SHARES = (0.0, 0.25, 0.5, 1.0)
"""Shares of what lies between bound and answer that are proven one after the other."""


@dataclass(frozen=True, slots=True)
class Nest:
    """An answer: a way for every stick used, its cost, the least cost and number there can be."""

    ways: tuple[Way, ...]
    cost: float
    least_cost: float
    bound: int

    @property
    def optimal(self) -> bool:
        """Whether no answer is cheaper."""
        return self.cost <= self.least_cost + 1e-9 * max(1.0, self.cost)


def nest(sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> Nest:
    """Cut all pieces at the least cost; lengths in mm, `kerf` lost between neighbours.

    Of answers that cost the same, what is left over is in few sticks, and long. An InputError names
    a piece longer than every stick, or says that the sticks run out.
    """
    refuse_long(sticks, pieces)
    room = sum((p.length + kerf) * p.count for p in pieces)
    fewest = math.ceil(room / max(s.length + kerf for s in sticks) - 1e-9)
    ways = _at_hand(sticks, pieces, kerf)
    step = _step_of(sticks)
    least = _raised(_metal(sticks, room, kerf), step)
    if ways is None or (len(pieces) <= MOST_KINDS and cost_of(sticks, ways) > least + step / 2):
        least, ways = _exact(sticks, pieces, kerf, ways, least)
    if ways is None:
        raise refuse_short_stock()
    ways = few_long_remnants(sticks, pieces, kerf, ways)
    if len({s.cost for s in sticks}) == 1 and sticks[0].cost > 0:
        fewest = max(fewest, math.ceil(least / sticks[0].cost - 1e-9))
    cost = cost_of(sticks, ways)
    return Nest(tuple(ways), cost, min(least, cost), min(fewest, len(ways)))


def _at_hand(sticks: Sequence[Stick], pieces: Sequence[Piece], kerf: float) -> list[Way] | None:
    """First-fit-decreasing, from all sticks and from those of each length that may not run out."""
    answers = [first_fit(sticks, pieces, kerf)]
    bought = [i for i, stick in enumerate(sticks) if stick.count is None]
    for i in bought if len(bought) > 1 else ():
        # what is at hand stays; of what is bought, one length alone
        some = [j for j, other in enumerate(sticks) if j == i or other.count is not None]
        found = first_fit([sticks[j] for j in some], pieces, kerf)
        answers.append(found and [Way(some[way.stick], way.takes) for way in found])
    tried = [
        few_long_remnants(sticks, pieces, kerf, cheaper_sticks(sticks, pieces, kerf, ways))
        for ways in answers
        if ways is not None
    ]
    return min(tried, key=lambda ways: cost_of(sticks, ways), default=None)


def _exact(
    sticks: Sequence[Stick],
    pieces: Sequence[Piece],
    kerf: float,
    ways: list[Way] | None,
    least: float,
) -> tuple[float, list[Way] | None]:
    """Give a proven least cost, and the best answer that was found."""
    rooms = [room_of(stick.length, pieces, kerf) for stick in sticks]
    prices = least_prices(sticks, pieces, rooms, ways)
    step = _step_of(sticks)
    least = max(least, _raised(prices.bound, step))
    reached = math.inf if ways is None else cost_of(sticks, ways)
    if reached > least + step / 2:
        better, _ = choose(sticks, pieces, prices.ways, reached - step / 2)
        if better is not None:
            ways, reached = better, cost_of(sticks, better)
    # first what is proven least, then half of what lies between, then all of it
    for share in SHARES:
        if reached <= least + step / 2:
            break
        upto = _raised(least + share * (reached - step - least), step)
        listed = all_ways(sticks, rooms, prices, upto)
        if listed is None:
            break
        better, settled = choose(sticks, pieces, listed, upto + step / 2)
        if better is not None:
            ways, reached = better, cost_of(sticks, better)
        if not settled:
            break
        least = reached if better is not None else upto + step
    return least, ways


def _metal(sticks: Sequence[Stick], room: float, kerf: float) -> float:
    """What the metal alone costs, were every stick used to its end, the cheapest first."""
    cost = 0.0
    for stick in sorted(sticks, key=lambda s: s.cost / (s.length + kerf)):
        here = stick.length + kerf
        taken = room / here if stick.count is None else min(room / here, float(stick.count))
        cost += taken * stick.cost
        room -= taken * here
    return cost


def _step_of(sticks: Sequence[Stick]) -> float:
    """What every answer's cost is a multiple of; lengths that cost nothing say nothing."""
    exact = [Fraction(stick.cost).limit_denominator(10**6) for stick in sticks if stick.cost > 0]
    if not exact:
        return 1.0
    below = math.lcm(*(one.denominator for one in exact))
    return math.gcd(*(int(one * below) for one in exact)) / below


def _raised(cost: float, step: float) -> float:
    """Raise a bound to the next cost that sticks can have."""
    return math.ceil(cost / step - 1e-7) * step
