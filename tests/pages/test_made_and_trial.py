"""A finished tube taped on its page, and a trial piece that teaches the bench its die."""

import pytest
from playwright.sync_api import expect

from soapstone.bench.files import read_bench
from soapstone.log.store import read_log
from tests.cli.running import soapstone
from tests.pages.conftest import PHONE, demo_shop, served


@pytest.fixture
def own_shop(tmp_path):
    """A shop that a test may write in."""
    folder = demo_shop(tmp_path)
    with served(folder) as url:
        yield folder, url


def _key_in(page, label, text):
    """Go to a field by the keyboard alone, type, and leave it."""
    field = page.get_by_label(label, exact=True)
    for _ in range(80):
        if field.evaluate("one => one === document.activeElement"):
            break
        page.keyboard.press("Tab")
    expect(field).to_be_focused()
    page.keyboard.type(text)
    page.keyboard.press("Tab")


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_a_tube_is_taped_on_a_phone_by_keyboard_and_the_command_says_the_same(own_shop, page):
    folder, url = own_shop
    page.goto(f"{url}job/stern-arch/made?tube=cross%20tube")
    expect(page.get_by_label("A end to mark 2", exact=True)).to_be_visible()
    expect(page.locator(".verdict-line")).to_have_text("Nothing measured yet")
    _key_in(page, "A end to mark 2", "38 9/16 in")
    _key_in(page, "A end to B end", "1275")
    _key_in(page, "mark 2 to B end", "304")
    _key_in(page, "Angle of bend 1", "22.4")
    _key_in(page, "Angle of bend 2", "18,5")
    line = page.locator(".verdict-line")
    expect(line).to_contain_text("bend 2")
    expect(page.locator("tr.made-out")).to_contain_text(["bend 2"])
    file = folder / "stern-arch made cross tube.toml"
    told = soapstone("inspect", folder / "stern-arch.toml", file, "--json")
    assert told.code == 1
    out = [(one["what"], one["n"]) for one in told.json["as_made"] if one["verdict"] == "out"]
    assert out == [("angle", 2)]
    page.reload()
    expect(page.get_by_label("A end to mark 2", exact=True)).to_have_value("38 9/16 in")
    expect(line).to_contain_text("bend 2")
    page.get_by_label("A end to B end", exact=True).fill("nan")
    page.keyboard.press("Tab")
    expect(page.get_by_label("A end to B end", exact=True)).to_have_value("1275")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def test_a_trial_piece_puts_its_die_right_and_its_bend_into_the_log(own_shop, page):
    folder, url = own_shop
    page.goto(f"{url}trial?die=38%20on%20115&tubing=316%2038.1x1.65")
    measured = {
        "Length before bending": "630",
        "Mark, from end A": "90",
        "Angle after release": "175.6",
        "Lead overall": "238.5",
        "Tail overall": "304.5",
        "Dial stopped at": "181",
    }
    for label, text in measured.items():
        page.get_by_label(label, exact=True).fill(text)
        page.keyboard.press("Tab")
    expect(page.get_by_text("Not enough yet")).to_be_visible()
    page.get_by_label("Width", exact=True).fill("11 1/16 in")
    page.keyboard.press("Tab")
    expect(page.get_by_text("114.7 ± 0.7 mm")).to_be_visible()
    page.reload()
    expect(page.get_by_label("Width", exact=True)).to_have_value("11 1/16 in")
    page.get_by_role("button", name="Put these into bench.toml").click()
    expect(page.get_by_text("are in the bench now")).to_be_visible()
    page.get_by_role("button", name="Keep the bend in the shop log").click()
    expect(page.get_by_text("Kept in the shop log", exact=True)).to_be_visible()
    die = read_bench(folder / "bench.toml").die("38 on 115")
    assert die.clr == pytest.approx(114.7, abs=0.1)
    assert die.mark_offset == pytest.approx(12.1, abs=0.1)
    with read_log(folder / "log.sqlite") as log:
        assert [(one.dial, one.angle) for one in log.trials()] == [(181.0, 175.6)]
