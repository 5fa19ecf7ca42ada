"""A survey as data: known points, and what was taped, levelled and plumbed from them.

The models mirror the survey file table by table; lengths are in mm once read.
"""

from collections.abc import Iterator
from typing import Annotated, Literal, TypeAlias

from pydantic import Discriminator, Field, Tag

from soapstone.bench.fields import Direction, Entry, Name, Place, PositiveLength, Text
from soapstone.faults import INLINE, NAMED
from soapstone.geometry.vectors import Vec3
from soapstone.quantities import Units

USUAL_PLUS_MINUS = 2.0
"""mm that a tape stretched between two marks by hand may be off by: common practice."""

WAYS: dict[str, Vec3] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}
"""Directions that have a name."""

Names: TypeAlias = Annotated[
    tuple[Name, ...],
    Field(min_length=2, max_length=200, description="the names of two points or more"),
]


class _Row(Entry):
    plus_minus: PositiveLength | None = Field(
        None, description="what it may be off by, a length, right 19 times of 20"
    )
    note: Text = Field("", description="a remark")


class Taped(_Row):
    """A distance between two points."""

    start: Name = Field(alias="from", description="the name of a point")
    end: Name = Field(alias="to", description="the name of a point")
    length: PositiveLength = Field(description="the taped distance, a length")

    @property
    def points(self) -> tuple[str, ...]:
        """Names of the points it ties together."""
        return (self.start, self.end)


class Levelled(_Row):
    """Points at one height; `plus_minus` is for the difference of any two of them."""

    points: Names


class Plumbed(_Row):
    """Points on one vertical; `plus_minus` is for any two of them, in x and in y."""

    points: Names


class Halfway(_Row):
    """A point half-way between two others; `plus_minus` is in each of x, y and z."""

    point: Name = Field(description="the name of the point half-way")
    between: tuple[Name, Name] = Field(description="the names of the two points it lies between")

    @property
    def points(self) -> tuple[str, ...]:
        """Names of the points it ties together."""
        return (self.point, *self.between)


class Side(Entry):
    """Which of several places that fit alike is meant: the one farthest `toward`.

    Toward a point means nearest to it, which for mirror images is on its side of the mirror.
    """

    point: Name = Field(description="the name of the point")
    toward: Annotated[
        Annotated[Name, Tag(NAMED)] | Annotated[Direction, Tag(INLINE)],
        Discriminator(lambda value: NAMED if isinstance(value, str) else INLINE),
    ] = Field(description='where it lies: "up", "-x", a direction [x, y, z] or a point\'s name')
    note: Text = Field("", description="a remark")

    @property
    def way(self) -> Vec3 | None:
        """The direction it names, None when it names a point."""
        return WAYS.get(self.toward) if isinstance(self.toward, str) else self.toward


AnyRow: TypeAlias = Taped | Levelled | Plumbed | Halfway


class Survey(Entry):
    """Known points and all rows measured from them."""

    format: Literal[1] = Field(1, description="the number of this file format, 1")
    name: Text = Field("", description="what was surveyed")
    units: Units = Field("mm", description='the unit of bare numbers, "mm" or "in"')
    plus_minus: PositiveLength = Field(
        USUAL_PLUS_MINUS,
        description="what a row that does not say may be off by, a length, right 19 times of 20",
    )
    note: Text = Field("", description="a remark")
    datum: dict[Name, Place] = Field(
        default_factory=dict, description="the points with known coordinates"
    )
    tapes: tuple[Taped, ...] = Field((), alias="tape", description="the taped distances")
    levels: tuple[Levelled, ...] = Field((), alias="level", description="points at one height")
    plumbs: tuple[Plumbed, ...] = Field((), alias="plumb", description="points on one vertical")
    midpoints: tuple[Halfway, ...] = Field((), alias="midpoint", description="points half-way")
    sides: tuple[Side, ...] = Field((), alias="side", description="which of two places is meant")

    @property
    def rows(self) -> tuple[AnyRow, ...]:
        """All that was measured, kind by kind in file order; a row's place here is its number."""
        return (*self.tapes, *self.levels, *self.plumbs, *self.midpoints)

    @property
    def names(self) -> tuple[str, ...]:
        """All points, those of the datum first, the others as they first appear."""
        named = (name for row in self.rows for name in row.points)
        return tuple(dict.fromkeys((*self.datum, *named)))

    @property
    def unknown(self) -> tuple[str, ...]:
        """Names of the points to be found."""
        return self.names[len(self.datum) :]

    def allowance(self, row: AnyRow) -> float:
        """Give the plus_minus of a row in mm: its own, or the survey's."""
        return self.plus_minus if row.plus_minus is None else row.plus_minus


def row_key(data: Survey, number: int) -> str:
    """Name a row as its file does: ``tape 3``, ``level 1``."""
    for kind, rows in _kinds(data):
        if number < len(rows):
            return f"{kind} {number + 1}"
        number -= len(rows)
    raise ValueError("a survey has no row of that number")


def _kinds(data: Survey) -> Iterator[tuple[str, tuple[AnyRow, ...]]]:
    yield "tape", data.tapes
    yield "level", data.levels
    yield "plumb", data.plumbs
    yield "midpoint", data.midpoints
