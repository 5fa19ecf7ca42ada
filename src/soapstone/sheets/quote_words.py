"""How money and quantities of a quote are written."""

import math
from dataclasses import replace
from decimal import Decimal
from functools import partial
from itertools import product

from soapstone.bench.rates import Rates, exact
from soapstone.quantities import Units, format_length, parse_tape
from soapstone.yard.quote import Line, rounded

EIGHTH = 25.4 / 8
FOOT = Decimal("0.3048")  # m, exact by the international yard of 1959
_UNITS = {"m2": "m²", "parcel": ""}
_IN_FEET = {"m": ("ft", FOOT), "m2": ("sq ft", FOOT**2)}
_FEWEST = 2
_DECIMALS = sorted(product(range(_FEWEST, 9), repeat=2), key=sum)
"""Decimals that feet, and the price of one, are written with: the fewest first."""


def money(amount: Decimal, rates: Rates) -> str:
    """Write a sum with as many decimals as the shop rounds to, thousands apart."""
    least = exact(rates.rounding)
    places = max(0, -int(least.normalize().as_tuple().exponent))
    return f"{rounded(amount, rates):,.{places}f}".replace(",", "\u202f")


def as_written(line: Line, units: Units, rates: Rates) -> Line:
    """Give a line by the foot or the square foot, for a shop that works in inches.

    Quantity and price are rounded to the fewest decimals that still multiply to the line's amount,
    so that whoever reckons it after finds the same money.
    """
    if units == "mm" or line.unit not in _IN_FEET:
        return line
    unit, size = _IN_FEET[line.unit]
    quantity = line.quantity / size
    if line.price is None:
        return replace(line, unit=unit, quantity=round(quantity, _FEWEST))
    price = line.price * size
    amount_of = partial(rounded, rates=rates)
    ways = [(round(quantity, n), round(price, m)) for n, m in _DECIMALS]
    fitting = (way for way in ways if amount_of(way[0] * way[1]) == line.amount)
    quantity, price = next(fitting, ways[-1])
    return replace(line, unit=unit, quantity=quantity, price=price)


def quantity_words(line: Line, units: Units, rates: Rates) -> str:
    """Write how much of something a line is for."""
    line = as_written(line, units, rates)
    if line.unit == "min" and line.quantity >= 90:
        return f"{line.quantity / 60:.1f} h"
    digits = {"m": 3, "m2": 3}.get(line.unit, 0)
    number = f"{line.quantity:.{digits}f}" if digits else f"{line.quantity.normalize():f}"
    return f"{number} {_UNITS.get(line.unit, line.unit)}".strip()


def price_words(line: Line, units: Units, rates: Rates) -> str:
    """Write the price of one of a line's units."""
    if line.kind == "margin":
        return ""
    shown = as_written(line, units, rates)
    return "no price" if shown.price is None else _price(shown.price, shown is line)


def _price(price: Decimal, as_given: bool) -> str:
    """Write a price as the bench file has it, else with two decimals at least."""
    if as_given:
        return f"{price.normalize():f}"
    least = round(price, _FEWEST)
    return f"{least if least == price else price.normalize():f}"


def parcel_words(edge: float, units: Units) -> str:
    """Write an edge of a parcel, rounded up to a mm or to 1/8 in so that nothing sticks out."""
    if units == "mm":
        return f"{math.ceil(edge - 1e-6)} mm"
    up = math.ceil(edge / EIGHTH - 1e-6) * EIGHTH
    return format_length(up, units, parse_tape("1/8 in"))
