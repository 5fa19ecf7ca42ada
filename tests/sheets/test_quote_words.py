"""A quote's lines in words: by the foot in a shop of inches, and the same money."""

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.bench.rates import Rates
from soapstone.sheets.quote_words import price_words, quantity_words
from soapstone.yard.quote import Line
from tests.cli.running import soapstone

CENT = Decimal("0.01")
RATES = Rates()

HOOP = """
format = 1
name = "Hoop"
units = "UNITS"
bench = "shop.toml"
[[tube]]
name = "hoop"
tubing = "1 1/2 x .065"
die = "1 1/2 on 4 1/2"
bends = { legs = ["20 in", "30 in", "20 in"], angles = [90, 60], rotations = [0, 90] }
[[tube]]
name = "brace"
tubing = { od = "1 in", wall = "0.065 in", material = "304", price = 7.3 }
points = [[0, 0, 0], ["31 3/16 in", 0, 0]]
"""

SHOP = """
format = 1
units = "in"
[rates]
hour = 60
finish = 45.5
packing = 12
[[die]]
name = "1 1/2 on 4 1/2"
od = 1.5
clr = 4.5
[[tubing]]
name = "1 1/2 x .065"
od = 1.5
wall = 0.065
material = "304"
sticks = ["20 ft"]
price = 12.60
"""


def material(metres, price, unit="m"):
    metres, price = Decimal(metres), Decimal(price)
    amount = (metres * price).quantize(CENT, rounding=ROUND_HALF_UP)
    return Line("material", "tube", metres, unit, price, amount)


def number(words):
    return Decimal(words.split()[0])


def test_a_stick_of_twenty_feet_is_twenty_feet() -> None:
    line = material("6.096", "12.6")
    assert quantity_words(line, "in", RATES) == "20 ft"
    assert price_words(line, "in", RATES) == "3.8405"  # 3.84048 exactly; 3.84 would lose a cent
    assert (quantity_words(line, "mm", RATES), price_words(line, "mm", RATES)) == (
        "6.096 m",
        "12.6",
    )


@settings(max_examples=150, deadline=None)
@given(
    millimetres=st.integers(1, 3_000_000),
    hundredths=st.integers(0, 40_000),
    unit=st.sampled_from(["m", "m2"]),
)
def test_feet_times_price_is_the_money_to_the_cent(millimetres, hundredths, unit) -> None:
    line = material(Decimal(millimetres) / 1000, Decimal(hundredths) / 100, unit)
    quantity = number(quantity_words(line, "in", RATES))
    price = number(price_words(line, "in", RATES))
    assert (quantity * price).quantize(CENT, rounding=ROUND_HALF_UP) == line.amount
    # and they are the true ones, as near as they are written: 0.3048 m to the foot, exactly
    foot = Decimal("0.3048") ** (1 if unit == "m" else 2)
    assert abs(quantity * foot - line.quantity) <= Decimal("0.005") * foot
    assert abs(price - line.price * foot) <= Decimal("0.005")


@pytest.mark.parametrize("units", ["in", "mm"])
def test_words_and_json_tell_of_the_same_money(tmp_path, units) -> None:
    (tmp_path / "shop.toml").write_text(SHOP)
    path = tmp_path / "hoop.toml"
    path.write_text(HOOP.replace("UNITS", units))
    said = soapstone("quote", path, "--json").json
    # scripts get metres and square metres, whatever the job is in
    assert {line["unit"] for line in said["lines"]} == {"m", "m2", "min", "parcel"}
    assert said["lines"][0]["quantity"] == 6.096
    assert said["lines"][0]["price"] == 12.6
    printed = soapstone("quote", path).out
    wanted = {"in": ("20 ft", "3.8405", "sq ft", " lb"), "mm": ("6.096 m", "12.6", "m²", " kg")}
    assert all(words in printed for words in wanted[units])
    assert not any(words in printed for words in (" m ", "m²", " kg") if units == "in")
    assert f"{said['total']:.2f}" in printed


def test_what_has_no_price_is_told_by_the_foot_too() -> None:
    line = Line("finish", "finishing", Decimal("0.5"), "m2", None, None, "finishing")
    assert quantity_words(line, "in", RATES) == "5.38 sq ft"
    assert price_words(line, "in", RATES) == "no price"
