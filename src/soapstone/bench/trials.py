"""Trial bends: what the dial read, and the angle measured after release."""

from collections import Counter
from collections.abc import Iterable, Sequence
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
    piece: Text = Field(
        "", description="the piece they stand on, as the shop log names it; it counts once"
    )
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


def not_counted_yet(own: Iterable[Trial], others: Iterable[Trial]) -> list[Trial]:
    """Give the `others`, each one bend, that do not stand among a bench's `own`.

    A bend stands there when its piece does, or when the same reading and angle were written down
    for the same lot on the same day: as often as they stand there, so often they are passed over.
    """
    pieces = {(one.die, one.tubing, one.piece) for one in own if one.piece}
    written = Counter(_said(one, bend) for one in own if one.date for bend in one.bends or ())
    left = []
    for other in others:
        said = [_said(other, bend) for bend in other.bends or ()]
        if (other.die, other.tubing, other.piece.rpartition(":")[0]) in pieces:
            continue
        if said and written[said[0]] > 0:
            written[said[0]] -= 1
        else:
            left.append(other)
    return left


def _said(trial: Trial, bend: Sequence[float]) -> tuple[object, ...]:
    return trial.die, trial.tubing, trial.lot, trial.date, *bend
