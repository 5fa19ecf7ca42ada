"""A manual rotary-draw bender in numbers, to find out whether a plan makes the part.

It is written from the file format alone and shares no code with the package, so that an error of
thought in the planner cannot hide here as well. It does what a fabricator does, one thing after
another, and never solves anything backwards: slide the tube until the mark lies at the die's index
line, roll it, turn the dial, let it spring, and saw it off at the end.

Machine frame: origin on the tube's centreline where the bend starts, x toward the tail, z up. Seen
from the tail looking at the die (along -x) left is -y and right is +y, and a positive (clockwise)
roll is a right-hand turn about -x. Millimetres and degrees.

Stock coordinates are readings of a tape laid along the straight stock from its A end. Metal keeps
its stock coordinate whatever is done to it.

What the file format leaves open is settled here so:

* A tube fed past a bend that is already made slides through the machine without rolling: it turns
  only as much as that bend forces it to. `roll` comes on top of that.
* A tube that changes its lead end is turned end for end about the die's own axis (flat on the
  table of a horizontal die), before `roll` is applied. `Bender.turned_about` can say "vertical"
  instead: that differs for a die that turns in a vertical plane.
* The dial stands at `dial_zero` while the die has not moved yet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
End = Literal["A", "B"]

X = np.array([1.0, 0.0, 0.0])
Z = np.array([0.0, 0.0, 1.0])
SIDES: Mapping[str, Array] = {
    "left": np.array([0.0, -1.0, 0.0]),
    "right": np.array([0.0, 1.0, 0.0]),
    "up": Z,
    "down": -Z,
}
PLANES = {"horizontal": ("left", "right"), "vertical": ("up", "down")}
ON_THE_LINE = 1e-6  # mm: two places closer than this are one place


def cross(a: Array, b: Array) -> Array:
    """Right-handed vector product; written out because numpy's is slow on three numbers."""
    return np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )


class CannotBendError(Exception):
    """What the machine was told to do cannot be done with this tube."""


@dataclass(frozen=True)
class Bender:
    """The machine: plane and side of the swing, degrees of ram stroke (0: no limit)."""

    swing: str = "left"
    plane: str = "horizontal"
    stroke: float = 0.0
    turned_about: str = "die"

    @property
    def side(self) -> Array:
        """Unit vector from the tube toward the die's centre."""
        if self.swing not in PLANES[self.plane]:
            raise ValueError(f"a {self.plane} die cannot swing {self.swing}")
        return SIDES[self.swing]

    @property
    def die_axis(self) -> Array:
        """Axis about which a right-hand turn swings the lead end."""
        return cross(-X, self.side)


@dataclass(frozen=True)
class Die:
    """One die set with the tube it is used on, as it truly behaves."""

    clr: float
    mark_offset: float = 0.0
    clamp: float = 0.0
    follower: float = 0.0
    springback: float = 0.0
    dial_zero: float = 0.0
    stretch: float = 0.0


@dataclass(frozen=True)
class Step:
    """What the fabricator does for one bend; `n` is the bend's number from the A end."""

    n: int
    lead: End
    mark: float
    roll: float
    dial: float


@dataclass(frozen=True)
class Piece:
    """A straight (radius 0) or an arc of the tube, travelled from A to B.

    `start` and `along` are the place and the direction where it begins, `axis` the right-hand axis
    of the arc's turn of `angle` degrees, `n` the number of the bend (0 for a straight).
    """

    stock_from: float
    stock_to: float
    start: Array
    along: Array
    axis: Array
    angle: float = 0.0
    radius: float = 0.0
    n: int = 0

    @property
    def stock(self) -> float:
        return self.stock_to - self.stock_from

    def at(self, part: float) -> tuple[Array, Array]:
        """Place and direction at the fraction `part` of the piece."""
        if not self.n:
            return self.start + part * self.stock * self.along, self.along
        turned = rotation(self.axis, part * self.angle)
        centre = self.start + self.radius * cross(self.axis, self.along)
        return centre + turned @ (self.start - centre), turned @ self.along

    def moved(self, turned: Array, shift: Array) -> Piece:
        return replace(
            self,
            start=turned @ self.start + shift,
            along=turned @ self.along,
            axis=turned @ self.axis,
        )


@dataclass(frozen=True)
class Tube:
    """The tube as it lies in the machine.

    Metal with the stock coordinate `at` is at the origin with its axis along x, and the end `lead`
    is the one on the die's side.
    """

    pieces: tuple[Piece, ...]
    lead: End
    at: float

    @property
    def stock(self) -> float:
        return self.pieces[-1].stock_to

    def moved(self, turned: Array, shift: Array | None = None) -> Tube:
        by = np.zeros(3) if shift is None else shift
        return replace(self, pieces=tuple(piece.moved(turned, by) for piece in self.pieces))

    @property
    def made(self) -> tuple[int, ...]:
        """Numbers of the bends made so far, from the A end."""
        return tuple(piece.n for piece in self.pieces if piece.n)


@dataclass(frozen=True)
class Room:
    """Straight found ahead of a bend (clamp) and behind it (follower), mm."""

    ahead: float
    behind: float


@dataclass(frozen=True)
class Rolled:
    """A step frozen after the roll and before the die moves.

    `slopes` are the degrees above (positive) or below the horizontal of each straight that does not
    lie in the machine's line, by number of leg, seen from its A side to its B side. `keenness` is
    how many degrees that reading changes, at best, for each degree of roll.
    """

    step: Step
    room: Room
    slopes: Mapping[int, float]
    keenness: Mapping[int, float]


@dataclass(frozen=True)
class Part:
    """The part as sawn off: pieces from A to B, straights and arcs in turn."""

    pieces: tuple[Piece, ...]

    @property
    def legs(self) -> list[float]:
        return [piece.stock for piece in self.pieces[::2]]

    @property
    def angles(self) -> list[float]:
        return [piece.angle for piece in self.pieces[1::2]]

    @property
    def radii(self) -> list[float]:
        return [piece.radius for piece in self.pieces[1::2]]

    @property
    def rotations(self) -> list[float]:
        """Right-hand angle about the travel from the axis before to this one; the first is 0."""
        arcs = self.pieces[1::2]
        turns = [0.0]
        for before, after in pairwise(arcs):
            # The axis before does not change along its own arc.
            across = cross(before.axis, after.axis) @ after.along
            turns.append(float(np.degrees(np.arctan2(across, before.axis @ after.axis))))
        return turns[: len(arcs)]

    @property
    def ends(self) -> tuple[Array, Array]:
        return self.pieces[0].start, self.pieces[-1].at(1.0)[0]

    @property
    def corners(self) -> Array:
        """The ends and, between them, where the centrelines of neighbouring legs meet."""
        a_end, b_end = self.ends
        meet = [
            arc.start + arc.radius * np.tan(np.radians(arc.angle) / 2) * arc.along
            for arc in self.pieces[1::2]
        ]
        return np.array([a_end, *meet, b_end])

    @property
    def stations(self) -> Array:
        """The ends and, of each bend, its beginning, middle and end."""
        a_end, b_end = self.ends
        on_arcs = [arc.at(part)[0] for arc in self.pieces[1::2] for part in (0.0, 0.5, 1.0)]
        return np.array([a_end, *on_arcs, b_end])

    def moved(self, turned: Array, shift: Array) -> Part:
        return Part(tuple(piece.moved(turned, shift) for piece in self.pieces))

    def put_on(self, at: Array, along: Array, axis: Array) -> Part:
        """The part laid down by its A end alone: place, direction and first bend's axis."""
        first, bend = self.pieces[0], self.pieces[1]
        here = np.column_stack([first.along, bend.axis, cross(first.along, bend.axis)])
        there = np.column_stack([along, axis, cross(along, axis)])
        turned = there @ here.T
        return self.moved(turned, at - turned @ first.start)


# --- what the fabricator does ---------------------------------------------------------------------


def rotation(axis: Array, degrees: float) -> Array:
    """Matrix of a right-hand turn about the unit vector `axis`."""
    rad = np.radians(degrees)
    skew = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
    return np.asarray(np.eye(3) + np.sin(rad) * skew + (1.0 - np.cos(rad)) * (skew @ skew))


def blank(stock: float) -> Tube:
    """Straight stock laid in the machine, its A end leading and at the origin."""
    return Tube((Piece(0.0, stock, np.zeros(3), X, np.zeros(3)),), "A", 0.0)


def turned_end_for_end(tube: Tube, bender: Bender) -> Tube:
    """The tube with its other end leading."""
    axis = bender.die_axis if bender.turned_about == "die" else Z
    other: End = "B" if tube.lead == "A" else "A"
    return replace(tube.moved(rotation(axis, 180.0)), lead=other)


def straight_holding(tube: Tube, low: float, high: float) -> int:
    """Index of the straight that holds the stock from `low` to `high`."""
    for index, piece in enumerate(tube.pieces):
        inside = piece.stock_from - ON_THE_LINE <= low and high <= piece.stock_to + ON_THE_LINE
        if inside and not piece.n:
            return index
    raise CannotBendError(f"stock {low:.3f}..{high:.3f} is not one straight of the tube")


def slid(tube: Tube, stock_at: float) -> Tube:
    """The tube slid without rolling until that stock coordinate is at the origin."""
    now = straight_holding(tube, tube.at, tube.at)
    then = straight_holding(tube, stock_at, stock_at)
    turned = np.eye(3)  # from the tube's frame where it is held now to its frame where it will be
    for arc in tube.pieces[now:then]:
        turned = rotation(arc.axis, arc.angle) @ turned
    for arc in reversed(tube.pieces[then:now]):
        turned = rotation(arc.axis, -arc.angle) @ turned
    piece = tube.pieces[then]
    place = piece.start + (stock_at - piece.stock_from) * piece.along
    return replace(tube.moved(turned.T, -turned.T @ place), at=stock_at)


def rolled(tube: Tube, roll: float) -> Tube:
    """The tube turned about itself, clockwise seen from the tail looking at the die."""
    return tube.moved(rotation(-X, roll))


def room(tube: Tube, stock_used: float) -> Room:
    """Straight ahead of the place at the origin, and behind the stock the bend will use."""
    toward_tail = 1.0 if tube.lead == "A" else -1.0
    behind_bend = tube.at + toward_tail * stock_used
    index = straight_holding(tube, *sorted((tube.at, behind_bend)))
    piece = tube.pieces[index]
    if tube.lead == "A":
        return Room(tube.at - piece.stock_from, piece.stock_to - behind_bend)
    return Room(piece.stock_to - tube.at, behind_bend - piece.stock_from)


def stock_used(die: Die, dial: float) -> float:
    """Stock a bend taken to that dial reading uses up, mm."""
    return float((1.0 - die.stretch) * die.clr * np.radians(dial - die.dial_zero))


def bent(tube: Tube, die: Die, bender: Bender, dial: float, n: int) -> Tube:
    """The tube after the die has swung to `dial` and let go again."""
    loaded = dial - die.dial_zero
    if loaded <= 0:
        raise CannotBendError(f"dial {dial} does not move the die")
    used = stock_used(die, dial)
    toward_tail = 1.0 if tube.lead == "A" else -1.0
    cut_lead, cut_tail = tube.at, tube.at + toward_tail * used
    index = straight_holding(tube, *sorted((cut_lead, cut_tail)))
    held = tube.pieces[index]

    # On the die the centreline has the die's radius. Let go, the arc keeps its length and opens.
    free = loaded / (1.0 + die.springback)
    radius = die.clr * loaded / free
    swing = rotation(bender.die_axis, free)
    centre = radius * bender.side
    lead_shift = centre - swing @ centre  # the lead end turns about the centre of the arc
    tail_shift = -used * X  # the tail is drawn up to the die

    def led(piece: Piece) -> Piece:
        return piece.moved(swing, lead_shift)

    def drawn(piece: Piece) -> Piece:
        return piece.moved(np.eye(3), tail_shift)

    low, high = sorted((cut_lead, cut_tail))
    a_part = replace(held, stock_to=low)
    b_part = replace(
        held, stock_from=high, start=held.start + (high - held.stock_from) * held.along
    )
    if tube.lead == "A":
        moved_a, moved_b = led, drawn
        arc = Piece(low, high, lead_shift, swing @ X, -bender.die_axis, free, radius, n)
    else:
        moved_a, moved_b = drawn, led
        arc = Piece(low, high, np.zeros(3), -X, bender.die_axis, free, radius, n)
    a_side = [moved_a(piece) for piece in (*tube.pieces[:index], a_part)]
    b_side = [moved_b(piece) for piece in (b_part, *tube.pieces[index + 1 :])]
    return Tube((*a_side, arc, *b_side), tube.lead, cut_tail)


def loaded_into(tube: Tube, step: Step, die: Die, bender: Bender) -> Tube:
    """The tube with the step's mark at the index line, rolled, before the die moves."""
    if not 0.0 <= step.mark <= tube.stock:
        raise CannotBendError(f"mark {step.mark:.3f} is not on the stock of {tube.stock:.3f}")
    if tube.lead != step.lead:
        tube = turned_end_for_end(tube, bender)
    toward_tail = 1.0 if step.lead == "A" else -1.0
    return rolled(slid(tube, step.mark + toward_tail * die.mark_offset), step.roll)


def slope(along: Array) -> float:
    """Degrees above the horizontal."""
    return float(np.degrees(np.arctan2(along[2], np.hypot(along[0], along[1]))))


def directions(tube: Tube, bends: int) -> dict[int, Array]:
    """Direction A to B of every leg that no longer lies in line with the place at the origin.

    Legs count from 1 at the A end; leg n stands before bend n of the part's `bends`. A straight in
    which bends are still to be made counts for each of its legs.
    """
    held = straight_holding(tube, tube.at, tube.at)
    found: dict[int, Array] = {}
    for index, piece in enumerate(tube.pieces):
        if piece.n or index == held:
            continue
        first = tube.pieces[index - 1].n + 1 if index else 1
        last = tube.pieces[index + 1].n if index + 1 < len(tube.pieces) else bends + 1
        found.update(dict.fromkeys(range(first, last + 1), piece.along))
    return found


def slopes(tube: Tube, bends: int) -> dict[int, float]:
    """What a level on each leg reads, degrees above the horizontal seen from A to B."""
    return {leg: slope(along) for leg, along in directions(tube, bends).items()}


def keenness(tube: Tube, bends: int) -> dict[int, float]:
    """Degrees the level on each leg changes for one degree of roll, the better way of the two."""
    small = 0.01
    here = slopes(tube, bends)
    near = [slopes(rolled(tube, sign * small), bends) for sign in (1.0, -1.0)]
    return {leg: max(abs(there[leg] - here[leg]) / small for there in near) for leg in here}


def make(
    stock: float, steps: Sequence[Step], die: Die, bender: Bender
) -> tuple[Tube, tuple[Rolled, ...]]:
    """Bend a straight piece step by step; gives the tube and what was seen at each step."""
    tube = blank(stock)
    bends = max(step.n for step in steps)
    seen = []
    for step in steps:
        tube = loaded_into(tube, step, die, bender)
        found = room(tube, stock_used(die, step.dial))
        seen.append(Rolled(step, found, slopes(tube, bends), keenness(tube, bends)))
        tube = bent(tube, die, bender, step.dial, step.n)
    return tube, tuple(seen)


def made_blind(stock: float, steps: Sequence[Step], die: Die, bender: Bender) -> Tube:
    """The same tube, bent without a look at room or level."""
    tube = blank(stock)
    for step in steps:
        tube = bent(loaded_into(tube, step, die, bender), die, bender, step.dial, step.n)
    return tube


def sawn(tube: Tube, a_cut: float, b_cut: float) -> Part:
    """The part between two cuts, which must lie in the first and the last straight."""
    first, last = tube.pieces[0], tube.pieces[-1]
    for name, cut, piece in (("A", a_cut, first), ("B", b_cut, last)):
        if not piece.stock_from - ON_THE_LINE <= cut <= piece.stock_to + ON_THE_LINE:
            raise CannotBendError(f"the {name} cut at {cut:.3f} is not in an end leg of the stock")
    pieces = list(tube.pieces)
    pieces[0] = replace(
        first, stock_from=a_cut, start=first.start + (a_cut - first.stock_from) * first.along
    )
    pieces[-1] = replace(pieces[-1], stock_to=b_cut)
    return Part(tuple(pieces))


# --- reading a plan, and judging the part ---------------------------------------------------------


def steps_of(plan: Mapping[str, Any]) -> tuple[Step, ...]:
    """The steps of one tube of `plan --json`, exact."""
    return tuple(
        Step(bend["n"], bend["lead"], bend["mark"], bend["roll"], bend["dial"])
        for bend in plan["bends"]
    )


def rounded_to(value: float, step: float) -> float:
    """The graduation nearest to a reading."""
    return round(value / step) * step


def stroke_travels(bend: Mapping[str, Any], die: Die) -> list[float]:
    """Degrees the die travels in each stroke of the ram, first to last."""
    readings = [die.dial_zero, *bend["strokes"], bend["dial"]]
    return [after - before for before, after in pairwise(readings)]


def laid_on(points: Array, target: Array) -> Array:
    """`points` moved rigidly, never mirrored, to lie as near to `target` as they can.

    The turn comes from the singular value decomposition of the covariance (Kabsch 1976), from
    memory; the determinant keeps it from being a reflection.
    """
    here, there = points.mean(axis=0), target.mean(axis=0)
    left, _, right = np.linalg.svd((points - here).T @ (target - there))
    hand = np.sign(np.linalg.det(left @ right))
    turned = (left @ np.diag([1.0, 1.0, hand]) @ right).T
    return np.asarray((points - here) @ turned.T + there)


def worst_gap(points: Array, target: Array) -> float:
    """Largest distance between points of the same number, mm."""
    return float(np.linalg.norm(points - target, axis=1).max())
