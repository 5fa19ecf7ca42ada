"""The best order against all orders, each held against dense samples on the virtual bender.

Clear and hit are told from samples here, and costs are written out; of the package only the answer
is taken. Tubes of which a step passes so near that samples cannot tell are left out.
"""

from itertools import permutations, product

import numpy as np
import pytest

from soapstone.bend.machine import DIE_MARGIN, machine
from soapstone.bend.order import best_order
from soapstone.bend.pose import SIDES
from soapstone.geometry.solids import Box
from tests.truth.swung import (
    BACK,
    CLAMP,
    CLR,
    FOLLOWER,
    OD,
    SIZE,
    SWINGS,
    box_distance,
    made_tube,
    points_at,
    random_stick,
    turned_about,
)
from tests.truth.virtual_bender import Bender, Die

X = np.array([1.0, 0.0, 0.0])
CLEAR = 12.0
"""mm: any place of a motion is nearer to a sample than this, so a sampled gap above it is clear."""


class CannotTellError(Exception):
    """A step passes too near for samples to tell."""


class Shop:
    """A tube, a bender, a box and a floor; what is hit is sampled."""

    def __init__(self, stick, swing, box_at, height):
        self.stick, self.bender, self.box_at, self.height = (
            stick,
            Bender(swing[1], swing[0]),
            box_at,
            height,
        )
        self.die = Die(CLR, springback=BACK)
        self.known = {}

    def tube(self, made, n, lead):
        return made_tube(self.stick, list(made), n, lead, self.bender, self.die)

    def stations(self, low, high, step=4.0):
        return np.linspace(low, high, max(2, int((high - low) / step) + 2)) if high > low else None

    def around(self, points):
        return min(box_distance(points, self.box_at).min(), (points[:, 2] + self.height).min())

    def disc(self, points):
        axis = self.bender.die_axis
        arm = points - CLR * self.bender.side
        high = np.abs(arm @ axis) - (OD + DIE_MARGIN) / 2
        out = np.linalg.norm(arm - (arm @ axis)[:, None] * axis, axis=1) - (CLR - OD / 2)
        over = np.hypot(np.maximum(out, 0), np.maximum(high, 0))
        return (over + np.minimum(np.maximum(out, high), 0)).min()

    def sides(self, made, n, lead):
        """Stock of lead and tail past clamp and follower, and from their bends on."""
        s = self.stick
        low, high = s.arc_from[n - 1], s.arc_to[n - 1]
        a, b = (CLAMP, FOLLOWER) if lead == "A" else (FOLLOWER, CLAMP)
        before, after = [m for m in made if m < n], [m for m in made if m > n]
        to_a, to_b = (0.0, low - a), (high + b, s.stock)
        bent_a = (0.0, s.arc_to[max(before) - 1]) if before else None
        bent_b = (s.arc_from[min(after) - 1], s.stock) if after else None
        pairs = ((to_a, bent_a), (to_b, bent_b))
        return pairs if lead == "A" else pairs[::-1]

    def straight(self, made, n, lead):
        s = self.stick
        a, b = (CLAMP, FOLLOWER) if lead == "A" else (FOLLOWER, CLAMP)
        low, high = s.arc_from[n - 1], s.arc_to[n - 1]
        ends = [s.arc_to[m - 1] for m in made if m < n]
        starts = [s.arc_from[m - 1] for m in made if m > n]
        return not (ends and low - max(ends) < a) and not (starts and min(starts) - high < b)

    def told(self, key, gaps):
        if key not in self.known:
            gap = np.inf
            for one in gaps():
                gap = min(gap, one)
                if gap < -0.1:
                    break
            self.known[key] = gap
        if -0.1 <= self.known[key] <= CLEAR:
            raise CannotTellError
        return self.known[key] > 0

    def bend_clear(self, made, n, lead):
        return self.told((made, n, lead), lambda: self.bend_gaps(made, n, lead))

    def bend_gaps(self, made, n, lead):
        tube = self.tube(sorted(made), n, lead)
        loaded, free = self.stick.loaded[n - 1], self.stick.angles[n - 1]
        (ahead, bent), (behind, bent_behind) = self.sides(made, n, lead)
        front, back = self.stations(*ahead), self.stations(*behind)
        axis = self.bender.die_axis
        if bent:
            yield self.disc(points_at(tube, self.stations(*bent))) - OD / 2
        past = any(m != n for m in made) or loaded > 90
        moves = [(a, a, CLR) for a in np.linspace(0, loaded, 100)]
        moves += [(a, loaded, CLR * loaded / a) for a in np.linspace(free, loaded, 6)]
        for angle, drawn, radius in moves:
            shift = -np.radians(drawn) * CLR * X
            tail = None
            if back is not None:
                tail = points_at(tube, back) + shift
                yield self.around(tail) - OD / 2
            if bent_behind:
                yield self.disc(points_at(tube, self.stations(*bent_behind)) + shift) - OD / 2
            if front is not None:
                points = points_at(tube, front)
                centre = radius * self.bender.side
                lead_points = turned_about(axis, centre, points, np.full(len(points), angle))
                yield self.around(lead_points) - OD / 2
                if tail is not None and past:
                    apart = lead_points[::2, None] - tail[None, ::2]
                    yield np.sqrt((apart**2).sum(-1).min()) - OD

    def roll_clear(self, made, n, lead, turn):
        return self.told((made, n, lead, turn), lambda: self.roll_gaps(made, n, lead, turn))

    def roll_gaps(self, made, n, lead, turn):
        tube = self.tube(sorted(made), n, lead)
        for span, bent in self.sides(made, n, lead):
            if not bent:
                continue
            rest, beyond = (
                points_at(tube, self.stations(*span)),
                points_at(tube, self.stations(*bent)),
            )
            for angle in np.linspace(0, turn, 120):

                def at(points, angle=angle):
                    return turned_about(X, np.zeros(3), points, np.full(len(points), angle))

                yield self.around(at(rest)) - OD / 2
                yield self.disc(at(beyond)) - OD / 2

    def cost(self, order):
        """What an order costs, as docs/numbers.md has it; infinite when something is hit."""
        made, cost = frozenset(), 0.0
        for i, (n, lead) in enumerate(order):
            if not self.straight(made, n, lead) or not self.bend_clear(made, n, lead):
                return np.inf
            cost += 0.01 * (lead == "B")
            if i:
                last, led = order[i - 1]
                cost += 3.0 * (abs(n - last) != 1) + 2.0 * ((n > last) != (lead == "A"))
                if led != lead:
                    cost += 10.0
                else:
                    cost += self.roll_cost(made, last, n, lead)
            made = made | {n}
        return cost

    def roll_cost(self, made, last, n, lead):
        low, high = min(last, n), max(last, n)
        turn = sum(self.stick.rotations[low:high])
        cost = 0.0 if min(turn % 90, 90 - turn % 90) < 0.05 else 0.5
        if any(low < m < high for m in made):
            return cost
        turn = turn if (n > last) == (lead == "A") else -turn
        turn = (turn + 180) % 360 - 180
        ways = (turn, turn - 360 if turn > 0 else turn + 360)
        if not any(self.roll_clear(made, n, lead, way) for way in ways):
            cost += 5.0
        return cost


def shop(seed, bends):
    rng = np.random.default_rng(1000 * bends + seed)
    stick = random_stick(rng, bends)
    swing = SWINGS[seed % 4]
    at = np.array([*rng.uniform(-500, 500, 2), rng.uniform(-300, 300)])
    return Shop(stick, swing, at, rng.uniform(350, 900))


@pytest.mark.parametrize(("bends", "seeds", "enough"), [(2, 10, 3), (3, 6, 2), (4, 2, 0)])
def test_no_order_of_all_is_better(bends, seeds, enough):
    told = hits = 0
    for seed in range(seeds):
        one = shop(seed, bends)
        try:
            costs = [
                one.cost(list(zip(numbers, leads, strict=True)))
                for numbers in permutations(range(1, bends + 1))
                for leads in product("AB", repeat=bends)
            ]
        except CannotTellError:
            continue
        box = Box(tuple(map(float, one.box_at)), SIZE)
        where = machine(
            CLR, OD, CLAMP, FOLLOWER, SIDES[one.bender.swing], (("box", box),), one.height
        )
        told += 1
        hits += sum(map(np.isinf, costs)) > 0
        assert best_order(one.stick, where).cost == pytest.approx(min(costs))
    assert told >= enough
    assert hits >= min(enough, 1)
