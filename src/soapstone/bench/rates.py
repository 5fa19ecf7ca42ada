"""What a shop asks for its work: prices in money of its own, and minutes a piece of work takes."""

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from soapstone.bench.fields import Entry, PositiveMass, Room, Text
from soapstone.bench.ranges import Between

Price = Annotated[float, Between(0, 1e7, "a price")]
Minutes = Annotated[float, Between(0, 10_000, "minutes")]


class Rates(Entry):
    """Prices and times. A price left out is not known; one of 0 is asked for nothing.

    The minutes are common practice of a small shop with a manual bender; a shop's own are better.
    """

    currency: Text = Field("", max_length=20, description="the word for the money, such as EUR")
    rounding: Annotated[float, Between(0, 1000, "a sum of money", above=True)] = Field(
        0.01, description="the least sum of money that lines are rounded to"
    )
    hour: Price | None = Field(None, description="price of an hour's work")
    cut: Minutes = Field(4.0, description="minutes to saw and clean an end")
    bend: Minutes = Field(5.0, description="minutes to mark, roll and make a bend")
    set_up: Minutes = Field(20.0, description="minutes to put a die on")
    first_part: Minutes = Field(15.0, description="minutes to measure the first of each tube")
    cope: Minutes = Field(12.0, description="minutes to cope an end")
    joint: Minutes = Field(20.0, description="minutes to fit and weld a joint between tubes")
    finish: Price | None = Field(None, description="price to finish a square metre outside")
    packing: Price | None = Field(None, description="price to pack a parcel")
    packing_room: Room = Field(0.0, description="what packing adds on each side, a length")
    packing_mass: PositiveMass | None = Field(None, description="what packing weighs")
    kerf: Room = Field(3.0, description="what the saw takes away, a length")
    margin: Annotated[float, Between(0, 1000, "per cent")] = Field(
        0.0, description="per cent added to the sum of material, work, finish and packing"
    )
    valid_days: Annotated[float, Between(0, 3650, "days", above=True)] = Field(
        30, description="days that a quote holds"
    )


def exact(price: float) -> Decimal:
    """Give a number of a file as it was written there: 0.1 is a tenth."""
    return Decimal(repr(float(price)))
