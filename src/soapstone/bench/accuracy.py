"""How truly a shop works: what its marks, cuts, levels and wrap bands may be off by."""

from typing import Annotated

from pydantic import Field

from soapstone.bench.fields import Entry, Room
from soapstone.bench.ranges import DEGREES, Between

WITHIN = 1.96
"""Standard deviations within which a normal error is 19 times in 20."""


class Accuracy(Entry):
    """Plus and minus figures that hold 19 times in 20. Lengths in mm, angles in degrees.

    The usual figures are common practice of a tape, a scriber, a saw, a digital level and a
    protractor.
    """

    mark: Room = Field(1.0, description="a mark scribed, and brought to the index line, a length")
    cut: Room = Field(1.0, description="a saw cut, a length")
    index_line: Room = Field(1.0, description="where the die's index line truly is, a length")
    stretch: Annotated[float, Between(0, 0.1, "a ratio")] = Field(
        0.006, description="what a die's stretch may be off by"
    )
    level: Annotated[float, Between(0, 10, DEGREES)] = Field(
        0.5, description="a level's reading on round tube, in degrees"
    )
    band: Room = Field(1.0, description="a wrap band or a line scribed along the tube, a length")
    protractor: Annotated[float, Between(0, 10, DEGREES)] = Field(
        0.5, description="a finished bend's angle as measured, in degrees"
    )
