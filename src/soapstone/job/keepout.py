"""Keep-outs: solids that tubes must stay clear of, standing or on hinges."""

from typing import Annotated, Self

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from soapstone.bench.fields import Angle, Direction, Entry, Name, Point, Room
from soapstone.bench.solids import (
    Ball,
    Box,
    Cylinder,
    Halfspace,
    Mesh,
    Solid,
    one_required,
    only_one,
)
from soapstone.job.tube import TubeName

FORMS = ("box", "cylinder", "ball", "halfspace", "mesh", "tube")


class Hinge(Entry):
    """How a keep-out moves: it turns right-handed about an axis; 0 is as drawn."""

    through: Point = Field(description="a point on the axis, [x, y, z]")
    along: Direction = Field(description="the axis' direction, [x, y, z]")
    start: Angle = Field(alias="from", description="where the travel begins, in degrees")
    end: Angle = Field(alias="to", description="where the travel ends, in degrees")

    @property
    def low(self) -> float:
        """The lesser end of the travel in degrees."""
        return min(self.start, self.end)

    @property
    def high(self) -> float:
        """The greater end of the travel in degrees."""
        return max(self.start, self.end)


def _listed(value: object) -> object:
    return [value] if isinstance(value, (dict, Hinge)) else value


class KeepOut(Entry):
    """A solid that tubes must stay clear of, perhaps one that moves."""

    model_config = ConfigDict(json_schema_extra=one_required(FORMS))

    name: Name = Field(description="what it is called")
    box: Box | None = Field(None, description="a box { at, size, turn }")
    cylinder: Cylinder | None = Field(None, description="a round bar { from, to, diameter }")
    ball: Ball | None = Field(None, description="a ball { at, diameter }")
    halfspace: Halfspace | None = Field(None, description="a half of all space { at, normal }")
    mesh: Mesh | None = Field(None, description="a surface from a file { file, units, at, turn }")
    tube: TubeName | None = Field(None, description="another tube of the job, by its name")
    gap: Room | None = Field(
        None, description="clearance it needs from a tube's surface; left out: the tube's gap"
    )
    hinges: Annotated[
        tuple[Hinge, ...],
        BeforeValidator(_listed, json_schema_input_type=Hinge | tuple[Hinge, ...]),
    ] = Field(
        (), alias="hinge", max_length=4, description="{ through, along, from, to }, or several"
    )

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        only_one(self, FORMS)
        return self

    @property
    def solid(self) -> Solid:
        """The solid, whichever form it has; misuse for a keep-out that is a tube."""
        solid = self.box or self.cylinder or self.ball or self.halfspace or self.mesh
        assert solid is not None
        return solid
