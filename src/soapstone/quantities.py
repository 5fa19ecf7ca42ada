"""Lengths, angles, forces and masses: read as a shop writes them into mm, degrees, N, kg; printed.

Text is read exactly (fractions, not floats) and rounded once, at the end. Printing is the reverse:
reading back a printed length gives the length rounded to the tape it was printed for.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

from soapstone.written import Number, Table, read_measure, read_number, refuse, shown

Units: TypeAlias = Literal["mm", "in"]

INCH = Fraction(254, 10)  # mm, exact by the international yard of 1959
LONGEST = 1_000_000  # mm; nothing a shop bends or measures from lies a kilometre away
_LARGEST = 10**12  # of any other unit; only guards against slips of the keyboard


def _units(sizes: dict[str, Fraction], names: dict[str, Iterable[str]]) -> dict[str, Fraction]:
    """Add to each unit the other ways it is written."""
    spelt = {name: sizes[unit] for unit, others in names.items() for name in others}
    return sizes | spelt


_LENGTHS = _units(
    {
        "mm": Fraction(1),
        "cm": Fraction(10),
        "m": Fraction(1000),
        "thou": INCH / 1000,
        "in": INCH,
        "ft": 12 * INCH,
    },
    {
        "mm": ("mm.", "millimetre", "millimetres", "millimeter", "millimeters"),
        "cm": ("cm.", "centimetre", "centimetres", "centimeter", "centimeters"),
        "m": ("m.", "metre", "metres", "meter", "meters"),
        "in": ("in.", "inch", "inches", '"', "''"),
        "ft": ("ft.", "foot", "feet", "'"),
    },
)
_POUND = Fraction(45359237, 100_000_000)  # kg, exact by the same agreement
_GRAVITY = Fraction(980665, 100_000)  # m/s2, the standard value
_POUND_FORCE = _POUND * _GRAVITY  # N
_FORCES = _units(
    {"n": Fraction(1), "kn": Fraction(1000), "kgf": _GRAVITY, "lbf": _POUND_FORCE},
    {"lbf": ("lb", "lbs", "lb.", "lbs.")},
) | {"kip": 1000 * _POUND_FORCE}
_MASSES = _units(
    {"g": Fraction(1, 1000), "kg": Fraction(1), "t": Fraction(1000), "lb": _POUND},
    {"lb": ("lbs", "lbm", "lb.", "lbs."), "t": ("tonne", "tonnes"), "kg": ("kgs",)},
) | {"oz": _POUND / 16}
_PSI = _POUND_FORCE / INCH**2
_STRESSES = {
    "": Fraction(1),
    "mpa": Fraction(1),
    "n/mm2": Fraction(1),
    "gpa": Fraction(1000),
    "psi": _PSI,
    "ksi": 1000 * _PSI,
}
_DENSITIES = {
    "": Fraction(1),
    "kg/m3": Fraction(1),
    "g/cm3": Fraction(1000),
    "lb/in3": _POUND / INCH**3 * 10**9,
}
_ANGLES = _units(
    {"deg": Fraction(1), "'": Fraction(1, 60), '"': Fraction(1, 3600)},
    {"deg": ("", "°", "degree", "degrees", "deg."), '"': ("''",)},
)


def parse_length(value: Number, units: str) -> float:
    """Read a length into mm.

    Parameters
    ----------
    value
        A number in `units`, or text: ``12 3/8 in``, ``5' 6-1/2"``, ``3 ft 2 1/4 in``, ``44,5 mm``,
        ``1.2 m``, ``.120``, ``4½``. Text without a unit is in `units`; after feet, in inches.
    units
        "mm" or "in".

    Raises
    ------
    ValueError
        It is not a length, is not finite, or is a kilometre or more.
    """
    wanted = 'a length such as 314.5, "12 3/8 in" or "44.5 mm"'
    bare = _size(units)
    if not isinstance(value, str):
        exact = read_number(value, wanted) * bare
    else:
        exact = read_measure(value, {**_LENGTHS, "": bare, "+": INCH}, wanted)
    if abs(exact) >= LONGEST:
        refuse("a length under 1 km", value)
    return float(exact)


def bare_length(mm: float, units: str) -> float:
    """Give a length in `units`: `parse_length` reads it back as `mm`, to the last digit or two."""
    return mm if _size(units) == 1 else float(Fraction(repr(float(mm))) / INCH)


def parse_force(value: Number) -> float:
    """Read a force such as "500 N", "70 kN" or "120 lbf" into newtons; only 0 needs no unit."""
    return _measured(value, _FORCES, 'a force such as "500 N" or "120 lbf"')


def parse_mass(value: Number) -> float:
    """Read a mass such as "22 kg", "48 lb" or "350 g" into kg; only 0 needs no unit."""
    return _measured(value, _MASSES, 'a mass such as "22 kg" or "48 lb"')


def parse_stress(value: Number) -> float:
    """Read a stress or a modulus into MPa: a number in MPa, or "193 GPa", "36 ksi"."""
    return _measured(value, _STRESSES, 'a stress such as 215, "193 GPa" or "36 ksi"')


def parse_density(value: Number) -> float:
    """Read a density into kg/m3: a number in kg/m3, or "7.9 g/cm3", "0.284 lb/in3"."""
    return _measured(value, _DENSITIES, 'a density such as 7900 or "7.9 g/cm3"')


def parse_angle(value: Number) -> float:
    """Read an angle into degrees, within a full turn either way: 45, "45°", "30 deg", "30° 15'"."""
    degrees = _measured(value, _ANGLES, 'an angle in degrees such as 45 or "45 deg"')
    if abs(degrees) > 360:
        refuse("an angle within a full turn", value)
    return degrees


@dataclass(frozen=True, slots=True)
class Tape:
    """The graduations of a tape measure (or of anything read by eye): `step` in its own `units`."""

    step: Fraction
    units: Units

    @property
    def step_mm(self) -> float:
        """Distance between graduations in mm."""
        return float(self.step * _size(self.units))

    def count(self, mm: float) -> int:
        """Give the nearest graduation's number; halfway goes to the one farther from zero.

        A billionth of a step short of halfway counts as halfway, so that noise in the last digits
        of a sum does not decide.
        """
        steps = math.floor(abs(mm) / self.step_mm + (0.5 + 1e-9))
        return -steps if mm < 0 else steps

    def round(self, mm: float) -> float:
        """Give the place of the nearest graduation, in mm."""
        return float(self.count(mm) * self.step * _size(self.units))

    def __str__(self) -> str:
        """Give the step as text that `parse_tape` reads."""
        return f"{_printed(self.step, self.step, self.units)} {self.units}"


def parse_tape(value: str) -> Tape:
    """Read the step of a tape: "1/16 in", "1 mm", "0.5 mm"."""
    wanted = 'a tape\'s step such as "1/16 in" or "1 mm"'
    if not isinstance(value, str):
        refuse(wanted, value)
    exact = read_measure(value, _LENGTHS, wanted)
    if not Fraction(1, 100) <= exact <= 100:
        refuse(wanted, value)
    metric = any(value.strip().lower().endswith(unit) for unit in ("mm", "cm", "m"))
    return Tape(exact, "mm") if metric else Tape(exact / INCH, "in")


MILLIMETRE_TAPE = Tape(Fraction(1), "mm")
SIXTEENTH_TAPE = Tape(Fraction(1, 16), "in")
_TENTH_TAPE = Tape(Fraction(1, 10), "mm")


def usual_tape(units: str) -> Tape:
    """Give the tape of a shop that does not say: 1 mm, or 1/16 in."""
    return SIXTEENTH_TAPE if _size(units) == INCH else MILLIMETRE_TAPE


def format_length(
    mm: float, units: str, tape: Tape | None = None, *, feet: bool = False, unit: bool = True
) -> str:
    """Print a length rounded to a tape: ``12 3/8"``, ``314.5 mm``.

    Parameters
    ----------
    mm
        The length.
    units
        "mm" or "in": what to print in.
    tape
        The tape to round to; without one, or with one in the other units, 0.1 mm or 1/16 in.
    feet
        In inches, lengths of a foot and more as ``5' 6 1/2"``.
    unit
        False leaves the unit away, for tables that name it in their head.
    """
    if tape is None or tape.units != units:
        tape = SIXTEENTH_TAPE if _size(units) == INCH else _TENTH_TAPE
    count = tape.count(mm)
    value, sign = abs(count) * tape.step, "-" if count < 0 else ""
    if units == "mm":
        return f"{sign}{_printed(value, tape.step, 'mm')}{' mm' if unit else ''}"
    whole_feet = ""
    if feet and value >= 12:
        whole_feet = f"{value // 12}' "
        value %= 12
    mark = '"' if unit or whole_feet else ""
    return f"{sign}{whole_feet}{_printed(value, tape.step, 'in')}{mark}"


def format_size(mm: float, units: str) -> str:
    """Print a size as tube is sold by: ``1.65 mm``, ``0.065"``; also a length too small to tape."""
    if _size(units) == INCH:
        return f'{round(mm / float(INCH), 3) + 0.0:.3f}"'
    return f"{round(mm, 2) + 0.0:.2f}".rstrip("0").rstrip(".") + " mm"


_FINE = {"mm": Tape(Fraction(1, 10), "mm"), "in": Tape(Fraction(1, 32), "in")}


def format_fine(mm: float, units: Units) -> str:
    """Print a length finer than it is taped: to 0.1 mm or 1/32 in, a smaller one as a size."""
    fine = _FINE[units]
    small = 0 < abs(mm) < fine.step_mm
    return format_size(mm, units) if small else format_length(mm, units, fine)


def format_angle(degrees: float, decimals: int = 1) -> str:
    """Print an angle: ``45.0°``. Never ``-0.0°``."""
    return f"{round(degrees, decimals) + 0.0:.{decimals}f}°"


def format_mass(kg: float, units: str) -> str:
    """Print a mass in kg, or in lb for a shop that works in inches."""
    return f"{kg / float(_POUND):.1f} lb" if _size(units) == INCH else f"{kg:.1f} kg"


def format_force(newtons: float, units: str) -> str:
    """Print a force in N, or in lbf for a shop that works in inches."""
    pounds = newtons / float(_POUND_FORCE)
    return f"{round(pounds)} lbf" if _size(units) == INCH else f"{round(newtons)} N"


def format_moment(newton_metres: float, units: str) -> str:
    """Print a moment in N m, or in lbf ft for a shop that works in inches, to a tenth."""
    if _size(units) == INCH:
        pounds = newton_metres * 1000 / float(_POUND_FORCE * 12 * INCH)
        return f"{round(pounds, 1) + 0.0:.1f} lbf ft"
    return f"{round(newton_metres, 1) + 0.0:.1f} N m"


def format_stress(mpa: float, units: str) -> str:
    """Print a stress in MPa, or in ksi for a shop that works in inches."""
    if _size(units) == INCH:
        return f"{round(mpa / float(1000 * _PSI), 1) + 0.0:.1f} ksi"
    return f"{round(mpa)} MPa"


def _size(units: str) -> Fraction:
    """Give the mm in one of `units`."""
    if units == "mm":
        return Fraction(1)
    if units != "in":
        raise ValueError(f'expected units "mm" or "in", found {shown(units)}')
    return INCH


def _measured(value: Number, table: Table, wanted: str) -> float:
    if isinstance(value, str):
        exact = read_measure(value, table, wanted)
    else:
        exact = read_number(value, wanted)
        if exact and "" not in table:
            raise ValueError(f"expected {wanted}, found {shown(value)} without a unit")
    if abs(exact) >= _LARGEST:
        refuse(wanted, value)
    return float(exact)


def _printed(value: Fraction, step: Fraction, units: Units) -> str:
    """Print a multiple of `step`: in inches as a reduced fraction when the tape has such ones."""
    halvings = step.denominator & (step.denominator - 1) == 0
    if units == "mm" or not halvings:
        text = f"{float(value):.6f}"
        return text.rstrip("0").rstrip(".")
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)
