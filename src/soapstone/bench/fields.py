"""The kinds of value that bench and job files hold, read from text or number into mm, N, kg.

Each kind is a type for a field of a model: it reads what a shop writes (in the file's units, which
travel as the validation context) and says what is expected when it is something else. A model made
by code rather than from a file has no context and takes mm.
"""

import datetime
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, ConfigDict, PlainValidator, ValidationInfo, WithJsonSchema

from soapstone.faults import KeyedError, near
from soapstone.geometry.vectors import Vec3
from soapstone.quantities import (
    Tape,
    parse_angle,
    parse_density,
    parse_force,
    parse_length,
    parse_mass,
    parse_stress,
    parse_tape,
)
from soapstone.written import Number, read_number, shown

LONGEST_NAME = 80  # characters
Schema: TypeAlias = dict[str, Any]


class Entry(BaseModel):
    """A table of a file: frozen; unknown keys are faults; code may use the attributes' names."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True
    )


@dataclass(frozen=True, slots=True)
class Known:
    """What else a file says that its values are read by.

    Attributes
    ----------
    units
        The unit of bare lengths.
    points
        Points with names, in mm.
    tubes
        Names of the file's tubes; None when no tube can be named.
    folder
        Where the file lies: other files are named from there. None: no other file can be read.
    """

    units: str = "mm"
    points: Mapping[str, Vec3] = field(default_factory=dict)
    tubes: Collection[str] | None = None
    folder: Path | None = None


_NOTHING = Known()


def known_to(info: ValidationInfo) -> Known:
    """Give what else the file says; for a model made by code, nothing, and mm."""
    return info.context if isinstance(info.context, Known) else _NOTHING


def read_point(value: object, known: Known) -> Vec3:
    """Read a point: a list of three lengths, or the name of one."""
    if isinstance(value, str):
        if value not in known.points:
            raise ValueError(f'no point named "{value[:40]}"{near(value, known.points)}')
        return known.points[value]
    return read_place(value, known.units)


def read_place(value: object, units: str) -> Vec3:
    """Read three lengths."""
    x, y, z = _three(value, "a point [x, y, z]")
    return (
        _coordinate(x, "x", units),
        _coordinate(y, "y", units),
        _coordinate(z, "z", units),
    )


def _three(value: object, wanted: str) -> Sequence[Any]:
    if not isinstance(value, (list, tuple)) or len(value) != 3:
        found = f"a list of {len(value)}" if isinstance(value, (list, tuple)) else shown(value)
        raise ValueError(f"expected {wanted}, found {found}")
    return value


def _coordinate(value: Number, name: str, units: str) -> float:
    try:
        return parse_length(value, units)
    except ValueError as error:
        raise KeyedError(name, str(error)) from None


def _numbers(value: object, wanted: str) -> Vec3:
    x, y, z = (float(read_number(number, wanted)) for number in _three(value, wanted))
    return (x, y, z)


def _direction(value: object) -> Vec3:
    wanted = "a direction [x, y, z] such as [0, 0, 1]"
    x, y, z = _numbers(value, wanted)
    length = math.hypot(x, y, z)
    if not length > 1e-9:
        raise ValueError(f"expected {wanted}, found one of no length")
    if abs(length - 1) < 1e-12:  # a second reading changes nothing
        return (x, y, z)
    return (x / length, y / length, z / length)


def _turn(value: object) -> Vec3:
    x, y, z = _three(value, "degrees about x, y and z such as [0, 0, 15]")
    return (parse_angle(x), parse_angle(y), parse_angle(z))


def _size(value: object, info: ValidationInfo) -> Vec3:
    size = read_place(value, known_to(info).units)
    if min(size) <= 0:
        raise ValueError("expected three edge lengths above 0")
    return size


def _length(value: Number, info: ValidationInfo) -> float:
    return parse_length(value, known_to(info).units)


def _positive_length(value: Number, info: ValidationInfo) -> float:
    length = _length(value, info)
    if length <= 0:
        raise ValueError(f"expected a length above 0, found {shown(value)}")
    return length


def _room(value: Number, info: ValidationInfo) -> float:
    length = _length(value, info)
    if length < 0:
        raise ValueError(f"expected a length of 0 or more, found {shown(value)}")
    return length


def _above_zero(read: Callable[[Number], float], what: str) -> Callable[[Number], float]:
    def read_above_zero(value: Number) -> float:
        number = read(value)
        if number <= 0:
            raise ValueError(f"expected {what} above 0, found {shown(value)}")
        return number

    return read_above_zero


def _name(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"expected a name in quotes, found {shown(value)}")
    name = value.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise ValueError(
            f"expected a name of 1 to {LONGEST_NAME} characters on one line, found {shown(value)}"
        )
    return name


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 2000:
        raise ValueError(f"expected text of at most 2000 characters, found {shown(value)}")
    return value


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"expected true or false, found {shown(value)}")
    return value


def _date(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime.date) else _text(value)


def _tape(value: object) -> Tape:
    return value if isinstance(value, Tape) else parse_tape(value)  # type: ignore[arg-type]


def measured(*examples: str, least: float | None = None, above: bool = False) -> Schema:
    """Give the JSON Schema of a number, or of text with a digit in it that carries a unit."""
    number: Schema = {"type": "number"}
    if least is not None:
        number["exclusiveMinimum" if above else "minimum"] = least
    text = {"type": "string", "pattern": "[0-9¼½¾⅐-⅞]", "maxLength": 60}
    return {"anyOf": [number, text], "examples": list(examples)}


LENGTH_SCHEMA = measured("12 3/8 in", "44.5 mm", "5' 6-1/2\"")
FORCE_SCHEMA: Schema = {
    "anyOf": [{"const": 0}, {"type": "string", "pattern": "[0-9¼½¾⅐-⅞]"}],
    "examples": ["500 N", "120 lbf"],
}
MASS_SCHEMA: Schema = {"type": "string", "pattern": "[0-9¼½¾⅐-⅞]", "examples": ["22 kg", "48 lb"]}
PLACE_SCHEMA: Schema = {"type": "array", "items": LENGTH_SCHEMA, "minItems": 3, "maxItems": 3}
NUMBERS_SCHEMA: Schema = {
    "type": "array",
    "items": {"type": "number"},
    "minItems": 3,
    "maxItems": 3,
}
ANGLE_SCHEMA = measured("45 deg")
NAME_SCHEMA: Schema = {"type": "string", "minLength": 1, "maxLength": LONGEST_NAME}

Length = Annotated[float, PlainValidator(_length), WithJsonSchema(LENGTH_SCHEMA)]
PositiveLength = Annotated[
    float,
    PlainValidator(_positive_length),
    WithJsonSchema(measured("12 3/8 in", "44.5 mm", least=0, above=True)),
]
Room = Annotated[float, PlainValidator(_room), WithJsonSchema(measured("1/2 in", "12 mm", least=0))]
Angle = Annotated[float, PlainValidator(parse_angle), WithJsonSchema(ANGLE_SCHEMA)]
Force = Annotated[float, PlainValidator(parse_force), WithJsonSchema(FORCE_SCHEMA)]
PositiveForce = Annotated[
    float, PlainValidator(_above_zero(parse_force, "a force")), WithJsonSchema(FORCE_SCHEMA)
]
PositiveMass = Annotated[
    float, PlainValidator(_above_zero(parse_mass, "a mass")), WithJsonSchema(MASS_SCHEMA)
]
Stress = Annotated[
    float,
    PlainValidator(_above_zero(parse_stress, "a stress")),
    WithJsonSchema(measured("193 GPa", "36 ksi", least=0, above=True)),
]
Density = Annotated[
    float,
    PlainValidator(_above_zero(parse_density, "a density")),
    WithJsonSchema(measured("7.9 g/cm3", least=0, above=True)),
]
Name = Annotated[str, PlainValidator(_name), WithJsonSchema(NAME_SCHEMA)]
Text = Annotated[str, PlainValidator(_text), WithJsonSchema({"type": "string", "maxLength": 2000})]
Flag = Annotated[bool, PlainValidator(_flag), WithJsonSchema({"type": "boolean"})]
Date = Annotated[str, PlainValidator(_date), WithJsonSchema({"type": "string"})]
TapeStep = Annotated[
    Tape, PlainValidator(_tape), WithJsonSchema({"type": "string", "examples": ["1/16 in", "1 mm"]})
]
Place = Annotated[
    Vec3,
    PlainValidator(lambda value, info: read_place(value, known_to(info).units)),
    WithJsonSchema(PLACE_SCHEMA),
]
Point = Annotated[
    Vec3,
    PlainValidator(lambda value, info: read_point(value, known_to(info))),
    WithJsonSchema({"anyOf": [PLACE_SCHEMA, NAME_SCHEMA]}),
]
Direction = Annotated[Vec3, PlainValidator(_direction), WithJsonSchema(NUMBERS_SCHEMA)]
Turn = Annotated[
    Vec3,
    PlainValidator(_turn),
    WithJsonSchema({"type": "array", "items": ANGLE_SCHEMA, "minItems": 3, "maxItems": 3}),
]
Size = Annotated[
    Vec3,
    PlainValidator(_size),
    WithJsonSchema(
        {
            "type": "array",
            "items": measured("12 in", "300 mm", least=0, above=True),
            "minItems": 3,
            "maxItems": 3,
        }
    ),
]
Accelerations = Annotated[
    Vec3,
    PlainValidator(lambda value: _numbers(value, "multiples of gravity such as [0, 0, -3]")),
    WithJsonSchema(NUMBERS_SCHEMA),
]
