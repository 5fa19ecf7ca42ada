"""Every order of a tube's bends, each step held against dense samples on the virtual bender.

Written out from `docs/numbers.md`: nothing of the package but the tube's own figures is used. What
passes so near that samples cannot tell is taken once as clear and once as hit; the least cost lies
between the two.
"""

from itertools import permutations, product

import numpy as np

from tests.truth.swung import (
    BACK,
    CLAMP,
    CLR,
    FOLLOWER,
    OD,
    SWINGS,
    box_distance,
    made_tube,
    points_at,
    random_stick,
    turned_about,
)
from tests.truth.virtual_bender import Bender, Die, rotation

X, Z = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
DIE_THICKER = 10.0
TURNED, LIFTED, PAST, BACKWARD, AWKWARD, ROLLED = 10.0, 5.0, 3.0, 2.0, 0.5, 0.25
SWUNG, CRANED, ASTRAY, LED_BY_B = 0.1, 0.2, 0.05, 0.01
LEVEL_MM, LEVEL_BEST_MM, LEVEL_LEAST = 60.0, 150.0, 0.05
LEVEL_DEGREES = 0.5 / 1.96
BAND_DEGREES = np.degrees(1.0 / 1.96 / (OD / 2))


class Shop:
    """A tube, a bender, boxes and a floor; what is hit is sampled.

    Any place of a motion is nearer to a sample than `sure` mm, so that a sampled gap above that is
    clear: samples are half of it apart along the tube, and move by no more than it from one to the
    next.
    """

    def __init__(self, stick, swing, boxes, height, sure):
        self.stick, self.boxes, self.height, self.sure = stick, boxes, height, sure
        self.bender, self.die = Bender(swing[1], swing[0]), Die(CLR, springback=BACK)
        self.gaps, self.tubes = {}, {}
        self.bends = len(stick.angles)
        self.astray = [astray(stick, n) for n in range(1, self.bends + 1)]

    def tube(self, made, n, lead):
        key = (made, n, lead)
        if key not in self.tubes:
            args = self.stick, sorted(made), n, lead, self.bender, self.die
            self.tubes[key] = made_tube(*args)
        return self.tubes[key]

    # --- what is hit ------------------------------------------------------------------------------

    def told(self, key, gaps):
        """1 for clear, 0 for hit, one half for too near to tell."""
        if key not in self.gaps:
            least = np.inf
            for gap in gaps():
                least = min(least, gap)
                if least < -0.1:
                    break
            self.gaps[key] = 0.0 if least < -0.1 else 1.0 if least > self.sure else 0.5
        return self.gaps[key]

    def around(self, points):
        gaps = [box_distance(points, *box).min() for box in self.boxes]
        return min(*gaps, points[:, 2].min() + self.height)

    def disc(self, points):
        axis = self.bender.die_axis
        arm = points - CLR * self.bender.side
        high = np.abs(arm @ axis) - (OD + DIE_THICKER) / 2
        out = np.linalg.norm(arm - (arm @ axis)[:, None] * axis, axis=1) - (CLR - OD / 2)
        over = np.hypot(np.maximum(out, 0), np.maximum(high, 0))
        return (over + np.minimum(np.maximum(out, high), 0)).min()

    def points(self, tube, span):
        (low, high), step = span, self.sure / 2
        if not high > low:
            return np.empty((0, 3))
        return points_at(tube, np.linspace(low, high, max(2, int((high - low) / step) + 2)))

    def spans(self, made, n, lead):
        """Stock of lead and tail: past clamp and follower, and from their bends on."""
        s = self.stick
        low, high = s.arc_from[n - 1], s.arc_to[n - 1]
        a, b = (CLAMP, FOLLOWER) if lead == "A" else (FOLLOWER, CLAMP)
        before, after = [m for m in made if m < n], [m for m in made if m > n]
        bent_a = (0.0, s.arc_to[max(before) - 1]) if before else (0.0, 0.0)
        bent_b = (s.arc_from[min(after) - 1], s.stock) if after else (0.0, 0.0)
        # a straight that is shorter than what holds it: from its bend on
        to_a = (0.0, max(low - a, bent_a[1]))
        to_b = (min(high + b, bent_b[0]) if after else high + b, s.stock)
        pairs = ((to_a, bent_a), (to_b, bent_b))
        return pairs if lead == "A" else pairs[::-1]

    def parts(self, made, n, lead):
        """What is made in the lead and in the tail."""
        before, after = (frozenset(m for m in made if (m < n) == low) for low in (True, False))
        return (before, after) if lead == "A" else (after, before)

    def bend_clear(self, made, n, lead):
        front, back = self.parts(made, n, lead)
        clear = min(
            self.told((front, n, lead, "lead"), lambda: self.lead_gaps(front, n, lead)),
            self.told((back, n, lead, "tail"), lambda: self.tail_gaps(back, n, lead)),
        )
        if not clear:
            return clear
        return min(clear, self.told((made, n, lead), lambda: self.own_gaps(made, n, lead)))

    def moves(self, n, points):
        """Angle of the lead, and of the die, and the radius, so dense that no place is far off."""
        loaded, free = self.stick.loaded[n - 1], self.stick.angles[n - 1]
        reach = (
            np.linalg.norm(points - CLR * self.bender.side, axis=1).max() if len(points) else CLR
        )
        count = max(20, int(np.radians(loaded) * reach / self.sure))
        moves = [(a, a, CLR) for a in np.linspace(0, loaded, count)]
        return moves + [(a, loaded, CLR * loaded / a) for a in np.linspace(free, loaded, 8)]

    def swung(self, points, angle, radius):
        centre = radius * self.bender.side
        return turned_about(self.bender.die_axis, centre, points, np.full(len(points), angle))

    def lead_gaps(self, made, n, lead):
        tube = self.tube(made, n, lead)
        ahead, bent = self.spans(made, n, lead)[0]
        front = self.points(tube, ahead)
        if bent[1] > bent[0]:
            yield self.disc(self.points(tube, bent)) - OD / 2
        for angle, _, radius in self.moves(n, front) if len(front) else ():
            yield self.around(self.swung(front, angle, radius)) - OD / 2

    def tail_gaps(self, made, n, lead):
        tube = self.tube(made, n, lead)
        behind, bent = self.spans(made, n, lead)[1]
        back, tail_bent = self.points(tube, behind), self.points(tube, bent)
        for angle in np.linspace(0, self.stick.loaded[n - 1], 60):
            shift = -np.radians(angle) * CLR * X
            if len(back):
                yield self.around(back + shift) - OD / 2
            if len(tail_bent):
                yield self.disc(tail_bent + shift) - OD / 2

    def own_gaps(self, made, n, lead):
        if not made and self.stick.loaded[n - 1] <= 90:
            return
        tube = self.tube(made, n, lead)
        (ahead, _), (behind, _) = self.spans(made, n, lead)
        front, back = self.points(tube, ahead), self.points(tube, behind)
        if not len(front) or not len(back):
            return
        for angle, drawn, radius in self.moves(n, front):
            lead_points = self.swung(front, angle, radius)
            tail = back - np.radians(drawn) * CLR * X
            near = OD + 2 * self.sure
            low, high = tail.min(axis=0) - near, tail.max(axis=0) + near
            lead_points = lead_points[((lead_points > low) & (lead_points < high)).all(axis=1)]
            if len(lead_points):
                square = (lead_points**2).sum(1)[:, None] + (tail**2).sum(1)
                apart = square - 2 * lead_points @ tail.T
                yield np.sqrt(max(apart.min(), 0.0)) - OD

    def roll_clear(self, made, n, lead, turn):
        told = 1.0
        for end, part in enumerate(self.parts(made, n, lead)):
            if part and told:
                gaps = self.roll_gaps(part, n, lead, turn, end)
                told = min(told, self.told((part, n, lead, turn, end), lambda gaps=gaps: gaps))
        return told

    def roll_gaps(self, made, n, lead, turn, end):
        tube, (span, bent) = self.tube(made, n, lead), self.spans(made, n, lead)[end]
        rest, beyond = self.points(tube, span), self.points(tube, bent)
        reach = np.linalg.norm(beyond[:, 1:], axis=1).max()
        for angle in np.linspace(0, turn, max(20, int(np.radians(abs(turn)) * reach / self.sure))):
            yield self.around(self.rolled(rest, angle)) - OD / 2
            yield self.disc(self.rolled(beyond, angle)) - OD / 2

    def rolled(self, points, angle):
        return turned_about(X, np.zeros(3), points, np.full(len(points), angle))

    def feed_clear(self, made, last, n, lead, turn):
        front, back = self.parts(made, n, lead)
        return min(
            self.told(
                (front, last, n, lead, "fed"), lambda: self.lead_fed(front, last, n, lead, turn)
            ),
            self.told(
                (back, last, n, lead, "tail fed"), lambda: self.tail_fed(back, last, n, lead, turn)
            ),
        )

    def places(self, last, n, lead):
        """Along x from the last bend on to this."""
        s = self.stick
        far = s.arc_from[n - 1] - s.arc_to[last - 1]
        if lead == "B":
            far = s.arc_from[last - 1] - s.arc_to[n - 1]
        return np.linspace(far, 0, max(2, int(far / self.sure) + 2))

    def tail_fed(self, made, last, n, lead, turn):
        if not made:
            return
        bent = self.points(self.tube(made, n, lead), self.spans(made, n, lead)[1][1])
        for moved in self.places(last, n, lead):
            points = self.rolled(bent, turn) + moved * X
            yield min(self.around(points), self.disc(points)) - OD / 2

    def lead_fed(self, made, last, n, lead, turn):
        """The arc made last lies on the die at first, and what the clamp held is beside it."""
        s, tube = self.stick, self.tube(made, n, lead)
        next_a = max((s.arc_to[m - 1] for m in made if m < last), default=0.0)
        next_b = min((s.arc_from[m - 1] for m in made if m > last), default=s.stock)
        if lead == "A":
            past = (0.0, max(s.arc_from[last - 1] - CLAMP, next_a))
            arc, beyond = (next_a, s.arc_to[last - 1]), (0.0, next_a)
        else:
            past = (min(s.arc_to[last - 1] + CLAMP, next_b), s.stock)
            arc, beyond = (s.arc_from[last - 1], next_b), (next_b, s.stock)
        places = self.rolled(self.points(tube, past), turn)
        on_die = self.rolled(self.points(tube, arc), turn)
        after = self.rolled(self.points(tube, beyond), turn)
        for moved in self.places(last, n, lead):
            if len(places):
                yield self.around(places + moved * X) - OD / 2
            if len(after):
                yield self.disc(after + moved * X) - OD / 2
            if self.disc(on_die + moved * X) - OD / 2 < -0.1:
                yield -1.0

    # --- what it costs ----------------------------------------------------------------------------

    def straight(self, made, n, lead):
        s = self.stick
        a, b = (CLAMP, FOLLOWER) if lead == "A" else (FOLLOWER, CLAMP)
        low, high = s.arc_from[n - 1], s.arc_to[n - 1]
        ends = [s.arc_to[m - 1] for m in made if m < n]
        starts = [s.arc_from[m - 1] for m in made if m > n]
        return not (ends and low - max(ends) < a) and not (starts and min(starts) - high < b)

    def step_cost(self, made, n, lead):
        """Swinging and craning metal, and a roll that cannot be set truly."""
        s, tube = self.stick, self.tube(made, n, lead)
        reach, aside, score, sharp = 0.0, 0.0, 0.0, 0.0
        axis, centre = self.bender.die_axis, CLR * self.bender.side
        for piece in tube.pieces:
            if piece.n:
                continue
            ends = np.array([piece.start, piece.start + piece.stock * piece.along])
            middle = (piece.stock_from + piece.stock_to) / 2
            in_die = piece.stock_from <= s.arc_from[n - 1] and piece.stock_to >= s.arc_to[n - 1]
            toward_a = middle < s.arc_from[n - 1]
            if in_die or toward_a == (lead == "A"):
                part = ends[ends[:, 0] < 1e-6] if in_die else ends
                arm = part - centre
                reach = max(reach, np.linalg.norm(arm - np.outer(arm @ axis, axis), axis=1).max())
            if not in_die and toward_a != (lead == "A"):
                aside = max(aside, np.hypot(ends[:, 1], ends[:, 2]).max())
            level = np.hypot(piece.along[0], piece.along[1])
            slope = abs(piece.along[1]) / level if level > 1e-6 else 1.0
            useful = slope * min(1.0, piece.stock / LEVEL_BEST_MM)
            if not in_die and piece.stock >= LEVEL_MM and useful > max(score, LEVEL_LEAST):
                score, sharp = useful, slope
        spread = min(BAND_DEGREES, LEVEL_DEGREES / max(sharp, 1e-3)) if made else 0.0
        travel = reach * np.radians(s.loaded[n - 1])
        cost = SWUNG * travel / 1000 + CRANED * aside / 1000 + ASTRAY * self.astray[n - 1] * spread
        return cost + LED_BY_B * (lead == "B")

    def move(self, made, before, n, lead):
        """Cost of going on from the bend made before, and whether that is sure."""
        last, led = before
        low, high = min(last, n), max(last, n)
        turn = sum(self.stick.rotations[low:high])
        cost = PAST * (high - low != 1) + BACKWARD * ((n > last) != (lead == "A"))
        cost += AWKWARD * (min(turn % 90, 90 - turn % 90) >= 0.05)
        if led != lead:
            return cost + TURNED, cost + TURNED
        turn = turn if (n > last) == (lead == "A") else -turn
        turn = (turn + 180) % 360 - 180
        cost += ROLLED * abs(turn) / 90
        if any(low < m < high for m in made):
            return cost, cost
        fed = self.feed_clear(made, last, n, lead, turn) if (n > last) == (lead == "A") else 1.0
        longer = turn - 360 if turn > 0 else turn + 360
        near = min(fed, self.roll_clear(made, n, lead, turn))
        far = min(fed, self.roll_clear(made, n, lead, longer)) if near < 1 else 0.0
        more = ROLLED * (abs(longer) - abs(turn)) / 90
        best = 0.0 if near else more if far else LIFTED
        worst = 0.0 if near == 1 else more if far == 1 else LIFTED
        return cost + best, cost + worst

    def least_costs(self):
        """Least cost of all orders, what cannot be told being clear, and being hit."""
        found = np.array([np.inf, np.inf])
        steps, moves = {}, {}
        for numbers in permutations(range(1, self.bends + 1)):
            for leads in product("AB", repeat=self.bends):
                made, cost = frozenset(), np.zeros(2)
                for i, state in enumerate(zip(numbers, leads, strict=True)):
                    if (made, state) not in steps:
                        steps[made, state] = self.step_costs(made, *state)
                    cost = cost + steps[made, state]
                    if i and cost[0] < found[1]:
                        before = numbers[i - 1], leads[i - 1]
                        if (made, before, state) not in moves:
                            moves[made, before, state] = np.array(self.move(made, before, *state))
                        cost = cost + moves[made, before, state]
                    if not cost[0] < found[1]:  # nothing that follows costs less than nothing
                        break
                    made = made | {state[0]}
                else:
                    found = np.minimum(found, cost)
        return found

    def step_costs(self, made, n, lead):
        if not self.straight(made, n, lead):
            return np.array([np.inf, np.inf])
        clear = self.bend_clear(made, n, lead)
        cost = self.step_cost(made, n, lead)
        return np.array([cost if clear else np.inf, cost if clear == 1 else np.inf])


def astray(stick, n):
    """Mm that the B end moves, for one degree that bend n alone is turned about its straights."""
    ends = []
    for off in (0.005, -0.005):
        rotations = [*stick.rotations, 0.0]
        rotations[n - 1] += off
        rotations[n] -= off
        at, along, axis, done = np.zeros(3), X, Z, 0.0
        for i, angle in enumerate(stick.angles):
            at = at + (stick.arc_from[i] - done) * along
            axis = rotation(along, rotations[i]) @ axis
            radius, turned, inward = stick.radii[i], np.radians(angle), np.cross(axis, along)
            at = at + radius * (np.sin(turned) * along + (1 - np.cos(turned)) * inward)
            along = rotation(axis, angle) @ along
            done = stick.arc_to[i]
        ends.append(at + (stick.stock - done) * along)
    return np.linalg.norm(ends[0] - ends[1]) / 0.01


def shop(seed, bends, sure=12.0):
    """A random tube at a bender with a pedestal, a box somewhere about, and a floor."""
    rng = np.random.default_rng(1000 * bends + seed)
    stick = random_stick(rng, bends)
    about = np.array([*rng.uniform(-500, 500, 2), rng.uniform(-300, 300)])
    boxes = (
        (about, np.array([60.0, 80.0, 50.0])),
        (np.array([0.0, 0.0, -330.0]), np.array([260.0, 260.0, 300.0])),
    )
    return Shop(stick, SWINGS[seed % 4], boxes, rng.uniform(350, 900), sure)
