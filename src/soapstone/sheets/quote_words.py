"""How money and quantities of a quote are written."""

import math
from decimal import Decimal

from soapstone.bench.rates import Rates, exact
from soapstone.quantities import Units, format_length, parse_tape
from soapstone.yard.quote import Line, rounded

EIGHTH = 25.4 / 8
_UNITS = {"m2": "m²", "parcel": ""}


def money(amount: Decimal, rates: Rates) -> str:
    """Write a sum with as many decimals as the shop rounds to, thousands apart."""
    least = exact(rates.rounding)
    places = max(0, -int(least.normalize().as_tuple().exponent))
    return f"{rounded(amount, rates):,.{places}f}".replace(",", "\u202f")


def quantity_words(line: Line) -> str:
    """Write how much of something a line is for."""
    if line.unit == "min" and line.quantity >= 90:
        return f"{line.quantity / 60:.1f} h"
    digits = {"m": 3, "m2": 3}.get(line.unit, 0)
    number = f"{line.quantity:.{digits}f}" if digits else f"{line.quantity.normalize():f}"
    return f"{number} {_UNITS.get(line.unit, line.unit)}".strip()


def price_words(line: Line) -> str:
    """Write the price of one of a line's units."""
    if line.kind == "margin":
        return ""
    return "no price" if line.price is None else f"{line.price.normalize():f}"


def parcel_words(edge: float, units: Units) -> str:
    """Write an edge of a parcel, rounded up to a mm or to 1/8 in so that nothing sticks out."""
    if units == "mm":
        return f"{math.ceil(edge - 1e-6)} mm"
    up = math.ceil(edge / EIGHTH - 1e-6) * EIGHTH
    return format_length(up, units, parse_tape("1/8 in"))
