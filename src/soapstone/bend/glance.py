"""A first look whether a tube clears the bender in an order: on arrays, with no code to compile.

It says yes only where it is certain, and looks no further than is quick: most tubes are far from
everything but the die. The rest is left to `steps`, which takes a second to load.

The tube is cut into parts, and the travel too. The middle of each part, in the middle of each part
of the travel, is so far from a thing; and no point of it, at no time, is further from there than
half the part's length and what can be travelled in half the time. What is not clear so is halved.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, inf, pi, radians
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from soapstone.bend.clash import roll_before
from soapstone.bend.handling import State
from soapstone.bend.machine import Convex, Machine
from soapstone.bend.pose import Stick, lead_line, swing_axis, tail_line
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.solids import Ball, Box, Cylinder, turn_matrix
from soapstone.geometry.vectors import Array, norm, turn

ROUNDS = 24
"""How often parts are halved."""

MOST_PARTS = 4000
"""Parts of one motion past one thing, above which it is left to `steps`."""

GIVE = 0.05
"""mm by which a gap may fall short of what is wanted and yet be told clear."""

CHORDS = 12
"""Straights that stand for an arc of the tail."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Straights and arcs: rows as in `distance_cells.Pieces`, and their lengths in mm."""

    rows: Array
    lengths: Array

    def past(self, held: float) -> "Pieces":
        """Leave out `held` mm of a first straight, or all of it where it is shorter."""
        if not len(self.rows) or self.rows[0, 0] != 0:
            return self
        if self.lengths[0] <= held:
            return self.beyond(1)
        rows, lengths = self.rows.copy(), self.lengths.copy()
        rows[0, 1:4] += held * rows[0, 4:7]
        lengths[0] -= held
        return Pieces(rows, lengths)

    def beyond(self, count: int) -> "Pieces":
        """Leave out the first pieces."""
        return Pieces(self.rows[count:], self.lengths[count:])


@dataclass(frozen=True, slots=True)
class Travel:
    """A motion: turned about an axis through `centre`, and shifted along x.

    `turns` in radians and `shifts` in mm are from start to end; `slack` is what else anything may
    move by, in mm.
    """

    axis: Array
    centre: Array
    turns: tuple[float, float] = (0.0, 0.0)
    shifts: tuple[float, float] = (0.0, 0.0)
    slack: float = 0.0


@dataclass(frozen=True, slots=True)
class Tail:
    """The tube's own tail as straights, (m, 3) each, that its line is within `slack` mm of."""

    starts: Array
    ends: Array
    slack: float


Thing: TypeAlias = Convex | Tail
Motion: TypeAlias = tuple[Pieces, Travel, Sequence[Thing], float]
"""What moves, how, past what, and the distance that its line must keep from that."""

X: Array = np.array([1.0, 0.0, 0.0])
STILL = Travel(X, np.zeros(3))


def glance(
    stick: Stick, where: Machine, order: Sequence[State], wanted: float = 0.0
) -> bool | None:
    """Tell whether an order is certain to clear everything, rolled the short way and never lifted.

    False where a bend is certain to hit something. None says nothing: look with `order.hold`.
    """
    if min(stick.radii, default=inf) < where.clr:
        return None
    made: list[int] = []
    unsure = False
    for n, lead in order:
        for motion in _bend(stick, made, n, lead, where):
            clear = _clears(motion, wanted)
            if clear is False:
                return False
            unsure |= clear is None
        if made and order[len(made) - 1][1] == lead:
            moves = _moves(stick, made, n, lead, where)
            unsure = unsure or not all(_clears(move, wanted) for move in moves)
        made.append(n)
    return None if unsure else True


def _bend(stick: Stick, made: list[int], n: int, lead: str, where: Machine) -> Iterator[Motion]:
    """Give the tail drawn up, the lead swung and let go, past all things and past the tail."""
    ahead = _pieces(lead_line(stick, made, n, lead, where.side))
    behind = _pieces(tail_line(stick, made, n, lead, where.side))
    things, die, half = [one.solid for one in where.obstacles], [where.die.solid], where.od / 2
    used, loaded, free = stick.used(n), radians(stick.loaded[n - 1]), radians(stick.angles[n - 1])
    drawn = Travel(X, np.zeros(3), shifts=(0.0, -used))
    front, back = ahead.past(where.clamp), behind.past(where.follower)
    yield back, drawn, things, half
    yield _bent(behind), drawn, die, half
    yield _bent(ahead), STILL, die, half
    # the axis that the lead turns about moves as the bend opens, by so much at most
    opens = 2 * where.clr * (loaded / free - 1)
    axis = swing_axis(where.side)
    swing = Travel(axis, where.centre, (0.0, loaded))
    release = Travel(axis, where.centre, (loaded, free), slack=opens)
    yield front, swing, things, half
    yield front, release, things, half
    if made or loaded > pi / 2:
        tail = [_tail(back)]
        # seen from the tail, which is drawn up, the lead comes toward it
        yield front, Travel(axis, where.centre, (0.0, loaded), (0.0, used)), tail, where.od
        yield front, Travel(axis, where.centre, (loaded, free), (used, used), opens), tail, where.od


def _moves(stick: Stick, made: list[int], n: int, lead: str, where: Machine) -> Iterator[Motion]:
    """Give both ends fed on from the bend made last and rolled; nothing where it is lifted out.

    The arc made last lies on the die, and it and the straight after it leave it as they are fed:
    no arc of more than the die's radius, up to half a turn, comes nearer to it on that way.
    """
    last = made[-1]
    if any(min(last, n) < m < max(last, n) for m in made):
        return
    things, half = [one.solid for one in where.obstacles], where.od / 2
    turned = radians(roll_before(stick, last, n, lead))
    far = max(
        stick.arc_from[n - 1] - stick.arc_to[last - 1],
        stick.arc_from[last - 1] - stick.arc_to[n - 1],
    )
    feed = Travel(X, np.zeros(3), (turned, turned), (far, 0.0))
    roll = Travel(X, np.zeros(3), (0.0, turned))
    for line, held in (
        (lead_line(stick, made, n, lead, where.side), where.clamp),
        (tail_line(stick, made, n, lead, where.side), where.follower),
    ):
        pieces = _pieces(line)
        bent = _bent(pieces)
        if not len(bent.rows):
            continue
        if turned:
            yield pieces.past(held), roll, things, half
            yield bent, roll, [where.die.solid], half
        if (n > last) == (lead == "A"):
            is_lead = held is where.clamp and line.along[0] < 0
            after = bent.beyond(1) if is_lead else bent
            yield (after.past(where.clamp) if is_lead else after), feed, things, half
            yield (after.past(inf) if is_lead else after), feed, [where.die.solid], half


def _pieces(line: Centreline) -> Pieces:
    way, rows, lengths = walk(line), [], []
    for i, leg in enumerate(line.legs):
        if leg > 0:
            rows.append([0.0, *way.nodes[2 * i], *way.directions[i], 0.0, 0.0, 0.0])
            lengths.append(leg)
        if i < len(line.angles):
            radius = line.radii[i]
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            rows.append([1 / radius, *way.centres[i], *spoke, *(radius * way.directions[i])])
            lengths.append(radius * radians(line.angles[i]))
    return Pieces(np.array(rows).reshape(-1, 10), np.array(lengths))


def _bent(pieces: Pieces) -> Pieces:
    """Leave out the first straight; of a line that has no bends, all."""
    return pieces.past(inf)


def _tail(pieces: Pieces) -> Tail:
    starts, ends, slack = [], [], 0.0
    for row, length in zip(pieces.rows, pieces.lengths, strict=True):
        chords = 1 if row[0] == 0 else CHORDS
        at = np.linspace(0, length, chords + 1)
        points = _on(np.broadcast_to(row, (chords + 1, 10)), at)
        starts.append(points[:-1])
        ends.append(points[1:])
        if row[0] != 0:
            slack = max(slack, (1 - cos(row[0] * length / chords / 2)) / row[0])
    nothing = np.empty((0, 3))
    return Tail(np.concatenate([nothing, *starts]), np.concatenate([nothing, *ends]), slack)


def _on(rows: Array, s: Array) -> Array:
    """Points of pieces, s mm from their starts."""
    turned, along = s * rows[:, 0], np.where(rows[:, 0] == 0, s, 0.0)
    bent = (rows[:, 0] != 0)[:, None]
    round_ = np.cos(turned)[:, None] * rows[:, 4:7] + np.sin(turned)[:, None] * rows[:, 7:10]
    points: Array = rows[:, 1:4] + np.where(bent, round_, along[:, None] * rows[:, 4:7])
    return points


def _clears(motion: Motion, wanted: float) -> bool | None:
    """Whether a line is certain to keep off things on all its way; None where that is not known."""
    pieces, travel, things, thick = motion
    told = [_keeps_off(pieces, travel, thing, thick + wanted) for thing in things]
    return False if False in told else None if None in told else True


def _keeps_off(pieces: Pieces, travel: Travel, thing: Thing, keep: float) -> bool | None:
    which: NDArray[np.int64] = np.arange(len(pieces.rows))
    low: Array = np.zeros(len(which))
    high, since, until = pieces.lengths.copy(), low.copy(), low + 1
    for _ in range(ROUNDS):
        if not len(which):
            return True
        s, hs, t, ht = (low + high) / 2, (high - low) / 2, (since + until) / 2, (until - since) / 2
        points = _on(pieces.rows[which], s) - travel.centre
        angles = travel.turns[0] + t * (travel.turns[1] - travel.turns[0])
        aside = norm(points - (points @ travel.axis)[:, None] * travel.axis)
        points = turn(points, travel.axis, angles) + travel.centre
        points[:, 0] += travel.shifts[0] + t * (travel.shifts[1] - travel.shifts[0])
        swept = abs(travel.turns[1] - travel.turns[0]) * (aside + hs)
        moved = ht * (swept + abs(travel.shifts[1] - travel.shifts[0]))
        gap = _distance(thing, points) - keep - travel.slack
        if (gap < 0).any():
            return False if (gap + 2 * travel.slack < -GIVE).any() else None
        kept = gap < hs + moved
        which, low, high, since, until = (
            which[kept],
            low[kept],
            high[kept],
            since[kept],
            until[kept],
        )
        along = hs[kept] >= moved[kept]
        middle, noon = (low + high) / 2, (since + until) / 2
        which, low = np.tile(which, 2), np.concatenate([low, np.where(along, middle, low)])
        high = np.concatenate([np.where(along, middle, high), high])
        since = np.concatenate([since, np.where(along, since, noon)])
        until = np.concatenate([np.where(along, until, noon), until])
        if len(which) > MOST_PARTS:
            return None
    return None if len(which) else True


def _distance(thing: Thing, points: Array) -> Array:
    """Signed distances of points to a thing; inside, no more than minus the depth."""
    if isinstance(thing, Tail):
        steps = thing.ends - thing.starts
        arms = points[:, None] - thing.starts
        share = np.clip((arms * steps).sum(-1) / (steps**2).sum(-1), 0.0, 1.0)
        apart = norm(arms - share[..., None] * steps)
        nearest: Array = apart.min(axis=1, initial=inf) - thing.slack
        return nearest
    if isinstance(thing, Ball):
        return np.asarray(norm(points - thing.at) - thing.diameter / 2)
    if isinstance(thing, Box):
        over = np.abs((points - thing.at) @ turn_matrix(thing.turn)) - np.array(thing.size) / 2
        return np.asarray(norm(np.maximum(over, 0)) + np.minimum(over.max(axis=1), 0))
    if isinstance(thing, Cylinder):
        start, end = np.array(thing.start), np.array(thing.end)
        axis = (end - start) / norm(end - start)
        arms = points - (start + end) / 2
        high = np.abs(arms @ axis) - norm(end - start) / 2
        out = norm(arms - (arms @ axis)[:, None] * axis) - thing.diameter / 2
        outside = np.hypot(np.maximum(out, 0), np.maximum(high, 0))
        return np.asarray(outside + np.minimum(np.maximum(out, high), 0))
    return np.asarray((points - thing.at) @ np.array(thing.normal))
