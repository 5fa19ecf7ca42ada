"""Tubes that make a rail, for the codes that rule heights, openings and grips."""

from pydantic import Field

from soapstone.bench.fields import Entry, Flag, Name
from soapstone.job.tube import TubeName


class Rail(Entry):
    """One rail: its tubes, the floor it stands over, and whether a hand is to close round it."""

    tubes: tuple[TubeName, ...] = Field(
        min_length=1, max_length=50, description="the tubes that make it, in any order"
    )
    above: Name | None = Field(
        None, description="the floor: the name of a halfspace keep-out, or of a point (z is up)"
    )
    grip: Flag = Field(False, description="whether a hand is to close round its tubes")
