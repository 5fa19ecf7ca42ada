"""The least gap over a travel that is not a plain swing, by branch and bound over the travel."""

import heapq
from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

MOST_LOOKS = 4000
"""Parts of a travel looked at in one search; then its bounds are as far apart as they are."""

HIT_TOLERANCE = 3.0
"""mm that the bounds of a hit's depth may be apart."""

Look: TypeAlias = Callable[[float, float], tuple[float, float, float]]
"""Of a part of the travel, from and to: what the gap is nowhere less than in it; the gap at one
place of it; and that place."""


@dataclass(frozen=True, slots=True)
class Least:
    """The least gap is within `low`..`high`; `high` is the gap `at` that place of the travel."""

    low: float
    high: float
    at: float


def least_over(
    start: float, stop: float, look: Look, tolerance: float, ceiling: float, touch: float
) -> Least:
    """Find the least gap over a travel.

    Parameters
    ----------
    tolerance
        mm that the two bounds may be apart.
    ceiling
        mm above which gaps need not be told apart.
    touch
        mm below which it is a hit: how deep is then found to `HIT_TOLERANCE` only.
    """
    low, high, at = look(start, stop)
    open_parts = [(low, start, stop)]
    for _ in range(MOST_LOOKS):
        low, a, b = open_parts[0]
        wide = tolerance if high >= touch else HIT_TOLERANCE
        if low >= min(high - wide, ceiling) or not a < (a + b) / 2 < b:
            break
        heapq.heappop(open_parts)
        for part in ((a, (a + b) / 2), ((a + b) / 2, b)):
            below, here, place = look(*part)
            if here < high:
                high, at = here, place
            heapq.heappush(open_parts, (max(low, below), *part))
    return Least(min(open_parts[0][0], high), high, at if high < inf else start)
