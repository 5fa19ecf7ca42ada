"""The kinds of value that bench and job files hold, as types for the fields of models.

Each kind reads what a shop writes into mm, N and kg, and writes it back; each is described for JSON
Schema. A model made by code rather than from a file takes mm.
"""

from typing import Annotated, Any, TypeAlias

from pydantic import BaseModel, ConfigDict, PlainSerializer, PlainValidator, WithJsonSchema

from soapstone.bench.values import (
    LONGEST_NAME,
    above_zero,
    known_to,
    read_date,
    read_direction,
    read_flag,
    read_length,
    read_name,
    read_numbers,
    read_place,
    read_point,
    read_positive_length,
    read_room,
    read_size,
    read_tape,
    read_text,
    read_turn,
    write_force,
    write_length,
    write_mass,
    write_number,
    write_numbers,
    write_place,
    write_point,
)
from soapstone.geometry.vectors import Vec3
from soapstone.quantities import (
    Tape,
    parse_angle,
    parse_density,
    parse_force,
    parse_mass,
    parse_stress,
)

Schema: TypeAlias = dict[str, Any]


class Entry(BaseModel):
    """A table of a file: frozen; unknown keys are faults; code may use the attributes' names."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", validate_by_name=True, validate_by_alias=True
    )


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

Length = Annotated[
    float, PlainValidator(read_length), PlainSerializer(write_length), WithJsonSchema(LENGTH_SCHEMA)
]
PositiveLength = Annotated[
    float,
    PlainValidator(read_positive_length),
    PlainSerializer(write_length),
    WithJsonSchema(measured("12 3/8 in", "44.5 mm", least=0, above=True)),
]
Room = Annotated[
    float,
    PlainValidator(read_room),
    PlainSerializer(write_length),
    WithJsonSchema(measured("1/2 in", "12 mm", least=0)),
]
Angle = Annotated[
    float, PlainValidator(parse_angle), PlainSerializer(write_number), WithJsonSchema(ANGLE_SCHEMA)
]
Force = Annotated[
    float, PlainValidator(parse_force), PlainSerializer(write_force), WithJsonSchema(FORCE_SCHEMA)
]
PositiveForce = Annotated[
    float,
    PlainValidator(above_zero(parse_force, "a force")),
    PlainSerializer(write_force),
    WithJsonSchema(FORCE_SCHEMA),
]
PositiveMass = Annotated[
    float,
    PlainValidator(above_zero(parse_mass, "a mass")),
    PlainSerializer(write_mass),
    WithJsonSchema(MASS_SCHEMA),
]
Stress = Annotated[
    float,
    PlainValidator(above_zero(parse_stress, "a stress")),
    PlainSerializer(write_number),
    WithJsonSchema(measured("193 GPa", "36 ksi", least=0, above=True)),
]
Density = Annotated[
    float,
    PlainValidator(above_zero(parse_density, "a density")),
    PlainSerializer(write_number),
    WithJsonSchema(measured("7.9 g/cm3", least=0, above=True)),
]
Name = Annotated[str, PlainValidator(read_name), WithJsonSchema(NAME_SCHEMA)]
Text = Annotated[
    str, PlainValidator(read_text), WithJsonSchema({"type": "string", "maxLength": 2000})
]
Flag = Annotated[bool, PlainValidator(read_flag), WithJsonSchema({"type": "boolean"})]
Date = Annotated[str, PlainValidator(read_date), WithJsonSchema({"type": "string"})]
TapeStep = Annotated[
    Tape,
    PlainValidator(read_tape),
    PlainSerializer(str),
    WithJsonSchema({"type": "string", "examples": ["1/16 in", "1 mm"]}),
]
Place = Annotated[
    Vec3,
    PlainValidator(lambda value, info: read_place(value, known_to(info).units)),
    PlainSerializer(write_place),
    WithJsonSchema(PLACE_SCHEMA),
]
Point = Annotated[
    Vec3,
    PlainValidator(lambda value, info: read_point(value, known_to(info))),
    PlainSerializer(write_point),
    WithJsonSchema({"anyOf": [PLACE_SCHEMA, NAME_SCHEMA]}),
]
Direction = Annotated[
    Vec3,
    PlainValidator(read_direction),
    PlainSerializer(write_numbers),
    WithJsonSchema(NUMBERS_SCHEMA),
]
Turn = Annotated[
    Vec3,
    PlainValidator(read_turn),
    PlainSerializer(write_numbers),
    WithJsonSchema({"type": "array", "items": ANGLE_SCHEMA, "minItems": 3, "maxItems": 3}),
]
Size = Annotated[
    Vec3,
    PlainValidator(read_size),
    PlainSerializer(write_place),
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
    PlainValidator(lambda value: read_numbers(value, "multiples of gravity such as [0, 0, -3]")),
    PlainSerializer(write_numbers),
    WithJsonSchema(NUMBERS_SCHEMA),
]
