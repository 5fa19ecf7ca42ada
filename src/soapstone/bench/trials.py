"""Trial bends: what the dial read, and the angle measured after release."""

from typing import Annotated, Self

from pydantic import ConfigDict, Field, PlainValidator, WithJsonSchema, model_validator

from soapstone.bench.fields import Date, Entry, Name, Text
from soapstone.bench.solids import one_required, only_one
from soapstone.written import read_number, shown


def _trial_bends(value: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, (list, tuple)) or not value:
        raise ValueError(f"expected trial bends [[dial, angle], ...], found {shown(value)}")
    return tuple(trial_bend(pair) for pair in value)


def trial_bend(pair: object) -> tuple[float, float]:
    """Read one trial bend: the dial reading held, and the angle measured after release.

    Raises
    ------
    ValueError
        It is not two numbers that a dial and a bend can have.
    """
    wanted = "trial bends [dial, angle] in degrees"
    if not isinstance(pair, (list, tuple)) or len(pair) != 2:
        raise ValueError(f"expected {wanted}, found {shown(pair)}")
    dial, angle = (float(read_number(number, wanted)) for number in pair)
    if not (-180 < dial < 540 and 0 < angle < 360):
        raise ValueError(f"expected {wanted}, found [{dial:g}, {angle:g}]")
    return dial, angle


class Trial(Entry):
    """Trial bends of one die in one lot of tubing: each a dial reading and the angle it gave."""

    model_config = ConfigDict(json_schema_extra=one_required(("bends", "file")))

    die: Name = Field(description="the name of a die")
    tubing: Name = Field(description="the name of a tubing")
    lot: Text = Field("", description="the lot the tubing came from")
    date: Date = Field("", description="when they were bent")
    bends: (
        Annotated[
            tuple[tuple[float, float], ...],
            PlainValidator(_trial_bends),
            WithJsonSchema(
                {
                    "type": "array",
                    "minItems": 1,
                    "items": {
                        "type": "array",
                        "items": {"type": "number"},
                        "minItems": 2,
                        "maxItems": 2,
                    },
                }
            ),
        ]
        | None
    ) = Field(None, description="the bends, [[dial, angle], ...]")
    file: Name | None = Field(
        None, description="a CSV file of them, columns dial and angle, perhaps lot"
    )

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        only_one(self, ("bends", "file"))
        return self
