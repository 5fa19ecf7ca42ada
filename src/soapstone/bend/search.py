"""Find the order of least cost in which nothing is hit; compiled.

What handling costs hangs on the bend made last and the end that led then; what the tube hits, on
the set of bends made. So the least cost to go from every set is found first, as if nothing were in
the way (`costs_to_go`: Bellman's recursion over subsets; Held and Karp 1962, from memory). Then
orders are followed best first with that as the bound (Hart, Nilsson and Raphael 1968, from memory),
and a step is held against the bender only once it is the most promising there is. Nothing is held
against it twice: what one end comes past is kept for every set of bends made in that end.

A state is a set of bends made, and what was made last: 2 n, + 1 when B led, n from 0.
"""

from math import inf, pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from soapstone.bend.steps import (
    DRAWN,
    LEAD_FED,
    LEAD_ROLLED,
    LEAD_ROLLED_FAR,
    OWN,
    SWUNG,
    TAIL_FED,
    TAIL_ROLLED,
    TAIL_ROLLED_FAR,
    motion_clear,
    roll_of,
)
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

MOVES = (LEAD_FED, TAIL_FED, LEAD_ROLLED, TAIL_ROLLED, LEAD_ROLLED_FAR, TAIL_ROLLED_FAR)
"""What is looked at as a tube goes from one bend to the next."""


class Shop(NamedTuple):
    """What a search is about.

    `tubes` (hands, bends, 6) and `stocks` (hands,) are the tube, and others that must be free in
    the same order; `things` and `sizes` the bender, see `steps`. `lifted` is what lifting out
    costs, and `per_rad` what rolling costs for a radian.
    """

    tubes: Array
    stocks: Array
    things: Array
    sizes: Array
    lifted: float
    per_rad: float


class Known(NamedTuple):
    """What is known of motions: (hands, leads, motions, bends, sets), and how many were looked at.

    `clear` is 0 where nothing is known yet, 1 where it is clear, 2 where something is hit.
    """

    clear: NDArray[np.int8]
    looks: NDArray[np.int64]


@compiled
def costs_to_go(moves: Array, steps: Array) -> Array:
    """Least cost (set of bends made, state made last) to make the rest, nothing in the way.

    `moves` (state, state) is what going from one to the other costs, `steps` (set of bends made,
    state) what making it costs then, infinite where it cannot be made.
    """
    sets, states = steps.shape
    to_go = np.full((sets, states), inf)
    to_go[sets - 1] = 0.0
    onward = np.empty(states)
    for made in range(sets - 2, 0, -1):
        for new in range(states):
            onward[new] = inf
            if not made >> new // 2 & 1:
                onward[new] = steps[made, new] + to_go[made | 1 << new // 2, new]
        for last in range(states):
            if made >> last // 2 & 1:
                for new in range(states):
                    cost = moves[last, new] + onward[new]
                    to_go[made, last] = min(to_go[made, last], cost)
    return to_go


@compiled
def side_of(made: int, n: int, to_a: bool, bends: int) -> int:
    """Number the sets of bends made in one end, seen from bend `n`: none twice, all under 2^bends.

    For each end by itself.
    """
    if to_a:
        return (1 << n) | (made & ((1 << n) - 1))
    return (1 << (bends - 1 - n)) | (made >> (n + 1))


@compiled
def _is_clear(
    shop: Shop, known: Known, hand: int, made: int, last: int, n: int, lead: int, motion: int
) -> bool:
    """Tell whether one hand is clear in one motion; looked at once for all orders to it."""
    bends, of_lead = shop.tubes.shape[1], SWUNG <= motion <= LEAD_FED
    if motion == OWN:
        side, which = made, n
    else:
        side = side_of(made, n, (lead == 0) == of_lead, bends)
        which = last if motion >= LEAD_ROLLED else 0
    if known.clear[hand, lead, motion, which, side] == 0:
        known.looks[0] += 1
        tube, stock = shop.tubes[hand], shop.stocks[hand]
        clear = motion_clear(tube, stock, made, last, n, lead == 0, motion, shop.things, shop.sizes)
        known.clear[hand, lead, motion, which, side] = 1 if clear else 2
    return bool(known.clear[hand, lead, motion, which, side] == 1)


@compiled
def _is_bendable(shop: Shop, known: Known, made: int, n: int, lead: int) -> bool:
    """Whether a bend can be made, of every hand of the tube."""
    for motion in (DRAWN, SWUNG, OWN):
        for hand in range(len(shop.tubes)):
            if not _is_clear(shop, known, hand, made, n, n, lead, motion):
                return False
    return True


@compiled
def _move_extra(shop: Shop, known: Known, made: int, last: int, n: int, lead: int) -> float:
    """What it costs more to go from bend `last` on to bend `n`, of the hand that it costs most.

    Where it cannot be fed on, or rolled either way round, it is lifted out.
    """
    low, high = min(last, n), max(last, n)
    if (made >> (low + 1)) & ((1 << (high - low - 1)) - 1):
        return 0.0  # carried past a bend: it is lifted out in any case
    most = 0.0
    for hand in range(len(shop.tubes)):
        clear = np.ones(TAIL_FED + 1, np.bool_)
        roll = roll_of(shop.tubes[hand], last, n, lead == 0)
        for motion in MOVES:
            fed = motion in (LEAD_FED, TAIL_FED)
            if (n > last) == (lead == 0) if fed else roll != 0:
                clear[motion] = _is_clear(shop, known, hand, made, last, n, lead, motion)
            if motion == TAIL_ROLLED and clear[LEAD_ROLLED] and clear[TAIL_ROLLED]:
                break
        if not (clear[LEAD_FED] and clear[TAIL_FED]):
            return shop.lifted
        if clear[LEAD_ROLLED] and clear[TAIL_ROLLED]:
            continue
        if not (clear[LEAD_ROLLED_FAR] and clear[TAIL_ROLLED_FAR]):
            return shop.lifted
        most = max(most, 2 * shop.per_rad * (pi - abs(roll)))
    return min(most, shop.lifted)


@compiled
def _push(keys: Array, items: NDArray[np.int64], count: int, key: float, item: int) -> None:
    """Put an item on a heap of `count`; the least key is on top, then the greatest item."""
    at = count
    while at > 0:
        above = (at - 1) // 2
        if keys[above] < key or (keys[above] == key and items[above] >= item):
            break
        keys[at], items[at] = keys[above], items[above]
        at = above
    keys[at], items[at] = key, item


@compiled
def _pop(keys: Array, items: NDArray[np.int64], count: int) -> None:
    """Take the top off a heap of `count`."""
    key, item, at = keys[count - 1], items[count - 1], 0
    while True:
        below = 2 * at + 1
        if below >= count - 1:
            break
        if below + 1 < count - 1 and (
            keys[below + 1] < keys[below]
            or (keys[below + 1] == keys[below] and items[below + 1] > items[below])
        ):
            below += 1
        if key < keys[below] or (key == keys[below] and item >= items[below]):
            break
        keys[at], items[at] = keys[below], items[below]
        at = below
    keys[at], items[at] = key, item


@compiled
def find_order(
    shop: Shop, moves: Array, steps: Array, most: int
) -> tuple[NDArray[np.int64], float, bool]:
    """Find the states of the order of least cost, its cost, and whether every order was weighed.

    `moves` and `steps` are as in `costs_to_go`, `moves` with the short way of every roll; `steps`
    is written to. When more than `most` motions have been looked at, the search is given up.
    """
    bends, (sets, states) = shop.tubes.shape[1], steps.shape
    known = Known(
        np.zeros((len(shop.tubes), 2, TAIL_FED + 1, bends, sets), np.int8), np.zeros(1, np.int64)
    )
    to_go = costs_to_go(moves, steps)
    costs, before = np.full((sets, states), inf), np.full((sets, states), -1, np.int8)
    keys, items, count = np.empty(4096), np.empty(4096, np.int64), 0
    count = _offer(0.0, 0, 0, moves, steps, costs, to_go, keys, items, count)
    while count > 0:
        item = items[0]
        _pop(keys, items, count)
        count -= 1
        made, last, new = item // 2 // states**2, item // 2 // states % states, item // 2 % states
        after, n, lead = made | 1 << new // 2, new // 2, new % 2
        if costs[after, new] < inf or steps[made, new] == inf:
            continue
        if known.looks[0] > most:
            return np.empty(0, np.int64), inf, False
        if not item & 1 and not _is_bendable(shop, known, made, n, lead):
            steps[made, new] = inf
            continue
        cost, extra = steps[made, new], 0.0
        if made:
            cost += costs[made, last] + moves[last, new]
            if last % 2 == lead:
                extra = _move_extra(shop, known, made, last // 2, n, lead)
        if extra > 0 and not item & 1:
            _push(keys, items, count, cost + extra + to_go[after, new], item | 1)
            count += 1
            continue
        costs[after, new], before[after, new] = cost + extra, last
        if after == sets - 1:
            return _traced(before, new), cost + extra, True
        if count + states > len(keys):
            keys, items = _longer(keys, items)
        count = _offer(cost + extra, after, new, moves, steps, costs, to_go, keys, items, count)
    return np.empty(0, np.int64), inf, True


@compiled
def _offer(
    cost: float,
    made: int,
    last: int,
    moves: Array,
    steps: Array,
    costs: Array,
    to_go: Array,
    keys: Array,
    items: NDArray[np.int64],
    count: int,
) -> int:
    """Put every step that can follow on the heap; gives how many are on it then."""
    states = len(moves)
    for new in range(states):
        after = made | 1 << new // 2
        if after == made or costs[after, new] < inf:
            continue
        key = cost + (moves[last, new] if made else 0.0) + steps[made, new] + to_go[after, new]
        if key < inf:
            _push(keys, items, count, key, 2 * ((made * states + last) * states + new))
            count += 1
    return count


@compiled
def _longer(keys: Array, items: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64]]:
    longer, more = np.empty(2 * len(keys)), np.empty(2 * len(items), np.int64)
    for i in range(len(keys)):
        longer[i], more[i] = keys[i], items[i]
    return longer, more


@compiled
def _traced(before: NDArray[np.int8], last: int) -> NDArray[np.int64]:
    """Follow an order back from the tube with all bends made."""
    bends = before.shape[1] // 2
    path, made = np.empty(bends, np.int64), len(before) - 1
    for i in range(bends - 1, -1, -1):
        path[i] = last
        last, made = before[made, last], made & ~(1 << last // 2)
    return path
