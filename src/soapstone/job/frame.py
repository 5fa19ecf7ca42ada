"""Tubes as a frame: where they are held, where they are welded, what they carry."""

from typing import Annotated, Literal, Self, TypeAlias

from pydantic import (
    ConfigDict,
    Field,
    PlainSerializer,
    PlainValidator,
    SerializationInfo,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from soapstone.bench.fields import (
    FORCE_SCHEMA,
    NAME_SCHEMA,
    PLACE_SCHEMA,
    Accelerations,
    Direction,
    Entry,
    Name,
    Point,
    PositiveLength,
    PositiveMass,
)
from soapstone.bench.solids import one_required, only_one
from soapstone.bench.values import known_to, read_point, write_force, write_point
from soapstone.faults import KeyedError
from soapstone.geometry.vectors import Vec3
from soapstone.job.tube import TubeName, read_tube_name
from soapstone.quantities import parse_force
from soapstone.written import shown

GRAVITY = 9.80665  # m/s2, the standard value
FEWEST_BOLTS, MOST_BOLTS = 3, 100
"""Two bolts on a circle stand in one line, and hold no moment about it."""

FREEDOMS = ("x", "y", "z", "rx", "ry", "rz")

Freedom: TypeAlias = Literal["x", "y", "z", "rx", "ry", "rz"]


def _end_or_point(value: object, info: ValidationInfo) -> str | Vec3:
    """Read "A", "B" or a point; a point that someone named A or B is not meant."""
    if isinstance(value, str) and value in ("A", "B"):
        return value
    try:
        return read_point(value, known_to(info))
    except ValueError as error:
        raise ValueError(f'expected "A", "B" or a point; {error}') from None


def _freedoms(value: object) -> tuple[str, ...]:
    if value == "all":
        return FREEDOMS
    if value == "pinned":
        return FREEDOMS[:3]
    known = isinstance(value, (list, tuple)) and value
    if not known or any(one not in FREEDOMS for one in value):  # type: ignore[attr-defined]
        raise ValueError(
            f'expected "all", "pinned" or a list from {", ".join(FREEDOMS)}, found {shown(value)}'
        )
    return tuple(one for one in FREEDOMS if one in value)  # type: ignore[operator]


def _write_place_or_name(value: str | Vec3, info: SerializationInfo) -> object:
    return value if isinstance(value, str) else write_point(value, info)


def _write_freedoms(value: tuple[str, ...], info: SerializationInfo) -> object:
    if not info.context:
        return value
    return {FREEDOMS: "all", FREEDOMS[:3]: "pinned"}.get(value, list(value))


def _bolt_count(value: object) -> int:
    wanted = f"a whole number of bolts from {FEWEST_BOLTS} to {MOST_BOLTS}"
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"expected {wanted}, found {shown(value)}")
    if not FEWEST_BOLTS <= value <= MOST_BOLTS:
        raise ValueError(f"expected {wanted}, found {value}")
    return value


class Bolts(Entry):
    """The bolts that hold a foot: evenly round a circle, or at the corners of a rectangle."""

    model_config = ConfigDict(json_schema_extra=one_required(("circle", "rectangle")))

    circle: PositiveLength | None = Field(
        None, description="the diameter of the circle they stand on, a length"
    )
    count: Annotated[
        int,
        PlainValidator(_bolt_count),
        WithJsonSchema({"type": "integer", "minimum": FEWEST_BOLTS, "maximum": MOST_BOLTS}),
    ] = Field(4, description="how many stand on the circle")
    rectangle: tuple[PositiveLength, PositiveLength] | None = Field(
        None, description="the sides of the rectangle with four at its corners, two lengths"
    )
    size: PositiveLength | None = Field(None, description="their nominal diameter, a length")
    normal: Direction = Field(
        (0.0, 0.0, 1.0), description="the direction out of what they are screwed into"
    )
    along: Direction = Field(
        (1.0, 0.0, 0.0), description="toward the first one, or along the rectangle's first side"
    )

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        only_one(self, ("circle", "rectangle"))
        return self


class Support(Entry):
    """A place where the job is held by the world."""

    tube: TubeName = Field(description="the name of a tube")
    at: Annotated[
        str | Vec3,
        PlainValidator(_end_or_point),
        PlainSerializer(_write_place_or_name),
        WithJsonSchema({"anyOf": [PLACE_SCHEMA, NAME_SCHEMA]}),
    ] = Field(description='"A", "B" or a point on its centreline')
    fix: Annotated[
        tuple[Freedom, ...],
        PlainValidator(_freedoms),
        PlainSerializer(_write_freedoms),
        WithJsonSchema(
            {
                "anyOf": [
                    {"enum": ["all", "pinned"]},
                    {"type": "array", "items": {"enum": list(FREEDOMS)}, "minItems": 1},
                ]
            }
        ),
    ] = Field(description='"all", "pinned" or a list from x, y, z, rx, ry, rz')
    bolts: Bolts | None = Field(
        None, description="the bolts that hold it, about the place it is held at"
    )


class Joint(Entry):
    """Tubes welded to each other."""

    tubes: tuple[TubeName, ...] = Field(
        min_length=2, max_length=50, description="the names of two tubes or more"
    )
    at: Point = Field(description="where they meet, [x, y, z]")


def _forces(value: object) -> Vec3:
    wanted = 'a force ["0 N", "0 N", "-900 N"]'
    if not isinstance(value, (list, tuple)) or len(value) != 3:
        raise ValueError(f"expected {wanted}, found {shown(value)}")
    x, y, z = (parse_force(one) for one in value)
    return (x, y, z)


def _write_forces(value: Vec3, info: SerializationInfo) -> object:
    return [write_force(one, info) for one in value] if info.context else value


def _write_onto(value: tuple[str | Vec3, ...], info: SerializationInfo) -> object:
    return [_write_place_or_name(one, info) for one in value] if info.context else value


def _onto(value: object, info: ValidationInfo) -> tuple[str | Vec3, ...]:
    """Read tubes, by name, and points on them; one alone needs no list."""
    rows = [value] if isinstance(value, str) else value
    if not isinstance(rows, (list, tuple)) or not rows:
        raise ValueError(f"expected a list of tubes or points, found {shown(value)}")
    known = known_to(info)
    found: list[str | Vec3] = []
    for row in rows:
        point = isinstance(row, str) and row in known.points and row not in (known.tubes or ())
        if point or not isinstance(row, str):
            found.append(read_point(row, known))
        else:
            found.append(read_tube_name(row, info))
    return tuple(found)


class Load(Entry):
    """One load; those of one case act together. A force, or a mass with its acceleration."""

    model_config = ConfigDict(json_schema_extra=one_required(("force", "mass")))

    case: Name = Field(description="the load case it belongs to")
    at: Point = Field(description="where it acts, [x, y, z]")
    onto: Annotated[
        tuple[str | Vec3, ...],
        PlainValidator(_onto),
        PlainSerializer(_write_onto),
        WithJsonSchema(
            {
                "anyOf": [
                    NAME_SCHEMA,
                    {
                        "type": "array",
                        "items": {"anyOf": [PLACE_SCHEMA, NAME_SCHEMA]},
                        "minItems": 1,
                    },
                ]
            }
        ),
    ] = Field(description="the tubes that carry it, at their nearest point, or points on them")
    force: (
        Annotated[
            Vec3,
            PlainValidator(_forces),
            PlainSerializer(_write_forces),
            WithJsonSchema({"type": "array", "items": FORCE_SCHEMA, "minItems": 3, "maxItems": 3}),
        ]
        | None
    ) = Field(None, description='its force ["0 N", "0 N", "-900 N"]')
    mass: PositiveMass | None = Field(None, description='its mass, such as "22 kg"')
    g: Accelerations | None = Field(
        None, description="with mass: the acceleration, in multiples of gravity; else [0, 0, -1]"
    )

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        only_one(self, ("force", "mass"))
        if self.force is not None and self.g is not None:
            raise KeyedError("g", "expected mass beside it, not force")
        return self

    @property
    def vector(self) -> Vec3:
        """The force in N: as given, or mass x acceleration."""
        if self.force is not None:
            return self.force
        assert self.mass is not None
        x, y, z = self.g or (0.0, 0.0, -1.0)
        weight = self.mass * GRAVITY
        return (weight * x, weight * y, weight * z)
