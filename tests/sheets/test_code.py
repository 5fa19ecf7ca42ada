"""The code on a tube's sheet opens its page at the bender."""

import numpy as np
import pytest
import segno

from soapstone.cli import run
from soapstone.errors import InputError
from soapstone.flow.addressing import pages_address, tube_address
from soapstone.sheets.code import QUIET, draw_code
from soapstone.sheets.pack import make_pack
from soapstone.sheets.sketch import Path
from soapstone.sheets.tube_sheet import CODE
from tests.sheets.packs import contents, pair
from tests.sheets.printed import pages, text

ADDRESS = "http://192.168.1.20:8760/"


def expected(tube: str) -> np.ndarray:
    address = tube_address(ADDRESS, "rail", tube)
    code = segno.make(address, error="m", micro=False, boost_error=False)
    return np.array([list(row) for row in code.matrix], dtype=bool)


def ink(sketch) -> np.ndarray:
    """Paint a code's drawing at its modules' middles."""
    dark = [mark for mark in sketch if isinstance(mark, Path) and mark.fill == "#000000"]
    boxes = np.array([[*mark.knots[0], *mark.knots[2]] for mark in dark])
    count = len(expected("port leg"))
    step = CODE / (count + 2 * QUIET)
    middle = (np.arange(count) + 0.5 + QUIET) * step
    x, y = np.meshgrid(middle, CODE - middle)
    inside = [(a < x) & (x < c) & (b < y) & (y < d) for a, b, c, d in boxes]
    return np.any(inside, axis=0)


def test_every_module_of_a_code_is_inked_as_the_standard_has_it():
    sketch = draw_code(tube_address(ADDRESS, "rail", "port leg"), CODE)
    assert (ink(sketch) == expected("port leg")).all()


def test_both_hands_carry_their_own_code_and_a_pack_without_an_address_none():
    tubes = pair()
    names = [tube.name for tube in tubes]
    codes = {name: tube_address(ADDRESS, "rail", name) for name in names}
    printed = pages(make_pack(contents(tubes, codes=codes)))
    assert text(printed[1]).count("at the bender, on a phone") == 2
    plain = pages(make_pack(contents(tubes)))
    assert "on a phone" not in text(plain[1])


def test_a_name_too_long_for_a_code_prints_without_one():
    assert draw_code(tube_address(ADDRESS, "rail", "弯" * 80), CODE) is None


@pytest.mark.parametrize("name", ["a/b", "..", "q?x=1#y", "50 %", 'o"<b>', "Bögen"])
def test_names_are_quoted(name):
    address = tube_address(ADDRESS, name, name)
    assert address.count("/") == 6
    assert not set(address) & set(' ?#"<>')


def test_addresses_are_checked():
    assert pages_address(" http://shop.local:8760 ") == "http://shop.local:8760/"
    for wrong in (
        "",
        "shop",
        "ftp://shop/",
        "javascript:alert(1)",
        "http://",
        "http://a b/",
        "http://shop:99999999/",
        "http://shop/../x",
        "http://user@shop/",
        'http://shop/"><b>',
        "http://" + "x" * 300,
    ):
        with pytest.raises(InputError):
            pages_address(wrong)


def test_what_lets_a_phone_in_is_not_printed(tmp_path, capsys):
    job = tmp_path / "job.toml"
    assert run(["new", str(job)]) == 0
    wrong = f"{ADDRESS}?token=abc"
    pack = tmp_path / "p.pdf"
    assert run(["sheet", str(job), "-o", str(pack), "--pages", wrong]) == 2
    assert "does not belong on paper" in capsys.readouterr().err
    assert not pack.exists()
