"""Tubes laid into one another so that one small box holds them all.

A search, not a proof: the largest tube lies in its own smallest box; each further one is tried in
the 24 ways its box can lie, slid in from each side until it touches, and the best is then shifted
and turned a little while that helps. What is proven: the tubes do not touch (the distance of their
chords less what arcs bulge beyond them), and no box of that packing is much smaller.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.geometry.chords import Chords, chords_of, joined_chords, least_gap, moved_chords
from soapstone.geometry.reach import Body, Rod, body_of, far, moved, together
from soapstone.geometry.vectors import Array, Vec3, cross
from soapstone.yard.smallest_box import (
    GOOD_ENOUGH,
    SWAPS,
    SmallestBox,
    box_along,
    smallest_box,
    turns_of,
)

APART = 2.0
"""mm kept between tubes, for paper."""

MOST_NESTED = 8
"""Tubes laid into one another; any more are laid beside them, box by box."""

ROUGH = 2e-2
"""How near the least the boxes of so many tubes are proven to be."""

TRIES = 48
"""Ways to slide a tube in that are followed to the end at a time, the most promising first."""

ROUNDS = 6
_ORIGIN: Vec3 = (0.0, 0.0, 0.0)
_X: Vec3 = (1.0, 0.0, 0.0)
_Y: Vec3 = (0.0, 1.0, 0.0)
SLIDES = 60
FINE = 0.3
"""mm: steps shorter than this are not worth making."""

TRIMS = 60


@dataclass(frozen=True, slots=True)
class _Laid:
    """A tube (or tubes) about its own middle: how it reaches, and its chords."""

    body: Body
    chords: Chords


@dataclass(frozen=True, slots=True)
class Packed:
    """Tubes in one box: the box, and the turn (3, 3) and shift (3,) of each tube, as given.

    `alone` are the boxes of the tubes each by itself. `gap` is what the surfaces of the tubes
    surely keep from each other in mm, infinite for one.
    """

    box: SmallestBox
    alone: tuple[SmallestBox, ...]
    poses: tuple[tuple[Array, Array], ...]
    gap: float


def pack_together(rods: Sequence[Rod]) -> Packed:
    """Lay tubes into one another and give the smallest box about them."""
    good = GOOD_ENOUGH if len(rods) <= MOST_NESTED else ROUGH
    alone = _boxes_alone(rods, good)
    order = sorted(range(len(rods)), key=lambda i: -alone[i].volume)
    tubes = [_upright(rods[i], alone[i]) for i in order]
    group, gap = tubes[0], np.inf
    where = {order[0]: (alone[order[0]].axes, -alone[order[0]].axes @ alone[order[0]].centre)}
    for n, (i, tube) in enumerate(zip(order[1:], tubes[1:], strict=True), 1):
        turn, shift = _beside(group, tube) if n >= MOST_NESTED else _insert(group, tube)
        laid = _at(tube, turn, shift)
        chords = laid.chords
        found = least_gap(group.chords, chords.starts[None], chords.ends[None], chords.around)
        gap = min(gap, float(found[0]))
        own = alone[i]
        where[i] = (turn @ own.axes, shift - turn @ own.axes @ own.centre)
        group = _Laid(together([group.body, laid.body]), joined_chords([group.chords, laid.chords]))
    box = alone[0] if len(rods) == 1 else smallest_box(group.body, good)
    return Packed(box, tuple(alone), tuple(where[i] for i in range(len(rods))), gap)


def _boxes_alone(rods: Sequence[Rod], good: float) -> list[SmallestBox]:
    """Give the smallest box of each tube; tubes of one shape are searched once."""
    known: dict[Rod, SmallestBox] = {}
    boxes = []
    for line, od in rods:
        plain = (replace(line, start=_ORIGIN, along=_X, up=_Y), od)
        if plain not in known:
            known[plain] = smallest_box(body_of([plain]), good)
        box, along, up = known[plain], np.array(line.along), np.array(line.up)
        own = np.stack((along, up, cross(along, up)))
        boxes.append(replace(box, axes=box.axes @ own, centre=box.centre @ own + line.start))
    return boxes


def _upright(rod: Rod, box: SmallestBox) -> _Laid:
    """Lay a tube in its own smallest box, the longest edge along x, its middle at the origin."""
    shift = -box.axes @ box.centre
    return _Laid(
        moved(body_of([rod]), box.axes, shift), moved_chords(chords_of(*rod), box.axes, shift)
    )


def _at(laid: _Laid, turn: Array, shift: Array) -> _Laid:
    return _Laid(moved(laid.body, turn, shift), moved_chords(laid.chords, turn, shift))


def _limits(laid: _Laid) -> tuple[Array, Array]:
    return box_along(laid.body, np.eye(3))


def _beside(group: _Laid, tube: _Laid) -> tuple[Array, Array]:
    """Lay a tube's box onto the group's, on the side where the box about both is smallest."""
    low, high = _limits(group)
    own_low, own_high = _limits(tube)
    best, least = np.zeros(3), np.inf
    for side in range(3):
        shift = (low + high - own_low - own_high) / 2
        shift[side] = high[side] - own_low[side] + APART
        both = np.maximum(high, own_high + shift) - np.minimum(low, own_low + shift)
        weight = float(_worth(both[None])[0])
        if weight < least:
            best, least = shift, weight
    return np.eye(3), best


def _insert(group: _Laid, tube: _Laid) -> tuple[Array, Array]:
    """Find how a tube lies best in or on the group: its turn and shift."""
    turn, shift = _beside(group, tube)
    least = float(_weights(group, tube, turn[None], shift[None])[0])
    turns, shifts, ways = _slides(group, tube)
    ideal = _weights(group, tube, turns, shifts)
    order = np.argsort(ideal, kind="stable")[: ROUNDS * TRIES]
    for first in range(0, len(order), TRIES):
        some = order[first : first + TRIES]
        some = some[ideal[some] < least]
        if not len(some):
            break
        stopped = _slid_in(group, tube, turns[some], shifts[some], ways[some])
        found = _weights(group, tube, turns[some], stopped)
        i = int(found.argmin())
        if found[i] < least:
            turn, shift, least = turns[some[i]], stopped[i], float(found[i])
    return _trimmed(group, tube, turn, shift, least)


def _slides(group: _Laid, tube: _Laid) -> tuple[Array, Array, Array]:
    """Give every way to slide a tube in: turns, where its middle would best end, and from where."""
    low, high = _limits(group)
    thick = 2 * float(max(group.body.radius.max(), tube.body.radius.max())) + 2 * APART
    turns, shifts, ways = [], [], []
    for turn in SWAPS:
        own_low, own_high = box_along(tube.body, turn.T)
        near, distant = low - own_low, high - own_high
        places = [_aside(near[k], distant[k], thick) for k in range(3)]
        for along in range(3):
            u, v = (along + 1) % 3, (along + 2) % 3
            for a in places[u]:
                for b in places[v]:
                    for side, end in ((1.0, near[along]), (-1.0, distant[along])):
                        shift, way = np.zeros(3), np.zeros(3)
                        shift[[along, u, v]] = end, a, b
                        way[along] = side
                        turns.append(turn)
                        shifts.append(shift)
                        ways.append(way)
    return np.array(turns), np.array(shifts), np.array(ways)


def _aside(near: float, distant: float, thick: float) -> tuple[float, ...]:
    """Give the shifts to try: flush with either side, in the middle, and a tube's width off."""
    return near, near + thick, (near + distant) / 2, distant - thick, distant


def _weights(group: _Laid, tube: _Laid, turns: Array, shifts: Array) -> Array:
    """What the boxes (k,) along x, y and z about the group and the tube in k poses weigh."""
    low, high = _limits(group)
    axes = np.swapaxes(turns, 1, 2)  # a turned tube reaches along e as the tube along turn^T e
    rows = np.swapaxes(axes, 1, 2)
    most = far(tube.body, rows) + shifts
    least = shifts - far(tube.body, -rows)
    return _worth(np.maximum(high, most) - np.minimum(low, least))


def _worth(edges: Array) -> Array:
    """Weigh boxes (k, 3): volume times length plus girth, since carriers charge by both."""
    worth: Array = edges.prod(axis=1) * (2 * edges.sum(axis=1) - edges.max(axis=1))
    return worth


def _gaps(group: _Laid, tube: _Laid, turns: Array, shifts: Array) -> Array:
    chords = tube.chords
    starts = np.einsum("kij,mj->kmi", turns, chords.starts) + shifts[:, None]
    ends = np.einsum("kij,mj->kmi", turns, chords.ends) + shifts[:, None]
    return least_gap(group.chords, starts, ends, chords.around)


def _slid_in(group: _Laid, tube: _Laid, turns: Array, shifts: Array, ways: Array) -> Array:
    """Slide k poses from outside toward `shifts` until they touch.

    A step is the gap there is, or a third of the tube's width where it slides along another; none
    is long enough to come out on the other side of a tube.
    """
    low, high = _limits(group)
    left = np.full(len(shifts), float((high - low).sum()) + _edges(tube))
    stride = np.full(len(shifts), 2 * tube.body.radius.max() / 3)
    free = _gaps(group, tube, turns, shifts + left[:, None] * ways) - APART
    moving = np.arange(len(shifts))
    for _ in range(SLIDES):
        step = np.minimum(np.maximum(free[moving], stride[moving]), left[moving])
        tried = left[moving] - step
        at = shifts[moving] + tried[:, None] * ways[moving]
        found = _gaps(group, tube, turns[moving], at) - APART
        clear, stopped = moving[found >= 0], moving[found < 0]
        left[clear], free[clear] = tried[found >= 0], found[found >= 0]
        stride[stopped] = np.minimum(stride[stopped], step[found < 0]) / 4
        moving = moving[(stride[moving] > FINE) & (left[moving] > 0)]
        if not len(moving):
            break
    return shifts + left[:, None] * ways


def _edges(tube: _Laid) -> float:
    """Give the sum of the edges of a tube's box, mm."""
    low, high = _limits(tube)
    return float((high - low).sum())


def _trimmed(
    group: _Laid, tube: _Laid, turn: Array, shift: Array, least: float
) -> tuple[Array, Array]:
    """Shift and turn a tube a little while the box gets smaller and nothing touches."""
    step, slew = 25.0, 0.04
    moves = np.concatenate((np.eye(6), -np.eye(6), _slants()))
    for _ in range(TRIMS):
        turns = turns_of(slew * moves[:, 3:]) @ turn
        shifts = shift + step * moves[:, :3]
        volumes = _weights(group, tube, turns, shifts)
        better = np.flatnonzero(volumes < least * (1 - 1e-6))
        better = better[np.argsort(volumes[better], kind="stable")]
        free = better[_gaps(group, tube, turns[better], shifts[better]) >= APART]
        if len(free):
            turn, shift, least = turns[free[0]], shifts[free[0]], float(volumes[free[0]])
        else:
            step, slew = step / 2, slew / 2
        if step < FINE:
            break
    return turn, shift


def _slants() -> Array:
    """Give moves that shift and turn at once, spread the same way every time."""
    rng = np.random.default_rng(7)
    moves = rng.normal(size=(24, 6))
    unit_moves: Array = moves / np.linalg.norm(moves, axis=1, keepdims=True)
    return unit_moves
