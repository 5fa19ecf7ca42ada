"""What a file of readings asks for, as drawn: what each row should read, and where it is taken."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from soapstone.check.inspect.choosing import check_plan
from soapstone.check.inspect.files import taken_on
from soapstone.check.inspect.model import Readings
from soapstone.check.inspect.places import Place, Spots, spots
from soapstone.check.inspect.reads import Height, Protractor, Taping, What, drawn, reads, touches
from soapstone.geometry.centreline import vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Vec3
from soapstone.plan.model import TubePlan

RowKind: TypeAlias = Literal["tape", "height", "bend"]

ANY = 1.0
"""A reading put where there is none yet, so that its row is looked at: mm or degrees."""


@dataclass(frozen=True, slots=True)
class AskedRow:
    """A row of a file of readings, and what it is about.

    Attributes
    ----------
    kind, number
        The list that it stands in, and its place there, from 0.
    names
        The places taped between, or the one place whose height is taken; none of a bend.
    bend
        The bend whose angle it is, or that lies flat; 0 of a tape.
    drawn
        What it reads on a tube as drawn, mm or degrees.
    ends
        The points that a tape lies on, or the middle of a height's place, on a tube as drawn.
    up
        Up for a height, as the tube lies on the floor then.
    how
        "outside", "centre" or "inside" of a tape.
    turned
        Whether the tube lies so that the flat bend goes clockwise, seen from above and from A on.
    told_badly
        Whether no tape tells the bend's angle well.
    """

    kind: RowKind
    number: int
    names: tuple[str, ...]
    bend: int
    drawn: float
    ends: tuple[Vec3, ...] = ()
    up: Vec3 = (0.0, 0.0, 1.0)
    how: str = ""
    turned: bool = False
    told_badly: bool = False


def asked_rows(plan: TubePlan, data: Readings, where: str = "readings") -> tuple[AskedRow, ...]:
    """Give every row of a file of readings as it is on a tube as drawn: tapes, heights, bends.

    Raises
    ------
    InputError
        A row names a place or a bend that the tube has not.
    """
    taken = taken_on(plan, _filled(data), where)
    tube, way = drawn(plan), walk(plan.shape)
    values = reads(taken.measured.what, taken.making, tube).tolist()
    badly = {bend for what, bend in check_plan(plan).untold if what == "angle"}
    counts: dict[str, int] = {}

    def at(place: Place) -> Spots:
        return spots(place, taken.making, tube, way)

    def row(what: What, value: float) -> AskedRow:
        kind: RowKind = {Taping: "tape", Height: "height", Protractor: "bend"}[type(what)]  # type: ignore[assignment]
        number = counts[kind] = counts.get(kind, -1) + 1
        if isinstance(what, Protractor):
            bad = what.bend in badly
            return AskedRow(kind, number, (), what.bend, value, told_badly=bad)
        if isinstance(what, Height):
            up = vec(way.axes[what.leg - 1] * (-1.0 if what.turned else 1.0))
            middle = vec(at(what.place).centre)
            name = what.place.name
            return AskedRow(
                kind, number, (name,), what.leg, value, (middle,), up, turned=what.turned
            )
        a, b = touches(what, at(what.start), at(what.end), plan.setup.od / 2)
        names = (what.start.name, what.end.name)
        return AskedRow(kind, number, names, 0, value, (vec(a), vec(b)), how=what.how)

    return tuple(row(what, value) for what, value in zip(taken.measured.what, values, strict=True))


def _filled(data: Readings) -> Readings:
    """Give readings with one in every row, in the order of the file."""
    return data.model_copy(
        update={
            "tapes": tuple(row.model_copy(update={"length": ANY}) for row in data.tapes),
            "heights": tuple(row.model_copy(update={"height": ANY}) for row in data.heights),
            "bends": tuple(
                row.model_copy(update={"angle": ANY, "dial": None}) for row in data.bends
            ),
        }
    )
