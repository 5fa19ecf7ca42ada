"""What stands in bench and job files, value by value: read into mm, N and kg, and written back.

What is read depends on what else the file says (its units, its named points): that travels beside
each value as `Known`. Readers raise a ValueError that says what is expected.
"""

import datetime
import math
import os
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import SerializationInfo, ValidationInfo

from soapstone.faults import KeyedError, near
from soapstone.geometry.vectors import Vec3
from soapstone.quantities import Tape, bare_length, parse_angle, parse_length, parse_tape
from soapstone.written import Number, read_number, shown

LONGEST_NAME = 80  # characters


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


def read_numbers(value: object, wanted: str) -> Vec3:
    """Read three plain numbers."""
    x, y, z = (float(read_number(number, wanted)) for number in _three(value, wanted))
    return (x, y, z)


def read_direction(value: object) -> Vec3:
    """Read a direction, and make it one long."""
    wanted = "a direction [x, y, z] such as [0, 0, 1]"
    x, y, z = read_numbers(value, wanted)
    length = math.hypot(x, y, z)
    if not length > 1e-9:
        raise ValueError(f"expected {wanted}, found one of no length")
    if abs(length - 1) < 1e-12:  # a second reading changes nothing
        return (x, y, z)
    return (x / length, y / length, z / length)


def read_turn(value: object) -> Vec3:
    """Read three angles."""
    x, y, z = _three(value, "degrees about x, y and z such as [0, 0, 15]")
    return (parse_angle(x), parse_angle(y), parse_angle(z))


def read_size(value: object, info: ValidationInfo) -> Vec3:
    """Read three edge lengths."""
    size = read_place(value, known_to(info).units)
    if min(size) <= 0:
        raise ValueError("expected three edge lengths above 0")
    return size


def read_length(value: Number, info: ValidationInfo) -> float:
    """Read a length of any sign."""
    return parse_length(value, known_to(info).units)


def read_positive_length(value: Number, info: ValidationInfo) -> float:
    """Read a length above 0."""
    length = read_length(value, info)
    if length <= 0:
        raise ValueError(f"expected a length above 0, found {shown(value)}")
    return length


def read_room(value: Number, info: ValidationInfo) -> float:
    """Read a length of 0 or more."""
    length = read_length(value, info)
    if length < 0:
        raise ValueError(f"expected a length of 0 or more, found {shown(value)}")
    return length


def above_zero(read: Callable[[Number], float], what: str) -> Callable[[Number], float]:
    """Give a reader that refuses what `read` finds to be 0 or less."""

    def read_it(value: Number) -> float:
        number = read(value)
        if number <= 0:
            raise ValueError(f"expected {what} above 0, found {shown(value)}")
        return number

    return read_it


def read_name(value: object) -> str:
    """Read a name: text on one line, blanks about it left away."""
    if not isinstance(value, str):
        raise ValueError(f"expected a name in quotes, found {shown(value)}")
    name = value.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise ValueError(
            f"expected a name of 1 to {LONGEST_NAME} characters on one line, found {shown(value)}"
        )
    return name


def read_text(value: object) -> str:
    """Read text of any kind."""
    if not isinstance(value, str) or len(value) > 2000:
        raise ValueError(f"expected text of at most 2000 characters, found {shown(value)}")
    return value


def read_flag(value: object) -> bool:
    """Read true or false."""
    if not isinstance(value, bool):
        raise ValueError(f"expected true or false, found {shown(value)}")
    return value


def read_date(value: object) -> str:
    """Read a date, or text for one."""
    return value.isoformat() if isinstance(value, datetime.date) else read_text(value)


def read_tape(value: object) -> Tape:
    """Read the graduations of a tape."""
    return value if isinstance(value, Tape) else parse_tape(value)  # type: ignore[arg-type]


def written(number: float) -> float | int:
    """Give a number as one would write it: without a point when it is whole."""
    return int(number) if number == int(number) and abs(number) < 1e15 else number


def write_length(mm: float, info: SerializationInfo) -> float | int:
    """Write a length in the file's units; without a file, as it is."""
    if not isinstance(info.context, Known):
        return mm
    return written(bare_length(mm, info.context.units))


def write_point(point: Vec3, info: SerializationInfo) -> object:
    """Write a point by its name, or as three lengths; without a file, as it is."""
    if not isinstance(info.context, Known):
        return point
    for name, place in info.context.points.items():
        if place == point:
            return name
    return write_place(point, info)


def write_place(place: Vec3, info: SerializationInfo) -> object:
    """Write three lengths; without a file, as they are."""
    if not isinstance(info.context, Known):
        return place
    return [write_length(value, info) for value in place]


def write_numbers(numbers: Sequence[float], info: SerializationInfo) -> object:
    """Write plain numbers."""
    return [written(value) for value in numbers] if info.context else numbers


def write_number(number: float, info: SerializationInfo) -> float | int:
    """Write a plain number."""
    return written(number) if info.context else number


def write_force(newtons: float, info: SerializationInfo) -> object:
    """Write a force with its unit."""
    return f"{written(newtons)} N" if info.context else newtons


def write_mass(kg: float, info: SerializationInfo) -> object:
    """Write a mass with its unit."""
    return f"{written(kg)} kg" if info.context else kg


def write_file(path: Path, info: SerializationInfo) -> object:
    """Write the name of another file as seen from this one's folder; without a file, as it is."""
    if not isinstance(info.context, Known):
        return path
    return file_from(info.context.folder, path) if info.context.folder else path.as_posix()


def file_from(folder: Path, path: Path) -> str:
    """Name a file as seen from a folder."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # another drive
        return path.absolute().as_posix()
