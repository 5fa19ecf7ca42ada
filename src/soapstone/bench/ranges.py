"""Plain numbers and angles with limits, as fields of bench and job files."""

from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from soapstone.bench.values import write_number
from soapstone.quantities import parse_angle
from soapstone.written import Number, read_number, refuse

DEGREES = "degrees"


@dataclass(frozen=True, slots=True)
class Between:
    """Marks a field as a number from `low` to `high`.

    Attributes
    ----------
    low, high
        The limits; both are accepted, unless `above`: then `low` is not.
    what
        What the number is, for errors: "a ratio". Of `DEGREES`, it may be text with its unit.
    """

    low: float
    high: float
    what: str
    above: bool = False

    def read(self, value: Number) -> float:
        """Read a number; a ValueError says what is expected."""
        up_to = "above {:g} up to {:g}" if self.above else "from {:g} to {:g}"
        wanted = f"{self.what} {up_to.format(self.low, self.high)}"
        in_degrees = self.what == DEGREES
        number = parse_angle(value) if in_degrees else float(read_number(value, wanted))
        if not self.low <= number <= self.high or (self.above and number == self.low):
            refuse(wanted, value)
        return number

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Tell pydantic how the field is read."""
        del source, handler
        write = core_schema.plain_serializer_function_ser_schema(write_number, info_arg=True)
        return core_schema.no_info_plain_validator_function(self.read, serialization=write)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the field in JSON Schema."""
        del schema, handler
        least = "exclusiveMinimum" if self.above else "minimum"
        number: dict[str, Any] = {"type": "number", least: self.low, "maximum": self.high}
        if self.what != DEGREES:
            return number
        return {"anyOf": [number, {"type": "string", "pattern": "[0-9]", "maxLength": 60}]}
