"""Simple solids as files describe them: of a keep-out, or of the bender and the room about it."""

import math
from pathlib import Path
from typing import Annotated, Literal, Self, TypeAlias

from pydantic import (
    Field,
    PlainSerializer,
    PlainValidator,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)
from pydantic.config import JsonDict

from soapstone.bench.fields import Direction, Entry, Point, PositiveLength, Size, Turn
from soapstone.bench.values import known_to, write_file
from soapstone.faults import KeyedError
from soapstone.geometry.solids import LEAST_SIZE
from soapstone.written import shown


def _thick(diameter: float) -> None:
    if diameter <= LEAST_SIZE:
        raise KeyedError("diameter", "expected more than a millionth of a mm")


class Box(Entry):
    """A box, turned about its own centre by degrees about fixed x, then y, then z."""

    at: Point = Field(description="its centre, [x, y, z]")
    size: Size = Field(description="its edge lengths, [x, y, z]")
    turn: Turn = Field((0.0, 0.0, 0.0), description="degrees about fixed x, then y, then z")

    @model_validator(mode="after")
    def _has_thickness(self) -> Self:
        if min(self.size) <= LEAST_SIZE:
            raise KeyedError("size", "expected edges of more than a millionth of a mm")
        return self


class Cylinder(Entry):
    """A round bar with flat ends."""

    start: Point = Field(alias="from", description="the centre of one end, [x, y, z]")
    end: Point = Field(alias="to", description="the centre of the other end, [x, y, z]")
    diameter: PositiveLength = Field(description="its diameter, a length")

    @model_validator(mode="after")
    def _has_length(self) -> Self:
        _thick(self.diameter)
        if math.dist(self.start, self.end) < 1e-6:
            raise ValueError("expected from and to to be different points")
        return self


class Ball(Entry):
    """A ball."""

    at: Point = Field(description="its centre, [x, y, z]")
    diameter: PositiveLength = Field(description="its diameter, a length")

    @model_validator(mode="after")
    def _has_thickness(self) -> Self:
        _thick(self.diameter)
        return self


class Halfspace(Entry):
    """All that lies on the side of a plane away from its normal: a floor, a wall, a deck."""

    at: Point = Field(description="a point on its face, [x, y, z]")
    normal: Direction = Field(description="the direction out of it, [x, y, z]")


def _mesh_file(value: object, info: ValidationInfo) -> Path:
    if not isinstance(value, (str, Path)) or not str(value).strip() or "\0" in str(value):
        raise ValueError(
            f'expected the name of a mesh file such as "scan.stl", found {shown(value)}'
        )
    folder = known_to(info).folder
    if folder is None:
        return Path(value)
    path = folder / value
    try:
        there = path.is_file()
    except OSError:
        there = False
    if not there:
        raise ValueError(f"there is no file {shown(value)} beside this one")
    return path


class Mesh(Entry):
    """A closed surface of triangles from a file: turned about the mesh's origin, then moved."""

    file: Annotated[
        Path,
        PlainValidator(_mesh_file),
        PlainSerializer(write_file),
        WithJsonSchema({"type": "string"}),
    ] = Field(description="the mesh file's name, from this file's folder")
    units: Literal["mm", "cm", "m", "in", "ft"] = Field(
        "mm", description='the mesh\'s own unit: "mm", "cm", "m", "in" or "ft"'
    )
    at: Point = Field((0.0, 0.0, 0.0), description="where the mesh's origin goes, [x, y, z]")
    turn: Turn = Field((0.0, 0.0, 0.0), description="degrees about fixed x, then y, then z")

    @property
    def scale(self) -> float:
        """Millimetres in one of the mesh's units."""
        return {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}[self.units]


Solid: TypeAlias = Box | Cylinder | Ball | Halfspace | Mesh


def only_one(entry: Entry, forms: tuple[str, ...]) -> str:
    """Give the one of `forms` that an entry has.

    Raises
    ------
    ValueError
        It has none, or several.
    """
    given = [form for form in forms if getattr(entry, form) is not None]
    if len(given) != 1:
        found = " and ".join(given) if given else "none"
        raise ValueError(f"expected exactly one of {', '.join(forms)}; found {found}")
    return given[0]


def one_required(forms: tuple[str, ...]) -> JsonDict:
    """Give the piece of JSON Schema that says what `only_one` checks."""
    return {"oneOf": [{"required": [form]} for form in forms]}
