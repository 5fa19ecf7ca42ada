"""Looking materials up by the names shops write, and what the table must hold."""

import pytest

from soapstone.bench.materials import KSI, MATERIALS, Material, material
from soapstone.bench.sections import TubeSection
from soapstone.errors import InputError


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("304", "304"),
        ("SS 304", "304"),
        ("304L", "304"),
        ("Type 304 stainless", "304"),
        ("1.4301", "304"),
        ("AISI 316L", "316"),
        ("DOM 1020", "1020 DOM"),
        ("ASTM A513 1020 DOM", "1020 DOM"),
        ("6061 T6", "6061-T6"),
        ("al 6061t6", "6061-T6"),
        ("chromoly", "4130"),
        ("a500 grade b", "A500 B"),
        ("mild steel", "1010"),
        ("Ti 3Al-2.5V", "Ti-3Al-2.5V"),
        ("S235JRH", "S235"),
        ("Copper", "copper"),
    ],
)
def test_found_by_the_names_shops_write(written: str, name: str) -> None:
    assert material(written).name == name


@pytest.mark.parametrize("entry", MATERIALS, ids=lambda entry: entry.name)
def test_every_material_is_found_by_its_own_name_and_is_plausible(entry: Material) -> None:
    assert material(entry.name) is entry
    assert material(entry.name.upper()) is entry
    assert 2500 < entry.density < 9000
    assert 60_000 < entry.e < 220_000
    assert 50 < entry.yield_beside_weld <= entry.yield_strength < 800
    assert entry.source


@pytest.mark.parametrize(("written", "near"), [("6061", "6061-T6"), ("1020 DM", "1020 DOM")])
def test_an_unknown_name_gets_near_ones(written: str, near: str) -> None:
    with pytest.raises(InputError, match=near):
        material(written)


@pytest.mark.parametrize("written", ["", "unobtainium", "!?", "x" * 1000])
def test_an_unknown_name_is_one_line(written: str) -> None:
    with pytest.raises(InputError) as raised:
        material(written)
    assert "\n" not in str(raised.value)


def test_the_shop_s_own_material_goes_first() -> None:
    own = Material("304", 7900.0, 190_000.0, 310.0, "mill certificate")
    assert material("stainless 304", [own]) is own
    assert material("316", [own]).name == "316"


def test_a_weld_takes_drawn_tube_back_to_the_normalised_column() -> None:
    """ASTM A513, 1020: 60 ksi mandrel drawn, 35 ksi normalised."""
    assert material("1020 DOM").yield_strength == pytest.approx(60 * KSI)
    assert material("1020 DOM").yield_beside_weld == pytest.approx(35 * KSI)
    assert material("304").yield_beside_weld == material("304").yield_strength


@pytest.mark.parametrize(("od", "wall"), [(38.1, 0.0), (38.1, 20.0), (0.0, 1.0), (38.1, -1.0)])
def test_a_tube_that_cannot_be_is_refused(od: float, wall: float) -> None:
    with pytest.raises(ValueError, match="wall"):
        TubeSection(od, wall)
