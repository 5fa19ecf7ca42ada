"""Find the order of least cost in which nothing is hit; compiled.

What handling costs hangs on the bend made last and the end that led then; what the tube hits, on
the set of bends made. So the least cost to go from every set is found first, as if nothing were in
the way (`costs_to_go`: Bellman's recursion over subsets; Held and Karp 1962, from memory). Then
orders are followed best first with that as the bound (Hart, Nilsson and Raphael 1968, from memory),
and a step is held against the bender only once it is the most promising there is. Nothing is held
against it twice: what one end comes past is kept for every set of bends made in that end.

A state is a set of bends made, and what was made last: 2 n, + 1 when B led, n from 0.
"""

from math import ceil, inf, pi

import numpy as np
from numpy.typing import NDArray

from soapstone.bend.steps import feed_clear, lead_clear, own_clear, roll_clear, tail_clear
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

Known = NDArray[np.int8]
"""What is known: 0 nothing yet, 1 clear, 2 hit."""

PAST_TAIL, PAST_LEAD = 0, 1
ROLLED, FED = 0, 4
"""Rows of what is known of moves: the lead rolled the short way and the long way, then the tail;
the lead fed, then the tail."""


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
def bend_free(
    tubes: Array,
    stocks: Array,
    made: int,
    n: int,
    led_by_a: bool,
    things: Array,
    sizes: Array,
    ends: Known,
    own: Known,
    looks: NDArray[np.int64],
) -> bool:
    """Whether bend `n` can be made, of every hand of the tube."""
    bends = tubes.shape[1]
    lead = 0 if led_by_a else 1
    ahead = side_of(made, n, led_by_a, bends)
    behind = side_of(made, n, not led_by_a, bends)
    for hand in range(len(tubes)):
        tube, stock, known = tubes[hand], stocks[hand], ends[hand, lead]
        if known[PAST_TAIL, behind] == 0:
            clear = tail_clear(tube, stock, made, n, led_by_a, things, sizes)
            known[PAST_TAIL, behind] = 1 if clear else 2
            looks[0] += 1
        if known[PAST_TAIL, behind] == 2:
            return False
        if known[PAST_LEAD, ahead] == 0:
            clear = lead_clear(tube, stock, made, n, led_by_a, things, sizes)
            known[PAST_LEAD, ahead] = 1 if clear else 2
            looks[0] += 1
        if known[PAST_LEAD, ahead] == 2:
            return False
    for hand in range(len(tubes)):
        if own[hand, lead, n, made] == 0:
            clear = own_clear(tubes[hand], stocks[hand], made, n, led_by_a, sizes)
            own[hand, lead, n, made] = 1 if clear else 2
            looks[0] += 1
        if own[hand, lead, n, made] == 2:
            return False
    return True


@compiled
def roll_of(tube: Array, last: int, n: int, led_by_a: bool) -> float:
    """Roll in radians from bend `last` to bend `n`, the short way round, in (-pi, pi].

    Clockwise seen from the tail looking at the die.
    """
    turned = tube[max(last, n), 4] - tube[min(last, n), 4]
    roll = turned if (n > last) == led_by_a else -turned
    return float(roll - 2 * pi * ceil((roll - pi) / (2 * pi) - 1e-12))


@compiled
def is_onward(made: int, last: int, n: int) -> int:
    """1 when nothing made lies between two bends, else 0."""
    low, high = min(last, n), max(last, n)
    return 0 if (made >> (low + 1)) & ((1 << (high - low - 1)) - 1) else 1


@compiled
def way_round(
    tube: Array,
    stock: float,
    made: int,
    last: int,
    n: int,
    led_by_a: bool,
    things: Array,
    sizes: Array,
    known: Known,
    sides: tuple[int, int],
    looks: NDArray[np.int64],
) -> int:
    """Which way round a tube is free to be rolled from bend `last` to bend `n`, once it is fed on.

    1 the short way, 2 the long way, 0 neither, or it cannot be fed on. `known` is of one hand and
    one lead, `sides` where in it the sets of bends made in lead and tail are.
    """
    roll = roll_of(tube, last, n, led_by_a)
    other = roll - 2 * pi if roll > 0 else roll + 2 * pi
    for part in range(2):
        of_lead, side = part == 0, sides[part]
        if (n > last) == led_by_a:
            if known[FED + part, last, side] == 0:
                clear = feed_clear(
                    tube, stock, made, last, n, led_by_a, of_lead, roll, things, sizes
                )
                known[FED + part, last, side] = 1 if clear else 2
                looks[0] += 1
            if known[FED + part, last, side] == 2:
                return 0
    if roll == 0:
        return 1
    for way in range(2):
        free = True
        for part in range(2):
            of_lead, row, side = part == 0, ROLLED + 2 * part + way, sides[part]
            if free and known[row, last, side] == 0:
                turn = roll if way == 0 else other
                clear = roll_clear(tube, stock, made, n, led_by_a, of_lead, turn, things, sizes)
                known[row, last, side] = 1 if clear else 2
                looks[0] += 1
            free = free and known[row, last, side] == 1
        if free:
            return way + 1
    return 0


@compiled
def move_extra(
    tubes: Array,
    stocks: Array,
    made: int,
    last: int,
    n: int,
    led_by_a: bool,
    things: Array,
    sizes: Array,
    moved: Known,
    looks: NDArray[np.int64],
    lifted: float,
    per_rad: float,
) -> float:
    """What it costs more to go from bend `last` to bend `n`, of the hand that it costs most.

    `lifted` where it must be lifted out, else `per_rad` of how much longer the long way round is.
    """
    most, lead, bends = 0.0, 0 if led_by_a else 1, tubes.shape[1]
    sides = side_of(made, n, led_by_a, bends), side_of(made, n, not led_by_a, bends)
    for hand in range(len(tubes)):
        tube, known = tubes[hand], moved[hand, lead]
        way = way_round(
            tube, stocks[hand], made, last, n, led_by_a, things, sizes, known, sides, looks
        )
        if way == 0:
            return lifted
        if way == 2:
            most = max(most, 2 * per_rad * (pi - abs(roll_of(tube, last, n, led_by_a))))
    return min(most, lifted)


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
    tubes: Array,
    stocks: Array,
    things: Array,
    sizes: Array,
    moves: Array,
    steps: Array,
    prices: Array,
    most: int,
) -> tuple[NDArray[np.int64], float, bool]:
    """Find the states of the order of least cost, its cost, and whether every order was weighed.

    Parameters
    ----------
    tubes, stocks
        (hands, bends, 6) and (hands,): the tube, and others that must be free in the same order.
    moves, steps
        As in `costs_to_go`; `moves` with the short way of every roll.
    prices
        What lifting out costs, and what rolling costs for a radian.
    most
        Motions of one end held against the bender at most; then the search is given up.
    """
    hands, bends = tubes.shape[0], tubes.shape[1]
    sets, states = 1 << bends, 2 * bends
    ends = np.zeros((hands, 2, 2, sets), np.int8)
    own = np.zeros((hands, 2, bends, sets), np.int8)
    moved = np.zeros((hands, 2, 6, bends, sets), np.int8)
    to_go = costs_to_go(moves, steps)
    costs, before = np.full((sets, states), inf), np.full((sets, states), -1, np.int8)
    looks, full = np.zeros(1, np.int64), sets - 1
    keys, items, count = np.empty(4096), np.empty(4096, np.int64), 0
    for new in range(states):
        if steps[0, new] + to_go[1 << new // 2, new] < inf:
            _push(keys, items, count, steps[0, new] + to_go[1 << new // 2, new], 2 * new)
            count += 1
    while count > 0:
        item = items[0]
        _pop(keys, items, count)
        count -= 1
        made, last, new = (
            item // (2 * states * states),
            item // (2 * states) % states,
            item // 2 % states,
        )
        after, n, led_by_a = made | 1 << new // 2, new // 2, new % 2 == 0
        if costs[after, new] < inf:
            continue
        if looks[0] > most:
            return np.empty(0, np.int64), inf, False
        if steps[made, new] == inf:
            continue
        if not item & 1 and not bend_free(
            tubes, stocks, made, n, led_by_a, things, sizes, ends, own, looks
        ):
            steps[made, new] = inf
            continue
        cost, extra = steps[made, new], 0.0
        if made:
            cost += costs[made, last] + moves[last, new]
        if made and last % 2 == new % 2 and is_onward(made, last // 2, n):
            extra = move_extra(
                tubes,
                stocks,
                made,
                last // 2,
                n,
                led_by_a,
                things,
                sizes,
                moved,
                looks,
                prices[0],
                prices[1],
            )
            if extra > 0 and not item & 1:
                _push(keys, items, count, cost + extra + to_go[after, new], item | 1)
                count += 1
                continue
        costs[after, new], before[after, new] = cost + extra, last
        if after == full:
            return _traced(before, new), cost + extra, True
        if count + states > len(keys):
            keys, items = _longer(keys, items)
        for onto in range(states):
            if not after >> onto // 2 & 1:
                there = after | 1 << onto // 2
                key = cost + extra + moves[new, onto] + steps[after, onto] + to_go[there, onto]
                if key < inf and costs[there, onto] == inf:
                    edge = (after * states + new) * states + onto
                    _push(keys, items, count, key, 2 * edge)
                    count += 1
    return np.empty(0, np.int64), inf, True


@compiled
def _longer(keys: Array, items: NDArray[np.int64]) -> tuple[Array, NDArray[np.int64]]:
    more = np.empty(2 * len(keys)), np.empty(2 * len(items), np.int64)
    more[0][: len(keys)], more[1][: len(items)] = keys, items
    return more


@compiled
def _traced(before: Known, last: int) -> NDArray[np.int64]:
    """Follow an order back from the tube with all bends made."""
    bends = before.shape[1] // 2
    path, made = np.empty(bends, np.int64), len(before) - 1
    for i in range(bends - 1, -1, -1):
        path[i] = last
        last, made = before[made, last], made & ~(1 << last // 2)
    return path


@compiled
def hold(
    tube: Array,
    stock: float,
    order: NDArray[np.int64],
    things: Array,
    sizes: Array,
) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """Hold every step of an order against the bender, whatever was found at those before.

    Gives for each whether its bend is clear, and which way round it is rolled before, as in
    `way_round`; 3 where it is laid in anew.
    """
    bends, steps = len(tube), len(order)
    clear, ways = np.zeros(steps, np.int8), np.full(steps, 3, np.int8)
    looks, made = np.zeros(1, np.int64), 0
    for i in range(steps):
        n, led_by_a = order[i] // 2, order[i] % 2 == 0
        if i > 0 and order[i] % 2 == order[i - 1] % 2:
            last = order[i - 1] // 2
            if is_onward(made, last, n):
                known = np.zeros((6, bends, 1), np.int8)
                ways[i] = way_round(
                    tube, stock, made, last, n, led_by_a, things, sizes, known, (0, 0), looks
                )
        free = tail_clear(tube, stock, made, n, led_by_a, things, sizes)
        free = free and lead_clear(tube, stock, made, n, led_by_a, things, sizes)
        clear[i] = 1 if free and own_clear(tube, stock, made, n, led_by_a, sizes) else 0
        made |= 1 << n
    return clear, ways
