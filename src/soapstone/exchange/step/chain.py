"""Straights and bends put end to end: a tube's centreline."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.exchange.step.stretches import Stretch
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, signed_angle, unit

MEETING = 0.05
"""mm that two ends may be apart and still meet."""

ALIKE = 0.2
"""mm that the radius of a section may change from one stretch of a tube to the next."""

KINK = 0.5
"""Degrees that the tube may kink where two faces meet."""

BLURRED = 0.25
"""Diameters that the ends of fitted surfaces may be apart: the joint itself fits neither."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Stretches in the order of travel; `ways` whether each is gone from its low to its high end.

    `ring` says that the last meets the first.
    """

    stretches: tuple[Stretch, ...]
    ways: tuple[bool, ...]
    ring: bool = False


def chains(stretches: Sequence[Stretch]) -> list[Chain]:
    """Put stretches end to end as far as they go; each is in one chain."""
    partner = _partners(stretches)
    left = dict.fromkeys(range(len(stretches)))
    found = []
    while left:
        open_ends = [(i, high) for i in left for high in (False, True) if (i, high) not in partner]
        start = open_ends[0] if open_ends else (next(iter(left)), False)
        found.append(_followed(stretches, partner, start, left))
    return found


def _followed(
    stretches: Sequence[Stretch],
    partner: dict[tuple[int, bool], tuple[int, bool]],
    start: tuple[int, bool],
    left: dict[int, None],
) -> Chain:
    order, ways = [], []
    at: tuple[int, bool] | None = start
    while at is not None and at[0] in left:
        i, entered_high = at
        del left[i]
        order.append(stretches[i])
        ways.append(not entered_high)
        at = partner.get((i, not entered_high))
    return Chain(tuple(order), tuple(ways), ring=at is not None)


def _partners(stretches: Sequence[Stretch]) -> dict[tuple[int, bool], tuple[int, bool]]:
    """Give for each end the end that meets it: nearest first, each once."""
    ends = [(i, high) for i in range(len(stretches)) for high in (False, True)]
    if not ends:
        return {}
    found = [stretches[i].end(high) for i, high in ends]
    points, ways = np.array([p for p, _ in found]), np.array([w for _, w in found])
    apart = norm(points[:, None] - points[None])
    turned = np.degrees(norm(ways[:, None] + ways[None]))
    blurred = np.array([stretches[i].residual > 0 for i, _ in ends])
    size = np.array([2 * stretches[i].surface.radius for i, _ in ends])
    near = np.where(blurred[:, None] | blurred[None], BLURRED * size[:, None], MEETING)
    kink = np.where(blurred[:, None] | blurred[None], 10 * KINK, KINK)
    alike = np.abs(size[:, None] - size[None]) < 2 * ALIKE
    pairs = np.argwhere((apart < near) & (turned < kink) & alike)
    partner: dict[tuple[int, bool], tuple[int, bool]] = {}
    for a, b in sorted(pairs.tolist(), key=lambda pair: apart[pair[0], pair[1]]):
        one, other = ends[a], ends[b]
        if one[0] != other[0] and one not in partner and other not in partner:
            partner[one], partner[other] = other, one
    return partner


def centreline(chain: Chain) -> tuple[Centreline, float]:
    """Give a chain's centreline, and by how many mm the faces' ends miss it at most.

    A straight and a bend meet where the bend's centre is square to the straight, which is exact
    also where the faces' edges are not.
    """
    nodes = _nodes(chain)
    way = _Travel(nodes[0])
    for i, (stretch, forward) in enumerate(zip(chain.stretches, chain.ways, strict=True)):
        if stretch.surface.bend:
            way.bend(stretch, forward, nodes[i], nodes[i + 1])
        else:
            way.straight(nodes[i], nodes[i + 1])
    line = way.line()
    made = walk(line).nodes
    misses = [float(norm(made - node).min()) for node in nodes]
    return line, max(misses)


def _nodes(chain: Chain) -> list[Array]:
    """Points where the stretches start and end, one more than there are stretches."""
    ends = [
        (stretch.end(not forward)[0], stretch.end(forward)[0])
        for stretch, forward in zip(chain.stretches, chain.ways, strict=True)
    ]
    nodes = [ends[0][0]]
    for i in range(1, len(ends)):
        before, after = chain.stretches[i - 1].surface, chain.stretches[i].surface
        if bool(before.bend) != bool(after.bend):
            straight, bend = (after, before) if before.bend else (before, after)
            along = (bend.at - straight.at) @ straight.axis
            nodes.append(straight.at + along * straight.axis)
        else:
            nodes.append((ends[i - 1][1] + ends[i][0]) / 2)
    nodes.append(ends[-1][1])
    return nodes


class _Travel:
    """A centreline as it is travelled: what it has so far."""

    def __init__(self, start: Array) -> None:
        self._start = start
        self._legs = [0.0]
        self._angles: list[float] = []
        self._rotations: list[float] = []
        self._radii: list[float] = []
        self._along: Array | None = None
        self._direction: Array | None = None
        self._up: Array | None = None
        self._axis: Array | None = None

    def straight(self, start: Array, end: Array) -> None:
        """Go straight on."""
        self._legs[-1] += float(np.linalg.norm(end - start))
        self._direction = unit(end - start)
        self._along = self._direction if self._along is None else self._along

    def bend(self, stretch: Stretch, forward: bool, start: Array, end: Array) -> None:
        """Go round a bend."""
        known = stretch.surface
        axis = known.axis if forward else -known.axis
        spokes = [unit(at - known.at - ((at - known.at) @ axis) * axis) for at in (start, end)]
        direction = cross(axis, spokes[0])
        side = float(cross(axis, spokes[0]) @ spokes[1])
        angle = float(np.degrees(np.arctan2(side, spokes[0] @ spokes[1])))
        wide = np.degrees(stretch.high - stretch.low)
        angle += 360.0 if wide - angle > 180 else 0.0
        if self._along is None:
            self._along = direction
        if self._up is None:
            self._up = -spokes[0]
        turned = 0.0
        if self._axis is not None:
            seen = direction if self._direction is None else self._direction
            turned = float(signed_angle(_square(self._axis, seen), _square(axis, seen), seen))
        self._rotations.append(turned)
        self._angles.append(angle)
        self._radii.append(known.bend)
        self._legs.append(0.0)
        self._axis = axis
        self._direction = cross(axis, spokes[1])

    def line(self) -> Centreline:
        """Give the centreline travelled."""
        along = np.array([1.0, 0.0, 0.0]) if self._along is None else self._along
        up = any_perpendicular(along) if self._up is None else _square(self._up, along)
        return Centreline(
            vec(self._start),
            vec(along),
            vec(up),
            tuple(self._legs),
            tuple(self._angles),
            tuple(self._rotations),
            tuple(self._radii),
        )


def _square(vector: Array, along: Array) -> Array:
    return unit(vector - (vector @ along) * along)
