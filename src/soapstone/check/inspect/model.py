"""A file of readings taken on a made tube, as data. Lengths in mm and angles in degrees once read.

A row whose reading is left out has not been measured, and is passed over.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from soapstone.bench.fields import Entry, Flag, Length, Name, PositiveLength, Text
from soapstone.bench.ranges import DEGREES, Between
from soapstone.faults import KeyedError
from soapstone.quantities import Units

SmallAngle = Annotated[float, Between(0, 45, DEGREES, above=True)]


class TapeRow(Entry):
    """A distance taped on the tube."""

    start: Name = Field(alias="from", description='a place on the tube, such as "A end", "mark 2"')
    end: Name = Field(alias="to", description='a place on the tube, such as "B end", "mark 3"')
    length: PositiveLength | None = Field(None, description="what the tape reads, a length")
    how: Literal["outside", "centre", "inside"] = Field(
        "outside", description="outside to outside, centre to centre or inside to inside"
    )
    plus_minus: PositiveLength | None = Field(
        None, description="what it may be off by, a length, right 19 times of 20"
    )
    note: Text = Field("", description="a remark")

    @model_validator(mode="after")
    def _two_places(self) -> Self:
        if self.start.lower() == self.end.lower():
            raise KeyedError("to", f'expected another place than "{self.start}"')
        return self


class HeightRow(Entry):
    """How high a place stands over a flat floor while a bend lies flat on it by both its legs."""

    place: Name = Field(description='a place on the tube, such as "B end", "leg 3"')
    flat: int = Field(
        ge=1, le=200, strict=True, description="the bend whose two legs lie flat on the floor"
    )
    turned: Flag = Field(
        False,
        description="whether the tube lies so that this bend, seen from above and from A on, "
        "goes clockwise",
    )
    height: Length | None = Field(
        None, description="floor to the underside of the tube there, a length"
    )
    plus_minus: PositiveLength | None = Field(
        None, description="what it may be off by, a length, right 19 times of 20"
    )
    note: Text = Field("", description="a remark")


class BendRow(Entry):
    """What is known of one bend as made: its angle by protractor, where its dial was stopped."""

    n: int = Field(ge=1, le=200, strict=True, description="the bend's number from the A end")
    angle: Annotated[float, Between(0, 360, DEGREES, above=True)] | None = Field(
        None, description="the angle by protractor after release, in degrees"
    )
    plus_minus: SmallAngle | None = Field(
        None, description="what the angle may be off by, in degrees, right 19 times of 20"
    )
    dial: Annotated[float, Between(-180, 540, DEGREES)] | None = Field(
        None, description="the dial reading the bend was stopped at; left out, the plan's"
    )
    note: Text = Field("", description="a remark")


class ToleranceTable(Entry):
    """What may pass."""

    angle: SmallAngle | None = Field(None, description="of a bend's angle, in degrees")
    rotation: SmallAngle | None = Field(None, description="of a roll between bends, in degrees")
    length: PositiveLength | None = Field(None, description="of a leg, a length")
    ends: PositiveLength | None = Field(
        None, description="of where the B end is when the A end is laid right, a length"
    )
    iso_13920: Literal["A", "B", "C", "D"] | None = Field(
        None, description="the class of ISO 13920 for what is not said here"
    )


class Readings(Entry):
    """All that was measured on one made tube."""

    format: Literal[1] = 1
    units: Units = Field("mm", description='the unit of bare lengths, "mm" or "in"')
    tube: Name | None = Field(None, description="the name of the tube in the job")
    lot: Text = Field("", description="the lot of tubing, for the bench's trial bends")
    piece: Text = Field(
        "", description="the piece, as the shop log names it; told of again it counts once"
    )
    note: Text = Field("", description="a remark")
    plus_minus: PositiveLength | None = Field(
        None, description="what a tape that does not say may be off by, right 19 times of 20"
    )
    tolerance: ToleranceTable = Field(default_factory=ToleranceTable, description="what may pass")
    tapes: tuple[TapeRow, ...] = Field((), alias="tape", max_length=400, description="tapes")
    heights: tuple[HeightRow, ...] = Field(
        (), alias="height", max_length=200, description="heights over a flat floor"
    )
    bends: tuple[BendRow, ...] = Field((), alias="bend", max_length=200, description="bends")
