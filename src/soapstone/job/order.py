"""The order of a tube's bends and the end that leads, where a job fixes them by hand."""

from typing import Annotated, TypeAlias

from pydantic import PlainValidator, WithJsonSchema

from soapstone.written import read_number, refuse, shown

MOST = 1000
"""Bends that an order may have, as many as a tube."""

_ORDER = "the bends in the order made, each once, such as [2, 1, 3]"
_LEAD = '"A", "B" or a list of them, one for each bend in the order made'


def read_order(value: object) -> tuple[int, ...]:
    """Read bend numbers, counted from the A end; a ValueError names one that stands twice."""
    if not isinstance(value, (list, tuple)) or not 1 <= len(value) <= MOST:
        raise ValueError(f"expected {_ORDER}, found {shown(value)}")
    numbers = tuple(_bend(entry) for entry in value)
    for number in numbers:
        if numbers.count(number) > 1:
            raise ValueError(f"expected {_ORDER}; bend {number} stands twice")
    return numbers


def _bend(entry: object) -> int:
    number = read_number(entry, _ORDER)  # type: ignore[arg-type]
    if not 1 <= number <= MOST or number.denominator != 1:
        refuse(_ORDER, entry)
    return int(number)


def read_lead(value: object) -> str | tuple[str, ...]:
    """Read the end that leads: one for all bends, or one for each in the order made."""
    if isinstance(value, (list, tuple)) and 1 <= len(value) <= MOST:
        return tuple(_end(entry) for entry in value)
    return _end(value)


def _end(value: object) -> str:
    if value not in ("A", "B"):
        raise ValueError(f"expected {_LEAD}, found {shown(value)}")
    return str(value)


_END_SCHEMA = {"type": "string", "enum": ["A", "B"]}

BendOrder: TypeAlias = Annotated[
    tuple[int, ...],
    PlainValidator(read_order),
    WithJsonSchema(
        {
            "type": "array",
            "items": {"type": "integer", "minimum": 1},
            "minItems": 1,
            "maxItems": MOST,
        }
    ),
]
Lead: TypeAlias = Annotated[
    str | tuple[str, ...],
    PlainValidator(read_lead),
    WithJsonSchema(
        {
            "anyOf": [
                _END_SCHEMA,
                {"type": "array", "items": _END_SCHEMA, "minItems": 1, "maxItems": MOST},
            ]
        }
    ),
]
