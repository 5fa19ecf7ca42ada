"""What the tube comes near to while a bend is made: certified over the whole motion.

While the die turns, the lead end swings about the die's axis, and the tail is drawn up to the die.
When it lets go, the arc keeps its stock and opens, so its radius grows as its angle falls. Before
that, the tube is rolled about the machine's x axis.

Nothing rests on samples. A plain swing is left to the search of `geometry.distance`: the tube
stands and the solid swings the other way. Where something slides or grows too, the travel is halved
until what it can do within a part of the travel is less than matters.

The straight that clamp and follower hold, and the arc on the die, touch the machine by design and
count for nothing. From one bend on to the next the tube is fed along x, then rolled. Where it is
carried back, past a bend, or turned end for end, it is lifted out of the die: that is not looked
at.

What is only clear or not, for every step of every order, is told by `steps`; here the least gaps
are found, for the steps of one order.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import partial
from math import ceil, cos, inf, pi, radians, sin
from typing import TYPE_CHECKING

import numpy as np

from soapstone.bend.machine import Machine, Obstacle
from soapstone.bend.pose import (
    Stick,
    has_beyond,
    lead_line,
    lie,
    rotation_between,
    swing_axis,
    tail_line,
    trimmed,
)
from soapstone.bend.travel import Least, least_over
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.distance import Packed, least_distance, line_pieces, pack
from soapstone.geometry.solids import Rod
from soapstone.geometry.vectors import Array

if TYPE_CHECKING:
    from soapstone.geometry.distance_cells import Pieces

TOLERANCE = 0.05
"""mm that the two bounds of a gap may be apart."""

FAR = 20.0
"""mm above which gaps are not told apart."""


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
        "swing", "release", "feed" or "roll".
    gap, high
        mm: the true gap is no less than `gap`, and is `high` at the place named. Gaps above `FAR`
        are not told apart: then `gap` is at least that.
    at
        Degrees of the die, of the bend as it opens, or rolled back from where the bend is made; mm
        still to be fed.
    """

    what: str
    part: str
    motion: str
    gap: float
    high: float
    at: float


@dataclass(frozen=True, slots=True)
class Passing:
    """One thing that one end of the tube comes past in one motion.

    `thing` is a solid, or the thin line of the tube's own tail; `course` the motion, as
    `sweep.stays_clear` takes both. `thick` mm are to take off the distance between the two for the
    gap. `search` finds the least gap.
    """

    what: str
    part: str
    motion: str
    pieces: "Pieces"
    thing: "Obstacle | Array"
    course: Array
    thick: float
    search: Callable[[], Least]

    def near(self) -> Near:
        """Find the least gap; gaps above `FAR` are not told apart."""
        clear, met, place = self._seen(FAR, TOLERANCE)
        far = Least(FAR, max(met - self.thick, FAR), self._at(place))
        least = far if clear else self.search()
        at = least.at if self.motion == "feed" else np.degrees(least.at)
        return Near(
            self.what, self.part, self.motion, float(least.low), float(least.high), float(at)
        )

    def _at(self, place: float) -> float:
        """Give the part of the travel, 0 to 1, as `search` gives it."""
        if self.motion == "swing":
            return place * float(self.course[12])
        first, last = self.course[9:11] if self.motion == "feed" else self.course[7:9]
        return float(first + place * (last - first))

    def _seen(self, wanted: float, give: float) -> tuple[bool, float, float]:
        from soapstone.bend.sweep import ROD, stays_clear

        kind, shape, rod = ROD, NO_SHAPE, NO_ROD
        if isinstance(self.thing, Obstacle):
            kind, shape = self.thing.packed.target.kind, self.thing.packed.target.shape
        else:
            rod = self.thing
        rows, starts = self.pieces.rows, self.pieces.starts
        keep = np.array([wanted + self.thick, give])
        return stays_clear(rows, starts, self.course, kind, shape, rod, keep)


def _pieces(line: Centreline, length: float) -> "Pieces":
    """Leave out the first `length` mm of a line's first leg, or all of it if that is shorter."""
    rest = trimmed(line, length)
    if rest is None:
        raise ValueError("nothing of the line is left")
    return line_pieces(rest)


def _thin(pieces: "Pieces") -> Array:
    """Give the pieces with their lengths and a place unused, (m, 12), as `sweep` takes a rod."""
    lengths = np.diff(pieces.starts)[:, None]
    return np.hstack([pieces.rows, lengths, np.zeros_like(lengths)])


NO_ROD: Array = np.empty((0, 12))
NO_SHAPE: Array = np.empty(15)


def _course(
    where: Machine | None,
    turns: tuple[float, float] = (0.0, 0.0),
    shifts: tuple[float, float] = (0.0, 0.0),
    held: float = 0.0,
    whole: float = 0.0,
) -> Array:
    """Put a motion into one row, see `sweep.stays_clear`; about x where there is no machine.

    `held` is the loaded angle of an arc that opens, `whole` the angle of the whole swing, both in
    radians.
    """
    axis, side, radius = np.array([1.0, 0.0, 0.0]), np.zeros(3), 0.0
    if where is not None:
        axis, side, radius = swing_axis(where.side), np.array(where.side), where.clr
    return np.array([*axis, *side, radius, *turns, *shifts, held, whole, 0.0])


def bend_nears(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine
) -> Iterator[Near]:
    """Find how near the tube comes to things while the die makes bend `n` and lets go of it."""
    for passings in (tail_passings, lead_passings, own_passings):
        yield from (passing.near() for passing in passings(stick, made, n, lead, where))


def lead_passings(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine
) -> Iterator[Passing]:
    """Lead end past die, bodies and floor, as it swings and is let go.

    The die is round, so to it a lead that turns with it stands. Bends made on the tail's side of
    bend `n` make no difference.
    """
    lies, half = lead_line(stick, made, n, lead, where.side), where.od / 2
    if lies.angles:
        pieces = _pieces(lies, inf)
        search = partial(_stands, pieces, where.die.packed, half)
        yield Passing("die", "lead", "swing", pieces, where.die, _course(None), half, search)
    if not (where.obstacles and has_beyond(lies, where.clamp)):
        return
    pieces = _pieces(lies, where.clamp)
    loaded, free = radians(stick.loaded[n - 1]), radians(stick.angles[n - 1])
    swing = _course(where, (0.0, loaded), whole=loaded)
    release = _course(where, (loaded, free), held=loaded)
    for thing in where.obstacles:
        turned = partial(_swing, pieces, thing.packed, where.centre, where, (0.0, loaded))
        search = partial(_less, turned, half)
        yield Passing(thing.name, "lead", "swing", pieces, thing, swing, half, search)
        search = partial(_less, partial(_release, pieces, thing.packed, stick, n, where), half)
        yield Passing(thing.name, "lead", "release", pieces, thing, release, half, search)


def _less(search: Callable[[], Least], thick: float) -> Least:
    """Take what the tube is thick off a least distance of its centreline."""
    least = search()
    return Least(least.low - thick, least.high - thick, least.at)


def own_passings(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine
) -> Iterator[Passing]:
    """Lead end past the tube's own tail, as it swings and is let go."""
    lies = lie(stick, made, n, lead, where.side)
    tail = trimmed(lies.tail, where.follower)
    loaded, free, used = radians(stick.loaded[n - 1]), radians(stick.angles[n - 1]), stick.used(n)
    if tail is None or not has_beyond(lies.lead, where.clamp):
        return
    if not (lies.lead.angles or lies.tail.angles or loaded > pi / 2):
        return
    pieces = _pieces(lies.lead, where.clamp)
    thin = _thin(_pieces(lies.tail, where.follower))
    swing = _course(where, (0.0, loaded), (0.0, used), whole=loaded)
    release = _course(where, (loaded, free), (used, used), held=loaded)

    def turned() -> Least:
        return _less(
            partial(_against_tail, pieces, _rod(tail, where), stick, n, where), where.od / 2
        )

    def let_go() -> Least:
        rod = _rod(tail, where)
        found = partial(_release, pieces, rod, stick, n, where, drawn=used)
        return _less(found, where.od / 2)

    yield Passing("own tail", "lead", "swing", pieces, thin, swing, where.od, turned)
    yield Passing("own tail", "lead", "release", pieces, thin, release, where.od, let_go)


def _rod(tail: Centreline, where: Machine) -> Packed:
    return pack(Rod(tail, where.od))


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


def _against_tail(pieces: "Pieces", rod: Packed, stick: Stick, n: int, where: Machine) -> Least:
    """Least distance of the lead to its own tail, which is drawn up as the lead swings."""
    loaded = radians(stick.loaded[n - 1])
    rate = stick.used(n) / loaded

    def look(a: float, b: float) -> tuple[float, float, float]:
        found = _swing(pieces, rod, where.centre, where, (a, b), rate * (a + b) / 2)
        slack = rate * (b - a) / 2
        return found.low - slack, found.high + slack, found.at

    return least_over(0.0, loaded, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def _release(
    pieces: "Pieces", packed: Packed, stick: Stick, n: int, where: Machine, drawn: float = 0.0
) -> Least:
    """Least distance of the lead as the bend springs back and its radius grows."""
    loaded, free = radians(stick.loaded[n - 1]), radians(stick.angles[n - 1])
    side = np.array(where.side)
    # the centre moves; a point of the lead moves by that, less the same turned with it
    share = 2 * sin(min(loaded, pi) / 2)

    def look(a: float, b: float) -> tuple[float, float, float]:
        radius = where.clr * loaded / ((a + b) / 2)
        slack = share * max(where.clr * loaded / a - radius, radius - where.clr * loaded / b)
        found = _swing(pieces, packed, radius * side, where, (a, b), drawn)
        return found.low - slack, found.high + slack, found.at

    return least_over(free, loaded, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def tail_passings(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine
) -> Iterator[Passing]:
    """Tail past die, bodies and floor as it is drawn up.

    Bends made on the lead's side of bend `n` make no difference.
    """
    lies, half = tail_line(stick, made, n, lead, where.side), where.od / 2
    course = _drawn_up(stick, n)
    if lies.angles:
        pieces = _pieces(lies, inf)
        search = partial(_slid, pieces, where.die.packed, stick, n, where)
        yield Passing("die", "tail", "swing", pieces, where.die, course, half, search)
    if not (where.obstacles and has_beyond(lies, where.follower)):
        return
    pieces = _pieces(lies, where.follower)
    for thing in where.obstacles:
        search = partial(_slid, pieces, thing.packed, stick, n, where)
        yield Passing(thing.name, "tail", "swing", pieces, thing, course, half, search)


def _drawn_up(stick: Stick, n: int) -> Array:
    loaded = radians(stick.loaded[n - 1])
    return _course(None, shifts=(0.0, -stick.used(n)), whole=loaded)


def _slid(pieces: "Pieces", packed: Packed, stick: Stick, n: int, where: Machine) -> Least:
    """Least gap of a tail that is drawn up, with the die's angle at which it is."""
    least = _slide(pieces, packed, stick.used(n), where)
    per_mm = radians(stick.loaded[n - 1]) / stick.used(n)
    half = where.od / 2
    return Least(least.low - half, least.high - half, least.at * per_mm)


def _slide(pieces: "Pieces", packed: Packed, length: float, where: Machine) -> Least:
    """Least distance to a solid of a line that slides `length` mm along -x."""

    def look(a: float, b: float) -> tuple[float, float, float]:
        middle, most = (a + b) / 2, FAR + where.od / 2 + (b - a)
        moved = _moved(pieces, np.array([-middle, 0.0, 0.0]))
        found = least_distance(moved, packed, tolerance=TOLERANCE / 2, ceiling=most)
        return found.low - (b - a) / 2, found.high, middle

    return least_over(0.0, length, look, TOLERANCE, FAR + where.od / 2, where.od / 2)


def _stands(pieces: "Pieces", packed: Packed, half: float) -> Least:
    found = least_distance(pieces, packed, tolerance=TOLERANCE / 2, ceiling=FAR + half)
    return Least(found.low - half, found.high - half, 0.0)


def roll_before(stick: Stick, last: int, n: int, lead: str) -> float:
    """Degrees by which a tube is rolled from bend `last` to bend `n`, the same end leading.

    Clockwise seen from the tail looking at the die, in (-180, 180].
    """
    turned = rotation_between(stick, last, n)
    roll = turned if (n > last) == (lead == "A") else -turned
    # rounded to count whole turns, so that noise cannot make half a turn into minus half a turn
    return min(roll - 360 * ceil((round(roll, 9) - 180) / 360), 180.0)


def feed_nears(
    stick: Stick,
    made: Collection[int],
    last: int,
    n: int,
    lead: str,
    where: Machine,
    turn: float,
) -> Iterator[Near]:
    """Find how near the bent parts of a tube come to things as it is fed from one bend to the next.

    `last` was made last, bend `n` lies behind it. The tube is rolled by `turn` degrees after that.
    The arc made last lies on the die as it starts, and what the clamp held is beside it: these
    count for nothing. Nor does the straight after the arc beside the die: both only draw away.
    """
    far = (
        stick.arc_from[n - 1] - stick.arc_to[last - 1]
        if lead == "A"
        else stick.arc_from[last - 1] - stick.arc_to[n - 1]
    )
    course, half = _course(None, (radians(turn),) * 2, (far, 0.0)), where.od / 2
    for part, laid in (("lead", lead_line), ("tail", tail_line)):
        line = laid(stick, made, n, lead, where.side)
        if not line.angles:
            continue
        for thing in (*where.obstacles, where.die):
            off = inf if thing is where.die else where.clamp
            rest = _pieces(line, inf) if part == "tail" else _past_arc(line, off)
            if rest is not None:
                search = partial(_fed, rest, thing.packed, far, turn, where)
                yield Passing(thing.name, part, "feed", rest, thing, course, half, search).near()


def _past_arc(line: Centreline, held: float) -> "Pieces | None":
    """Leave out a line up to `held` mm past its first arc, or the next if that is nearer."""
    rest = line_pieces(line)
    first = int(np.argmax(rest.rows[:, 0] != 0))
    past = rest._replace(rows=rest.rows[first + 1 :], starts=rest.starts[first + 1 :])
    if not len(past.rows):
        return None
    if past.rows[0, 0] != 0:
        return past
    if past.starts[1] - past.starts[0] <= held:
        past = past._replace(rows=past.rows[1:], starts=past.starts[1:])
        return past if len(past.rows) else None
    rows, starts = past.rows.copy(), past.starts.copy()
    rows[0, 1:4] += held * rows[0, 4:7]
    starts[0] += held
    return past._replace(rows=rows, starts=starts)


def _fed(pieces: "Pieces", packed: Packed, far: float, turn: float, where: Machine) -> Least:
    """Least gap of a line that is fed along -x to where it lies, and is rolled after that."""
    rows, turned = pieces.rows.copy(), radians(turn)
    c, s = cos(turned), sin(turned)
    for at in (2, 5, 8):
        y, z = pieces.rows[:, at], pieces.rows[:, at + 1]
        rows[:, at], rows[:, at + 1] = c * y - s * z, s * y + c * z
    rows[:, 1] += far
    start = pieces._replace(rows=rows, starts=pieces.starts - pieces.starts[0])
    least = _slide(start, packed, far, where)
    half = where.od / 2
    return Least(least.low - half, least.high - half, far - least.at)


def roll_nears(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine, turn: float
) -> Iterator[Near]:
    """Find how near the tube comes to things while it is rolled; see `roll_passings`."""
    for part in ("lead", "tail"):
        passings = roll_passings(stick, made, n, lead, where, part, turn)
        yield from (passing.near() for passing in passings)


def roll_passings(
    stick: Stick, made: Collection[int], n: int, lead: str, where: Machine, part: str, turn: float
) -> Iterator[Passing]:
    """Give what one part, "lead" or "tail", comes past while the tube is rolled at bend `n`.

    `turn` is the roll in degrees to where it is bent, clockwise seen from the tail looking at the
    die; it may be over 180 or under -180 where the tube goes the long way round.
    """
    laid = lead_line if part == "lead" else tail_line
    line = laid(stick, made, n, lead, where.side)
    if not line.angles:
        return
    held = where.clamp if part == "lead" else where.follower
    course, half = _course(None, (0.0, radians(turn))), where.od / 2
    pieces, bent = _pieces(line, held), _pieces(line, inf)
    for thing in (*where.obstacles, where.die):
        which = bent if thing is where.die else pieces
        search = partial(_rolled, which, thing.packed, turn, half)
        yield Passing(thing.name, part, "roll", which, thing, course, half, search)


def _rolled(pieces: "Pieces", packed: Packed, turn: float, half: float) -> Least:
    span = sorted((-radians(turn), 0.0))
    row = np.array([[0.0, 0.0, 0.0, 1.0, 0.0, 0.0, *span]])
    found = least_distance(pieces, packed, row, TOLERANCE, FAR + half)
    return Least(found.low - half, found.high - half, -found.angles_rad[0])


def _moved(pieces: "Pieces", shift: Array) -> "Pieces":
    """Pieces shifted as they are: a straight by its start, an arc by its centre."""
    rows = pieces.rows.copy()
    rows[:, 1:4] += shift
    return pieces._replace(rows=rows)
