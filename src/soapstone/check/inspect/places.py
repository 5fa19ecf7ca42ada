"""Places of a tube that a tape can be put to, by the words of the shop, on any tube as made.

A ring is a line all round the tube: an end's rim, a bend's mark, the middle of a leg. The back of a
bend is the one point half-way round its outside. A corner is where two legs' centrelines meet.
"""

import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from soapstone.check.inspect.making import MadeTubes, Making
from soapstone.faults import near
from soapstone.geometry.centreline import Walk
from soapstone.geometry.vectors import Array, turn, unit

Kind: TypeAlias = Literal["end", "mark", "back", "leg", "corner"]

NO_CORNER = 170.0
"""Degrees: the legs of a wider bend meet too far off for a straightedge."""

_WORDS = re.compile(r"(a|b) end|end (a|b)|(mark|back of bend|back|leg|corner) (\d{1,3})")


@dataclass(frozen=True, slots=True)
class Place:
    """A place by its kind and number: the end's (0 for A, 1 for B), the bend's or the leg's."""

    kind: Kind
    number: int

    @property
    def name(self) -> str:
        """What the shop calls it."""
        if self.kind == "end":
            return f"{'AB'[self.number]} end"
        return f"{'back of bend' if self.kind == 'back' else self.kind} {self.number}"

    @property
    def is_ring(self) -> bool:
        """Whether it is a line round the tube, and no single point."""
        return self.kind in ("end", "mark", "leg")


@dataclass(frozen=True, slots=True)
class Spots:
    """Where a place is on tubes as made, each (..., 3).

    `centre` and `direction` of its section; `point` on the tube's surface for a back, the corner
    for a corner, else the centre.
    """

    centre: Array
    direction: Array
    point: Array


def place_named(name: str, making: Making) -> Place:
    """Give the place of a name.

    Raises
    ------
    ValueError
        The tube has no such place; says which there are.
    """
    words = _WORDS.fullmatch(" ".join(name.lower().split()))
    place = _place(words) if words else None
    known = places(making)
    if place is None or place not in known:
        if place is not None and place.kind == "mark" and place.number <= making.count:
            raise ValueError(f'"{place.name}" is not on the part: it was cut off with the grip')
        if place is not None and place.kind == "corner" and 1 <= place.number <= making.count:
            raise ValueError(f'the legs at "{place.name}" do not meet within reach')
        raise ValueError(f'no place "{name[:40]}"{near(name, [one.name for one in known])}')
    return place


def _place(words: "re.Match[str]") -> Place:
    end = words[1] or words[2]
    if end:
        return Place("end", "ab".index(end))
    kind: Kind = "back" if words[3].startswith("back") else words[3]  # type: ignore[assignment]
    return Place(kind, int(words[4]))


def places(making: Making) -> tuple[Place, ...]:
    """Give all places of a tube, from A to B; marks cut off with a grip are not among them."""
    n = making.count
    from_a, to_b = (cut.mark for cut in making.plan.cuts)
    marks = [b.n for b in making.bends if from_a < b.mark < to_b and _mark_piece(making, b.n)]
    corners = [b.n for b in making.bends if b.angle < NO_CORNER]
    return (
        Place("end", 0),
        *(Place("mark", k) for k in marks),
        *(Place("back", k) for k in range(1, n + 1)),
        Place("end", 1),
        *(Place("leg", k) for k in range(1, n + 2)),
        *(Place("corner", k) for k in corners),
    )


def spots(place: Place, making: Making, tubes: MadeTubes, way: Walk) -> Spots:
    """Find a place on tubes as made; `way` is their walk."""
    k = place.number
    if place.kind == "end":
        node, leg = ((0, 0), (2 * making.count + 1, making.count))[k]
        return _round_there(way.nodes[..., node, :], way.directions[..., leg, :])
    if place.kind == "leg":
        middle = (way.nodes[..., 2 * k - 2, :] + way.nodes[..., 2 * k - 1, :]) / 2
        return _round_there(middle, way.directions[..., k - 1, :])
    if place.kind == "mark":
        return _mark(making, k, tubes, way)
    turned = np.radians(tubes.angles[..., k - 1]) / 2
    centre, direction = _on_arc(way, k - 1, turned)
    out = unit(centre - way.centres[..., k - 1, :])
    if place.kind == "back":
        return Spots(centre, direction, centre + making.plan.setup.od / 2 * out)
    radius = tubes.radii[..., k - 1, None]
    corner = way.centres[..., k - 1, :] + out * radius / np.cos(turned)[..., None]
    return Spots(centre, direction, corner)


def bends_before(place: Place, making: Making) -> int:
    """Count the bends that lie wholly before a place."""
    if place.kind == "end":
        return making.count * place.number
    if place.kind == "mark":
        mark = making.bends[place.number - 1].mark
        return sum(bend.arc_to <= mark + 1e-9 for bend in making.bends)
    return place.number - 1


def _round_there(centre: Array, direction: Array) -> Spots:
    return Spots(centre, direction, centre)


def _on_arc(way: Walk, bend: int, turned_rad: Array) -> tuple[Array, Array]:
    centre, axis = way.centres[..., bend, :], way.axes[..., bend, :]
    spoke = way.nodes[..., 2 * bend + 1, :] - centre
    there = centre + turn(spoke, axis, turned_rad)
    return there, turn(way.directions[..., bend, :], axis, turned_rad)


def _mark_piece(making: Making, n: int) -> tuple[str, int, float] | None:
    """Where mark n lies: on a "leg" or an "arc", its number from 0, and how far from bend n.

    How far is in mm of straight stock, positive toward B, from where the bend begins (A leading)
    or ends (B leading). A leg's number counts from 0. None: it is beyond the neighbouring bend.
    """
    bend = making.bends[n - 1]
    from_a = bend.lead == "A"
    away = bend.mark - (bend.arc_from if from_a else bend.arc_to)
    toward_bend = away > 0 if from_a else away < 0
    if toward_bend:
        used = bend.arc_to - bend.arc_from
        return ("arc", n - 1, away) if abs(away) < used else None
    leg = n - 1 if from_a else n
    legs = making.plan.shape.legs
    if abs(away) <= legs[leg] + 1e-9:
        return ("leg", leg, away)
    other = n - 2 if from_a else n
    if not 0 <= other < making.count:
        return None
    over = abs(away) - legs[leg]
    beyond = making.bends[other]
    used = beyond.arc_to - beyond.arc_from
    return ("arc", other, -over if from_a else over) if over < used else None


def _mark(making: Making, n: int, tubes: MadeTubes, way: Walk) -> Spots:
    """Find a bend's mark, which keeps its distance from where its own bend begins or ends."""
    found = _mark_piece(making, n)
    if found is None:
        raise ValueError(f"mark {n} is not beside its bend")
    piece, index, told = found
    from_a = making.bends[n - 1].lead == "A"
    from_start = told > 0
    away = told - tubes.index if from_a else told + tubes.index
    node = 2 * n - 1 if from_a else 2 * n
    if piece == "leg":
        direction = way.directions[..., index, :]
        return _round_there(way.nodes[..., node, :] + away[..., None] * direction, direction)
    turn_per_mm = np.radians(tubes.angles[..., index]) / tubes.stock[..., index]
    over = away
    if index != n - 1:
        # the straight between shifts with the bend, and so does how far the mark is into the arc
        leg = tubes.legs[..., n - 1 if from_a else n]
        drawn = making.plan.shape.legs[n - 1 if from_a else n]
        over = away + np.sign(told) * (drawn - leg)
    whole = np.radians(tubes.angles[..., index])
    turned = over * turn_per_mm if from_start else whole + over * turn_per_mm
    return _round_there(*_on_arc(way, index, turned))
