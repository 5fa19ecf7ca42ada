"""The bender, and how it stands in the room."""

from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from soapstone.bench.fields import (
    Entry,
    Name,
    PositiveForce,
    PositiveLength,
)
from soapstone.bench.ranges import DEGREES, Between
from soapstone.bench.solids import Ball, Box, Cylinder, Halfspace, one_required, only_one
from soapstone.faults import KeyedError

BODIES = ("box", "cylinder", "ball", "halfspace")


class Ram(Entry):
    """What turns the die, where a ram does: its force at a lever arm."""

    force: PositiveForce = Field(description='its force, such as "70 kN"')
    arm: PositiveLength = Field(description="the lever arm it works at, a length")


class Body(Entry):
    """A solid of the machine or the room, in the machine's frame.

    The frame's origin lies on the tube's centreline where the bend starts, x to the tail, z up.
    """

    model_config = ConfigDict(json_schema_extra=one_required(BODIES))

    name: Name = Field("bender", description="what it is, for messages")
    box: Box | None = Field(None, description="a box { at, size, turn }")
    cylinder: Cylinder | None = Field(None, description="a round bar { from, to, diameter }")
    ball: Ball | None = Field(None, description="a ball { at, diameter }")
    halfspace: Halfspace | None = Field(None, description="a half of all space { at, normal }")

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        only_one(self, BODIES)
        return self

    @property
    def solid(self) -> Box | Cylinder | Ball | Halfspace:
        """The solid, whichever form it has."""
        solid = self.box or self.cylinder or self.ball or self.halfspace
        assert solid is not None
        return solid


Degrees = Annotated[float, Between(0, 360, DEGREES)]


class Bender(Entry):
    """The bender, and how it stands in the room."""

    name: Name = Field("bender", description="what the shop calls it")
    plane: Literal["horizontal", "vertical"] = Field(
        "horizontal", description='the plane the die turns in: "horizontal" or "vertical"'
    )
    swing: Literal["left", "right", "up", "down"] = Field(
        "left",
        description="where the lead end swings, seen from the tail looking at the die: "
        '"left" or "right", on a vertical plane "up" or "down"',
    )
    die_height: PositiveLength | None = Field(
        None, description="the tube's centreline above the floor, a length"
    )
    stroke: Degrees = Field(
        0.0, description="degrees of die travel before the ram must be re-pinned; 0: no limit"
    )
    max_angle: Annotated[float, Between(0, 360, DEGREES, above=True)] = Field(
        180.0, description="the largest angle it bends to, in degrees"
    )
    ram: Ram | None = Field(None, description="the ram { force, arm }")
    bodies: tuple[Body, ...] = Field((), alias="body", description="solids of machine and room")

    @model_validator(mode="before")
    @classmethod
    def _usual_swing(cls, given: object) -> object:
        """Let a vertical die swing up unless the file says otherwise."""
        if isinstance(given, dict) and given.get("plane") == "vertical" and "swing" not in given:
            return {**given, "swing": "up"}
        return given

    @model_validator(mode="after")
    def _swing_in_plane(self) -> Self:
        wanted = ("up", "down") if self.plane == "vertical" else ("left", "right")
        if self.swing not in wanted:
            raise KeyedError(
                "swing",
                f'expected "{wanted[0]}" or "{wanted[1]}" on a {self.plane} plane, '
                f'found "{self.swing}"',
            )
        return self
