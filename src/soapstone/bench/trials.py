"""Trial bends: what the dial read, and the angle measured after release."""

from pathlib import Path
from typing import Annotated, Self

from pydantic import ConfigDict, Field, PlainValidator, WithJsonSchema, model_validator

from soapstone.bench.fields import Date, Entry, Name, Text
from soapstone.bench.solids import one_required, only_one
from soapstone.textfiles import read_table, refuse_file
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


def read_trial_bends(path: Path) -> dict[str, tuple[tuple[float, float], ...]]:
    """Read trial bends from a CSV file: columns `dial` and `angle`, perhaps `lot`.

    Returns
    -------
    dict
        By lot ("" where there is none, in order of first appearance), bends (dial, angle) in
        degrees.

    Raises
    ------
    InputError
        The file or a row of it is wrong.
    """
    table = read_table(path)
    missing = [column for column in ("dial", "angle") if column not in table.columns]
    if missing:
        raise refuse_file(path, f"expected columns dial and angle; {missing[0]} is missing")
    if not table.rows:
        raise refuse_file(path, "expected at least one trial bend below the row of columns")
    bends: dict[str, list[tuple[float, float]]] = {}
    for row in table.rows:
        pair = [table.number(row, "dial"), table.number(row, "angle")]
        try:
            bend = trial_bend(pair)
        except ValueError as error:
            raise table.fault(row, str(error)) from None
        bends.setdefault(row.cells.get("lot", "")[:80], []).append(bend)
    return {lot: tuple(rows) for lot, rows in bends.items()}
