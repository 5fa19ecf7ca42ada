"""What can still be changed on a tube half made, and the limits it must stay within.

The unknowns of a tube of n bends stand in one array (2 + 3 n), in mm and degrees:

    cut A, cut B, places (n), angles (n), planes (n)

places, angles and planes as in `facts.Facts`. Where an arc begins and ends on the stick and how
long the straights are is linear in them, so all that clamp, follower, stick and bender ask for is
a set of linear limits.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array
from soapstone.plan.rescue.facts import Facts, stock_of

Flags: TypeAlias = npt.NDArray[np.bool_]

LEAST_ANGLE = 1.0
"""Degrees: a bend still to be made is not made less than this (common practice)."""


@dataclass(frozen=True, slots=True)
class Unknowns:
    """The unknowns of one rescue.

    `drawn` (m) are their values as planned, with the facts in place; `movable` says which may
    change. `begins`, `ends` (n, m + 1) and `legs` (n + 1, m + 1) give, of (unknowns, 1), where
    each arc begins and ends on the stick and the length of each straight. `limits` (k, m) must be
    at least `least` (k).
    """

    facts: Facts
    drawn: Array
    movable: Array
    begins: Array
    ends: Array
    legs: Array
    limits: Array
    least: Array

    def held(self, values: Array) -> Array:
        """Degrees on the die of each bend, (n)."""
        facts = self.facts
        grown = angles(values) - facts.angles
        return facts.held + (1 + facts.setup.calibration.springback) * grown


def places(values: Array) -> Array:
    """Where the bends begin, at their lead ends, (n) of the unknowns."""
    return values[2 : 2 + len(values) // 3]


def angles(values: Array) -> Array:
    """Angles after release, (n) of the unknowns."""
    count = len(values) // 3
    return values[2 + count : 2 + 2 * count]


def planes(values: Array) -> Array:
    """How far the bends' planes are turned, (n) of the unknowns."""
    return values[2 + 2 * (len(values) // 3) :]


def unknowns_of(facts: Facts, further: Iterable[int]) -> Unknowns:
    """Set up the unknowns; `further` are indices of bends made that may be taken further."""
    count, plan = len(facts.angles), facts.plan
    cuts = {cut.end: cut.mark for cut in plan.cuts}
    drawn = np.concatenate(
        ([cuts["A"], min(cuts["B"], facts.stick)], facts.places, facts.angles, facts.planes)
    )
    rest = [i for i in facts.order if i not in facts.made_at]
    again = [i for i in facts.made_at if i in set(further)]
    movable = np.zeros(len(drawn), dtype=bool)
    movable[:2] = True
    for i in rest:
        movable[2 + i :: count] = True
    movable[[2 + count + i for i in again]] = True
    begins, ends, legs = _on_the_stick(facts)
    rows = _Rows(len(drawn) + 1)
    _tube_limits(rows, facts, begins, ends)
    for place, i in enumerate([*again, *rest]):
        made = {*facts.made_at, *again[:place], *rest[: max(place - len(again), 0)]} - {i}
        _bending_limits(rows, facts, i, made, begins, ends)
        _angle_limits(rows, facts, i, again=i in again)
    limits, least = rows.kept(movable, _as_planned(facts))
    return Unknowns(facts, drawn, movable, begins, ends, legs, limits, least)


def can_go_further(facts: Facts, i: int) -> bool:
    """Tell whether a bend made finds straight for clamp and follower once more."""
    begins, ends, _ = _on_the_stick(facts)
    now = np.concatenate(([0.0, facts.stick], facts.places, facts.angles, facts.planes, [1.0]))
    rows = _Rows(len(now))
    _bending_limits(rows, facts, i, set(facts.made_at) - {i}, begins, ends)
    most = facts.setup.max_angle - float(facts.held[i])
    return most > 0 and all(row @ now >= -1e-6 for row in rows.rows)


def _on_the_stick(facts: Facts) -> tuple[Array, Array, Array]:
    """Rows that give where arcs begin and end and how long the straights are."""
    count, setup = len(facts.angles), facts.setup
    size = 2 + 3 * count + 1
    used = np.zeros((count, size))
    per_degree = float(stock_of(setup, np.array(1 + setup.calibration.springback)))
    at = np.arange(count)
    used[at, 2 + count + at] = per_degree
    used[:, -1] = stock_of(setup, facts.held) - per_degree * facts.angles
    place = np.zeros((count, size))
    place[at, 2 + at] = 1
    from_a = (facts.toward > 0)[:, None]
    begins, ends = np.where(from_a, place, place - used), np.where(from_a, place + used, place)
    cut_a, cut_b = np.eye(2, size)
    legs = np.vstack((begins, cut_b[None])) - np.vstack((cut_a[None], ends))
    return begins, ends, legs


class _Rows:
    """Rows (m + 1) that must come out at nothing or more with (unknowns, 1)."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.rows: list[Array] = []
        self.firm: list[bool] = []

    def at_least(self, row: Array, least: float, *, firm: bool = False) -> None:
        """Add a limit; one that is not firm need not be kept better than the plan itself does."""
        kept = row.copy()
        kept[-1] -= least
        self.rows.append(kept)
        self.firm.append(firm)

    def unit(self, column: int) -> Array:
        """Row of one unknown alone."""
        row = np.zeros(self.size)
        row[column] = 1.0
        return row

    def constant(self, value: float) -> Array:
        """Row of a number."""
        return value * self.unit(-1)

    def kept(self, movable: Array, planned: Array) -> tuple[Array, Array]:
        """Give the limits on what is movable."""
        rows, firm = np.array(self.rows).reshape(-1, self.size), np.array(self.firm, dtype=bool)
        broken = np.minimum(rows @ np.append(planned, 1.0), 0.0)
        rows[:, -1] -= np.where(firm, 0.0, broken)
        rows = rows[np.any(rows[:, :-1][:, movable] != 0, axis=1)]
        return rows[:, :-1], -rows[:, -1]


def _as_planned(facts: Facts) -> Array:
    """The unknowns of the plan itself, as if nothing had gone wrong."""
    plan = facts.plan
    steps = sorted(plan.bends, key=lambda step: step.n)
    cuts = {cut.end: cut.mark for cut in plan.cuts}
    begun = [step.arc_from if step.lead == "A" else step.arc_to for step in steps]
    turned = np.cumsum(np.array(plan.shape.rotations, dtype=float))
    return np.array([cuts["A"], cuts["B"], *begun, *plan.shape.angles, *turned], dtype=float)


def _tube_limits(rows: _Rows, facts: Facts, begins: Array, ends: Array) -> None:
    """The cuts lie on the stick, and everything follows on everything."""
    cut_a, cut_b = rows.unit(0), rows.unit(1)
    rows.at_least(cut_a, 0.0, firm=True)
    rows.at_least(-cut_b, -facts.stick, firm=True)
    after, before = np.vstack((begins, cut_b[None])), np.vstack((cut_a[None], ends))
    for row in after - before:
        rows.at_least(row, 0.0, firm=True)


def _bending_limits(
    rows: _Rows, facts: Facts, i: int, made: set[int], begins: Array, ends: Array
) -> None:
    """Ask for straight ahead of bend i and behind it, and for its mark to lie on the stick."""
    setup, from_a = facts.setup, facts.toward[i] > 0
    at_a, at_b = (setup.clamp, setup.follower) if from_a else (setup.follower, setup.clamp)
    below, above = [j for j in made if j < i], [j for j in made if j > i]
    rows.at_least(begins[i] - (ends[max(below)] if below else 0.0), at_a)
    rows.at_least((begins[min(above)] if above else rows.constant(facts.stick)) - ends[i], at_b)
    mark = rows.unit(2 + i)
    mark[-1] -= facts.toward[i] * setup.mark_offset
    rows.at_least(mark, 0.0)
    rows.at_least(-mark, -facts.stick)


def _angle_limits(rows: _Rows, facts: Facts, i: int, *, again: bool) -> None:
    """No bend is taken back, none is made that is hardly one, and the bender has an end."""
    angle = rows.unit(2 + len(facts.angles) + i)
    rows.at_least(angle, float(facts.angles[i]) if again else LEAST_ANGLE, firm=again)
    most = _most(facts.setup, float(facts.angles[i]), float(facts.held[i]))
    rows.at_least(-angle, -most, firm=again)


def _most(setup: Setup, angle: float, held: float) -> float:
    """The widest angle after release that the bender reaches."""
    return angle + (setup.max_angle - held) / (1 + setup.calibration.springback)
