"""What the handling of a tube costs, bend by bend, whatever it may hit."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, radians

import numpy as np

from soapstone.bend.machine import Machine
from soapstone.bend.pose import Stick
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, cross, norm

HAIR = 1e-6
"""mm that no tape shows."""

State = tuple[int, str]
"""A bend, counted from 1 at the A end, and the end that leads, "A" or "B"."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What handling costs, in any one unit.

    Attributes
    ----------
    turned
        End for end.
    lifted
        Out of the die, since it cannot be fed and rolled there.
    past, back
        Carried past a neighbouring bend; carried back toward the lead end.
    awkward
        A roll that is not 0, 90 or 180 degrees.
    rolled
        For each 90 degrees that the tube is rolled.
    swung
        For each metre that the farthest point of the lead travels as the die turns.
    craned
        For each metre that the tail reaches off its own axis, about which it would fall round.
    astray
        For each mm that the ends stand off from each other when a bend's roll is one standard
        deviation off; see `astray_mm`.
    led_by_b
        So that A leads where all else is the same.
    """

    turned: float = 10.0
    lifted: float = 5.0
    past: float = 3.0
    back: float = 2.0
    awkward: float = 0.5
    rolled: float = 0.25
    swung: float = 0.1
    craned: float = 0.2
    astray: float = 0.05
    led_by_b: float = 0.01


USUAL = Weights()


def states_of(bends: int) -> list[State]:
    """Give every bend with either end leading; 2 (n - 1), + 1 when B leads."""
    return [(n, lead) for n in range(1, bends + 1) for lead in "AB"]


def move_cost(stick: Stick, before: State, after: State, weights: Weights = USUAL) -> float:
    """What it costs to go from one bend to the next, rolled the short way round."""
    step, cost = after[0] - before[0], 0.0
    if abs(step) != 1:
        cost += weights.past
    if (step > 0) != (after[1] == "A"):
        cost += weights.back
    turned = sum(stick.rotations[min(before[0], after[0]) : max(before[0], after[0])])
    if abs((turned + 45) % 90 - 45) > 0.05:
        cost += weights.awkward
    if before[1] != after[1]:
        return cost + weights.turned
    return cost + weights.rolled * abs((turned + 180) % 360 - 180) / 90


def has_straight(
    stick: Stick, made: Iterable[int], n: int, lead: str, clamp: float, follower: float
) -> bool:
    """Whether clamp and follower find straight; at the ends it is there, since grip is added."""
    toward_a = max((m for m in made if m < n), default=0)
    toward_b = min((m for m in made if m > n), default=0)
    a, b = (clamp, follower) if lead == "A" else (follower, clamp)
    short_a = toward_a and stick.arc_from[n - 1] - stick.arc_to[toward_a - 1] < a - HAIR
    short_b = toward_b and stick.arc_from[toward_b - 1] - stick.arc_to[n - 1] < b - HAIR
    return not (short_a or short_b)


def astray_mm(stick: Stick) -> Array:
    """How far in mm the B end moves, seen from the A end, for each bend alone rolled 1 degree off.

    Each roll is set by itself, by a level or a band, so that its error turns the one bend, about
    the straights before and after it, and the errors of others leave it be. To first order.
    """
    starts, ends = np.array(stick.arc_from), np.array(stick.arc_to)
    legs = np.append(starts, stick.stock) - np.append(0.0, ends)
    line = Centreline(
        start=(0.0, 0.0, 0.0),
        along=(0.0, 0.0, 1.0),
        up=(1.0, 0.0, 0.0),
        legs=tuple(legs.tolist()),
        angles=stick.angles,
        rotations=stick.rotations,
        radii=stick.radii,
    )
    way = walk(line)
    arms = way.nodes[-1] - way.nodes[1:-1]
    before = cross(way.directions[:-1], arms[0::2])
    after = cross(way.directions[1:], arms[1::2])
    moved: Array = radians(1.0) * norm(before - after)
    return moved


def step_costs(stick: Stick, where: Machine, table: Array, weights: Weights = USUAL) -> Array:
    """What making a bend costs by itself: (sets of bends made, state); infinite without straight.

    `table` is that of `ends.look_of_ends`.
    """
    bends = len(stick.angles)
    sets, costs = np.arange(2**bends), room_costs(stick, where)
    astray = astray_mm(stick)
    for i, (number, lead) in enumerate(states_of(bends)):
        n = number - 1
        sides = (1 << n) | (sets & ((1 << n) - 1)), (1 << (bends - 1 - n)) | (sets >> (n + 1))
        end = 0 if lead == "A" else 1
        ahead, behind = table[0, end, sides[end]], table[1, 1 - end, sides[1 - end]]
        travel = ahead[:, 0] * radians(stick.loaded[n]) / 1000
        costs[:, i] += weights.swung * travel + weights.craned * behind[:, 0] / 1000
        costs[:, i] += weights.astray * astray[n] * _spread(ahead, behind, where)
        costs[0, i] -= weights.astray * astray[n] * where.band_spread  # no roll before the first
        costs[:, i] += weights.led_by_b * (lead == "B")
    return costs


def _spread(ahead: Array, behind: Array, where: Machine) -> Array:
    """Standard deviation in degrees of a roll set by the better of two levels, or by the band."""
    better = np.where(ahead[:, 1] >= behind[:, 1], ahead[:, 2], behind[:, 2])
    spread: Array = np.minimum(where.band_spread, where.level_spread / np.maximum(better, 1e-3))
    return spread


def room_costs(stick: Stick, where: Machine) -> Array:
    """0 where clamp and follower find straight, else infinite: (sets of bends made, state)."""
    bends = len(stick.angles)
    sets = np.arange(2**bends)
    costs = np.full((2**bends, 2 * bends), inf)
    for i, (n, lead) in enumerate(states_of(bends)):
        room = np.zeros((n, bends - n + 1), dtype=bool)
        for a in range(n):
            for b in range(n + 1, bends + 2):
                beside = [m for m in (a, b) if 1 <= m <= bends]
                room[a, b - n - 1] = has_straight(
                    stick, beside, n, lead, where.clamp, where.follower
                )
        near_a, near_b = np.zeros_like(sets), np.full_like(sets, bends + 1)
        for m in range(1, n):
            near_a = np.where(sets >> (m - 1) & 1, m, near_a)
        for m in range(bends, n, -1):
            near_b = np.where(sets >> (m - 1) & 1, m, near_b)
        free = room[near_a, near_b - n - 1] & (sets >> (n - 1) & 1 == 0)
        costs[:, i] = np.where(free, 0.0, inf)
    return costs
