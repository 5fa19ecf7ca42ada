"""What the tube comes near to while a bend is made: certified over the whole motion.

While the die turns, the lead end swings about the die's axis, and the tail is drawn up to the die.
When it lets go, the arc keeps its stock and opens, so its radius grows as its angle falls. Before
that, the tube is rolled about the machine's x axis.

Nothing rests on samples. A plain swing is left to the search of `geometry.distance`: the tube
stands and the solid swings the other way. Where something slides or grows too, the travel is halved
until what it can do within a part of the travel is less than matters.

The straight that clamp and follower hold, and the arc on the die, touch the machine by design and
count for nothing. How the tube is carried from one place in the die to the next is not looked at:
it can be lifted out of the die.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, pi, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from soapstone.bend.pose import Lie, Stick, lie, rotation_between, swing_axis, trimmed
from soapstone.bend.travel import Least, least_over
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.distance import Packed, least_distance, line_pieces, pack
from soapstone.geometry.solids import Cylinder, HalfSpace, Rod, Solid
from soapstone.geometry.vectors import Array, Vec3, wrap_degrees

if TYPE_CHECKING:
    from soapstone.geometry.distance_cells import Pieces

TOLERANCE = 0.05
"""mm that the two bounds of a gap may be apart."""

FAR = 20.0
"""mm above which gaps are not told apart."""

DIE_MARGIN = 10.0
"""mm by which a die is taken to be thicker than its tube, where the bench does not say."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A solid of the bender or the room, as arrays."""

    name: str
    packed: Packed


@dataclass(frozen=True, slots=True)
class Machine:
    """The bender as the tube meets it. Lengths in mm.

    `side` is the unit vector to the die's centre, `obstacles` are bodies and floor, `die` the die.
    """

    clr: float
    od: float
    clamp: float
    follower: float
    side: Vec3
    obstacles: tuple[Obstacle, ...]
    die: Obstacle

    @property
    def centre(self) -> Array:
        """The die's centre."""
        return self.clr * np.array(self.side)


def machine(
    clr: float,
    od: float,
    clamp: float,
    follower: float,
    side: Vec3,
    bodies: tuple[tuple[str, Solid], ...] = (),
    die_height: float | None = None,
) -> Machine:
    """Put a bender together from its die, its bodies by name, and the height above the floor.

    The die is a disc that reaches to the bottom of its groove, `DIE_MARGIN` thicker than the tube.
    """
    axis, centre = swing_axis(side), clr * np.array(side)
    half = (od + DIE_MARGIN) / 2 * axis
    disc = Cylinder(vec(centre - half), vec(centre + half), 2 * clr - od)
    solids = [*bodies]
    if die_height is not None:
        solids.append(("floor", HalfSpace((0.0, 0.0, -die_height), (0.0, 0.0, 1.0))))
    obstacles = tuple(Obstacle(name, pack(solid)) for name, solid in solids)
    return Machine(clr, od, clamp, follower, side, obstacles, Obstacle("die", pack(disc)))


@dataclass(frozen=True, slots=True)
class Near:
    """The least gap of the tube to one thing during one motion.

    Attributes
    ----------
    what
        A body's name, "floor", "die" or "own tail".
    part
        "lead" or "tail".
    motion
        "swing", "release" or "roll".
    gap, high
        mm: the true gap is no less than `gap`, and is `high` at the place named. Gaps above `FAR`
        are not told apart: then `gap` is at least that.
    at
        Degrees of the die, of the bend as it opens, or rolled back from where the bend is made.
    """

    what: str
    part: str
    motion: str
    gap: float
    high: float
    at: float


def bend_nears(
    stick: Stick, made: frozenset[int], n: int, lead: str, where: Machine
) -> Iterator[Near]:
    """Find what the tube comes near to while the die makes bend `n` and lets go of it."""
    lies = lie(stick, made, n, lead, where.side)
    yield from _die_nears(stick, n, lies, where)
    yield from _lead_nears(stick, n, lies, where)
    yield from _tail_nears(stick, n, lies, where)


def _lead_nears(stick: Stick, n: int, lies: Lie, where: Machine) -> Iterator[Near]:
    """Lead end against bodies, floor and its own tail, as it swings and is let go."""
    line = trimmed(lies.lead, where.clamp)
    if line is None:
        return
    pieces, loaded = line_pieces(line), radians(stick.loaded[n - 1])
    tail = trimmed(lies.tail, where.follower)
    for thing in where.obstacles:
        swung = _swing(pieces, thing.packed, where.centre, where, (0.0, loaded))
        yield _near(thing.name, "lead", "swing", swung, where.od / 2)
        yield _near(
            thing.name, "lead", "release", _release(pieces, thing, stick, n, where), where.od / 2
        )
    if tail is not None and (lies.lead.angles or lies.tail.angles or loaded > pi / 2):
        rod = Obstacle("own tail", pack(Rod(tail, where.od)))
        swung = _against_tail(pieces, rod, stick, n, where)
        yield _near("own tail", "lead", "swing", swung, where.od / 2)
        let_go = _release(pieces, rod, stick, n, where, drawn=stick.used(n))
        yield _near("own tail", "lead", "release", let_go, where.od / 2)


def _swing(
    pieces: "Pieces",
    packed: Packed,
    centre: Array,
    where: Machine,
    span: tuple[float, float],
    drawn: float = 0.0,
) -> Least:
    """Least distance of a lead that turns about `centre` to a solid drawn `drawn` mm along -x."""
    shift = np.array([drawn, 0.0, 0.0])
    row = np.concatenate([centre + shift, swing_axis(where.side), [-span[1], -span[0]]])
    found = least_distance(
        _moved(pieces, shift), packed, row[None], TOLERANCE / 2, FAR + where.od / 2
    )
    return Least(found.low, found.high, -found.angles_rad[0])


def _against_tail(pieces: "Pieces", rod: Obstacle, stick: Stick, n: int, where: Machine) -> Least:
    """Least distance of the lead to its own tail, which is drawn up as the lead swings."""
    loaded = radians(stick.loaded[n - 1])
    rate = stick.used(n) / loaded

    def look(a: float, b: float) -> tuple[float, float, float]:
        found = _swing(pieces, rod.packed, where.centre, where, (a, b), rate * (a + b) / 2)
        slack = rate * (b - a) / 2
        return found.low - slack, found.high + slack, found.at

    return least_over(0.0, loaded, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def _release(
    pieces: "Pieces", thing: Obstacle, stick: Stick, n: int, where: Machine, drawn: float = 0.0
) -> Least:
    """Least distance of the lead as the bend springs back and its radius grows."""
    loaded, free = radians(stick.loaded[n - 1]), radians(stick.angles[n - 1])
    side = np.array(where.side)
    # the centre moves; a point of the lead moves by that, less the same turned with it
    share = 2 * sin(min(loaded, pi) / 2)

    def look(a: float, b: float) -> tuple[float, float, float]:
        radius = where.clr * loaded / ((a + b) / 2)
        slack = share * max(where.clr * loaded / a - radius, radius - where.clr * loaded / b)
        found = _swing(pieces, thing.packed, radius * side, where, (a, b), drawn)
        return found.low - slack, found.high + slack, found.at

    return least_over(free, loaded, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def _tail_nears(stick: Stick, n: int, lies: Lie, where: Machine) -> Iterator[Near]:
    """Tail against bodies, floor and die as it is drawn up; a straight one stays where it is."""
    used, per_mm = stick.used(n), stick.loaded[n - 1] / stick.used(n)
    line = trimmed(lies.tail, where.follower)
    if line is None:
        return
    pieces = line_pieces(line)
    for thing in where.obstacles:
        least = _slide(pieces, thing.packed, used, where)
        least = Least(least.low, least.high, radians(least.at * per_mm))
        yield _near(thing.name, "tail", "swing", least, where.od / 2)


def _slide(pieces: "Pieces", packed: Packed, length: float, where: Machine) -> Least:
    """Least distance to a solid of a line that slides `length` mm along -x."""

    def look(a: float, b: float) -> tuple[float, float, float]:
        middle, most = (a + b) / 2, FAR + where.od / 2 + (b - a)
        moved = _moved(pieces, np.array([-middle, 0.0, 0.0]))
        found = least_distance(moved, packed, tolerance=TOLERANCE / 2, ceiling=most)
        return found.low - (b - a) / 2, found.high, middle

    return least_over(0.0, length, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def _die_nears(stick: Stick, n: int, lies: Lie, where: Machine) -> Iterator[Near]:
    """Bends made before against the die; it is round, so to it a lead that turns with it stands."""
    packed, half = where.die.packed, where.od / 2
    if lies.lead.angles:
        pieces = line_pieces(_from_first_bend(lies.lead))
        found = least_distance(pieces, packed, tolerance=TOLERANCE / 2, ceiling=FAR + half)
        yield _near("die", "lead", "swing", Least(found.low, found.high, 0.0), half)
    if lies.tail.angles:
        pieces = line_pieces(_from_first_bend(lies.tail))
        least = _slide(pieces, packed, stick.used(n), where)
        at = radians(least.at * stick.loaded[n - 1] / stick.used(n))
        yield _near("die", "tail", "swing", Least(least.low, least.high, at), half)


def _from_first_bend(line: Centreline) -> Centreline:
    rest = trimmed(line, inf)
    assert rest is not None
    return rest


def roll_before(stick: Stick, made: frozenset[int], last: int, n: int, lead: str) -> float | None:
    """Degrees by which a tube is rolled from bend `last` to bend `n`, the same end leading.

    Clockwise seen from the tail looking at the die, in (-180, 180]. None where a bend made lies
    between them: then the tube is lifted out and laid in anew.
    """
    low, high = min(last, n), max(last, n)
    if any(low < m < high for m in made):
        return None
    toward_tail = (n > last) == (lead == "A")
    turned = rotation_between(stick, last, n)
    return float(wrap_degrees(np.array(turned if toward_tail else -turned)))


def roll_nears(
    stick: Stick, made: frozenset[int], n: int, lead: str, where: Machine, turn: float
) -> Iterator[Near]:
    """Find what the tube comes near to while it is rolled, at bend `n`, to where it is bent.

    `turn` is the roll in degrees, clockwise seen from the tail looking at the die; it may be over
    180 or under -180 where the tube goes the long way round.
    """
    lies = lie(stick, made, n, lead, where.side)
    ends = (("lead", lies.lead, where.clamp), ("tail", lies.tail, where.follower))
    span = sorted((-radians(turn), 0.0))
    row = np.array([[0.0, 0.0, 0.0, 1.0, 0.0, 0.0, *span]])
    half = where.od / 2
    for part, line, held in ends:
        if not line.angles:
            continue
        rest = trimmed(line, held)
        assert rest is not None
        pieces = line_pieces(rest)
        bent = line_pieces(_from_first_bend(line))
        for thing in (*where.obstacles, where.die):
            which = bent if thing is where.die else pieces
            found = least_distance(which, thing.packed, row, TOLERANCE, FAR + half)
            least = Least(found.low, found.high, -found.angles_rad[0])
            yield _near(thing.name, part, "roll", least, half)


def _moved(pieces: "Pieces", shift: Array) -> "Pieces":
    """Pieces shifted as they are: a straight by its start, an arc by its centre."""
    rows = pieces.rows.copy()
    rows[:, 1:4] += shift
    return pieces._replace(rows=rows)


def _near(what: str, part: str, motion: str, least: Least, off: float) -> Near:
    at = float(np.degrees(least.at))
    return Near(what, part, motion, float(least.low - off), float(least.high - off), at)
