"""A tube as the job file wishes it: tubing, die, and its shape said in one of four ways."""

from typing import Annotated, Literal, Self, TypeAlias

import numpy as np
from pydantic import (
    ConfigDict,
    Discriminator,
    Field,
    PlainSerializer,
    PlainValidator,
    Tag,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from soapstone.bench.fields import (
    NAME_SCHEMA,
    Direction,
    Entry,
    Name,
    Point,
    PositiveLength,
    Room,
    Text,
)
from soapstone.bench.model import DieFigures, TubingFigures, check_radius
from soapstone.bench.ranges import DEGREES, Between
from soapstone.bench.solids import only_one
from soapstone.bench.values import known_to, write_numbers
from soapstone.faults import INLINE, NAMED, KeyedError, near
from soapstone.geometry.vectors import Vec3, any_perpendicular
from soapstone.job.order import BendOrder, Lead
from soapstone.written import read_number, refuse, shown

WAYS = ("points", "bends", "mirror", "route")
_PLANES: dict[str, Vec3] = {"xy": (0.0, 0.0, 1.0), "yz": (1.0, 0.0, 0.0), "xz": (0.0, 1.0, 0.0)}
_ORIGIN: Vec3 = (0.0, 0.0, 0.0)
_SAME_PLACE = 0.01
"""mm: no tape tells two points apart that lie nearer to each other."""


def read_tube_name(value: object, info: ValidationInfo) -> str:
    """Read the name of one of the job's tubes."""
    if not isinstance(value, str):
        raise ValueError(f"expected the name of a tube, found {shown(value)}")
    name, tubes = value.strip(), known_to(info).tubes
    if tubes is not None and name not in tubes:
        raise ValueError(f'no tube named "{name[:40]}"{near(name, tubes)}')
    return name


def _parallel(a: Vec3, b: Vec3) -> bool:
    cosine = sum(x * y for x, y in zip(a, b, strict=True))
    return abs(cosine) > 1 - 1e-9


def _wrapped(degrees: float) -> float:
    """Bring an angle into (-180, 180]; one that is there keeps its last digit."""
    return degrees if -180 < degrees <= 180 else 180.0 - (180.0 - degrees) % 360.0


def form_of(value: object) -> str:
    """Tell the two forms of a value apart: a table written in place, or a name."""
    return INLINE if isinstance(value, (dict, Entry)) else NAMED


TubeName = Annotated[str, PlainValidator(read_tube_name), WithJsonSchema(NAME_SCHEMA)]


class InlineTubing(TubingFigures):
    """Tubing written in the job itself."""

    name: Name | None = Field(None, description="what to call it")


class InlineDie(DieFigures):
    """A die written in the job itself; without `od` it is cut for the tube's own."""

    name: Name | None = Field(None, description="what to call it")
    od: PositiveLength | None = Field(None, description="the outside diameter of its tube")

    @model_validator(mode="after")
    def _turns_outside_itself(self) -> Self:
        if self.od is not None:
            check_radius(self.clr, self.od)
        return self


class Plane(Entry):
    """A plane through a point."""

    at: Point = Field(description="a point on it, [x, y, z]")
    normal: Direction = Field(description="the direction square to it, [x, y, z]")


BendAngle = Annotated[float, Between(0, 359.9, DEGREES, above=True)]
Rotation = Annotated[float, Between(-360, 360, DEGREES)]


class Bends(Entry):
    """A shape by its straights and bends (LRA), of the free shape, placed by its A end."""

    legs: tuple[Room, ...] = Field(
        min_length=1, max_length=1000, description="lengths of the straights, one more than angles"
    )
    angles: tuple[BendAngle, ...] = Field((), description="bend angles in degrees")
    rotations: tuple[Rotation, ...] | None = Field(
        None, description="rotation before each bend in degrees, the first 0; left out: all 0"
    )
    start: Point = Field(_ORIGIN, alias="from", description="where the A end is, [x, y, z]")
    along: Direction = Field((1.0, 0.0, 0.0), description="direction of travel at the A end")
    up: Direction | None = Field(None, description="the direction the first bend turns toward")

    @model_validator(mode="after")
    def _belong_together(self) -> Self:
        count = len(self.angles)
        if len(self.legs) != count + 1:
            raise ValueError(
                f"expected one more leg than angles; found {len(self.legs)} legs, {count} angles"
            )
        if self.rotations is not None and len(self.rotations) != count:
            raise ValueError(
                f"expected as many rotations as angles; found {len(self.rotations)} rotations, "
                f"{count} angles"
            )
        if self.rotations and self.rotations[0] != 0:
            raise ValueError('expected the first rotation to be 0; "up" says where it turns')
        if self.up is not None and _parallel(self.up, self.along):
            raise ValueError("expected up to point away from along, they are parallel")
        return self

    @property
    def turns(self) -> tuple[float, ...]:
        """Rotations, one to a bend, in (-180, 180]."""
        if self.rotations is None:
            return (0.0,) * len(self.angles)
        return tuple(_wrapped(rotation) for rotation in self.rotations)

    @property
    def upright(self) -> Vec3:
        """Unit direction square to `along` that the first bend turns toward."""
        along = np.array(self.along)
        if self.up is None:
            square = any_perpendicular(along)
        else:
            up = np.array(self.up)
            square = up - float(up @ along) * along
        x, y, z = (square / np.linalg.norm(square)).tolist()
        return (x, y, z)


class Mirror(Entry):
    """The mirror image of another tube."""

    of: TubeName = Field(description="the name of the tube it mirrors")
    across: Annotated[Literal["xy", "yz", "xz"], Tag(NAMED)] | Annotated[Plane, Tag(INLINE)] = (
        Field(
            discriminator=Discriminator(form_of),
            description='the plane: "xy", "yz", "xz" or { at, normal }',
        )
    )

    @property
    def plane(self) -> tuple[Vec3, Vec3]:
        """A point of the plane, and its unit normal."""
        if isinstance(self.across, Plane):
            return self.across.at, self.across.normal
        return _ORIGIN, _PLANES[self.across]


class RouteEnd(Entry):
    """Where a route starts or ends. Without `along` its direction there is free."""

    at: Point = Field(description="where it is, [x, y, z]")
    along: Direction | None = Field(None, description="direction of travel there, A to B")
    within: Annotated[float, Between(0, 180, DEGREES)] = Field(
        0.0, description="degrees that it may lean from along"
    )

    @model_validator(mode="after")
    def _leans_from_something(self) -> Self:
        if self.within and self.along is None:
            raise KeyedError("within", "expected along beside it, the direction it may lean from")
        return self


class Waypoint(Entry):
    """A place that a route passes."""

    at: Point = Field(description="where it is, [x, y, z]")
    within: Room = Field(0.0, description="how near the centreline must pass, a length")


def _count(value: object) -> int:
    wanted = "a number of bends from 0 to 20"
    number = read_number(value, wanted)  # type: ignore[arg-type]
    if not 0 <= number <= 20 or number.denominator != 1:
        refuse(wanted, value)
    return int(number)


def _limits(value: object) -> tuple[float, float]:
    wanted = "two bend angles [least, most] in degrees"
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        refuse(wanted, value)
    low, high = (float(read_number(angle, wanted)) for angle in value)
    if not 0 <= low <= high or not 0 < high <= 180:
        raise ValueError(f"expected {wanted}, found [{low:g}, {high:g}]")
    return low, high


class Route(Entry):
    """A shape to be found: from here to there, clear of all keep-outs, with the fewest bends."""

    start: RouteEnd = Field(description="the A end { at, along, within }")
    end: RouteEnd = Field(description="the B end { at, along, within }")
    through: tuple[Waypoint, ...] = Field((), description="places it passes, { at, within }")
    max_bends: Annotated[
        int,
        PlainValidator(_count),
        WithJsonSchema({"type": "integer", "minimum": 0, "maximum": 20}),
    ] = Field(6, description="the most bends it may have")
    min_straight: Room | None = Field(None, description="least straight between two bends")
    min_first: Room | None = Field(None, description="least straight at the A end")
    min_last: Room | None = Field(None, description="least straight at the B end")
    angles: (
        Annotated[
            tuple[float, float],
            PlainValidator(_limits),
            PlainSerializer(write_numbers),
            WithJsonSchema(
                {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
            ),
        ]
        | None
    ) = Field(None, description="limits of its bend angles, [least, most] in degrees")

    @model_validator(mode="after")
    def _leads_somewhere(self) -> Self:
        if max(abs(a - b) for a, b in zip(self.start.at, self.end.at, strict=True)) < _SAME_PLACE:
            raise KeyedError(
                "end", "expected another place than start, a route leads from one to the other"
            )
        return self


TubingChoice: TypeAlias = Annotated[Name, Tag(NAMED)] | Annotated[InlineTubing, Tag(INLINE)]
DieChoice: TypeAlias = Annotated[Name, Tag(NAMED)] | Annotated[InlineDie, Tag(INLINE)]


class Tube(Entry):
    """One tube of the job."""

    model_config = ConfigDict(
        json_schema_extra={
            "oneOf": [
                {"required": ["mirror"] if way == "mirror" else [way, "tubing"]} for way in WAYS
            ]
        }
    )

    name: Name = Field(description="what it is called")
    tubing: Annotated[TubingChoice, Discriminator(form_of)] | None = Field(
        None, description="the name of a tubing of the bench, or { od, wall, material, ... }"
    )
    die: Annotated[DieChoice, Discriminator(form_of)] | None = Field(
        None, description="the name of a die of the bench, or { clr, clamp, follower, ... }"
    )
    gap: Room = Field(0.0, description="clearance that it needs from keep-outs, a length")
    tolerance: PositiveLength | None = Field(
        None, description="how far its ends may be off, a length"
    )
    iso_13920: Literal["A", "B", "C", "D"] | None = Field(
        None, description='its class of ISO 13920, "A" to "D"'
    )
    note: Text = Field("", description="a remark for the sheet")
    order: BendOrder | None = Field(
        None, description="bend numbers from the A end in the order made; left out: the simplest"
    )
    lead: Lead | None = Field(
        None,
        description='the end that goes through the die first, "A" or "B", or one for each bend',
    )
    points: tuple[Point, ...] | None = Field(
        None, min_length=2, max_length=1000, description="corners, ends included"
    )
    bends: Bends | None = Field(None, description="legs, angles and rotations")
    mirror: Mirror | None = Field(None, description="the mirror image { of, across }")
    route: Route | None = Field(None, description="a route to be found { start, end, ... }")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        only_one(self, WAYS)
        if self.tubing is None and self.mirror is None:
            raise KeyedError(
                "tubing",
                "missing; expected the name of a tubing of the bench, "
                "or { od, wall, material, ... }",
            )
        return self

    @property
    def straight(self) -> bool:
        """Whether it is sure to have no bend."""
        if self.points is not None:
            return len(self.points) == 2
        return self.bends is not None and not self.bends.angles
