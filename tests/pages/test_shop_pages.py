"""The shop around a job in a real browser: bench, yard, log, strength, where it lands, quote."""

import re
import urllib.request

import pytest
from playwright.sync_api import expect

from soapstone.bench.files import read_bench
from soapstone.flow.quoting import quote_job
from soapstone.flow.showing import show_bench
from soapstone.flow.strength import strength_job
from soapstone.log.store import LoggedTrial, open_log
from tests.pages.conftest import PHONE, demo_shop, served

FRAME = """
format = 1
name = "Step"
units = "mm"
bench = "bench.toml"

[[tube]]
name = "hoop"
tubing = "316 38.1x1.65"
die = "38 on 115"
points = [[0, 0, 0], [0, 0, 500], [0, 600, 500], [0, 600, 0]]

[[support]]
tube = "hoop"
at = "A"
fix = "all"

[[support]]
tube = "hoop"
at = "B"
fix = "all"

[[load]]
case = "step"
at = [0, 300, 500]
onto = ["hoop"]
force = ["0 N", "200 N", "-900 N"]
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A folder with the demo and one small job in it, and the address of its pages."""
    folder = demo_shop(tmp_path_factory.mktemp("around"))
    (folder / "step.toml").write_text(FRAME)
    with served(folder) as url:
        yield folder, url


def first_bytes(url, address):
    with urllib.request.urlopen(url.rstrip("/") + address) as answer:
        return answer.read(5)


def dial_for_90(bench):
    known = show_bench(bench).pairings[0].calibration
    return f"{known.dial(90.0):.1f}°"


def test_a_trial_bend_moves_the_dial_and_can_be_taken_back(shop, page):
    folder, url = shop
    bench = folder / "bench.toml"
    before, dial = bench.read_text(), dial_for_90(bench)
    page.goto(f"{url}bench")
    expect(page.locator(".big")).to_have_text(dial)
    page.get_by_label("Dial stopped at").fill("30")
    page.get_by_label("Angle measured").fill("95")
    page.get_by_role("button", name="Add it").click()
    expect(page.get_by_text("springs back, so").first).to_be_visible()
    assert bench.read_text() == before
    for _ in range(2):
        page.get_by_label("Dial stopped at").fill("95")
        page.get_by_label("Angle measured").fill("90.4")
        page.get_by_role("button", name="Add it").click()
        expect(page.get_by_label("Angle measured")).to_have_value("")
    expect(page.locator(".big")).not_to_have_text(dial)
    expect(page.locator(".big")).to_have_text(dial_for_90(bench))
    for _ in range(2):
        page.get_by_role("button", name="Undo").click()
    expect(page.locator(".big")).to_have_text(dial)
    assert bench.read_text() == before


def test_figures_of_the_bench_are_put_right_and_outside_changes_are_seen(shop, page):
    folder, url = shop
    bench = folder / "bench.toml"
    before = bench.read_text()
    page.goto(f"{url}bench")
    page.get_by_role("button", name="Change Die 38 on 115").click()
    field = page.get_by_label("Clamp needs, mm")
    field.fill("a hand's breadth")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("clamp: expected a length").first).to_be_visible()
    assert bench.read_text() == before
    field.fill("2 1/2 in")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("63.5 mm, 90 mm")).to_be_visible()
    assert read_bench(bench).die("38 on 115").clamp == pytest.approx(63.5)
    assert "# straight the clamp holds, ahead of a bend" in bench.read_text()
    bench.write_text(before.replace("clr = 115", "clr = 117"))
    expect(page.get_by_text("117 mm")).to_be_visible()
    bench.write_text(before)


def test_dies_and_tubing_come_and_go_by_the_keyboard_and_all_of_it_is_taken_back(shop, page):
    folder, url = shop
    bench, job = folder / "bench.toml", folder / "step.toml"
    before, asked = bench.read_text(), job.read_text()
    page.goto(f"{url}bench")
    page.get_by_role("button", name="Add a die").press("Enter")
    expect(page.get_by_label("Name")).to_be_focused()
    page.keyboard.type("38 ON 115")
    page.get_by_label("For tube of, mm").fill("1 1/2 in")
    page.get_by_label("Radius (CLR), mm").fill("6 in")
    page.get_by_role("button", name="Add this die").press("Enter")
    expect(page.get_by_text("give this one another name")).to_be_visible()
    assert bench.read_text() == before
    page.get_by_label("Name").fill("38 on 152")
    page.get_by_role("button", name="Add this die").press("Enter")
    expect(page.get_by_role("button", name="Change Die 38 on 152")).to_be_focused()
    die = read_bench(bench).die("38 on 152")
    assert (die.od, die.clr) == pytest.approx((38.1, 152.4))
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Another like this").press("Enter")
    page.get_by_label("Name").fill("38 on 190")
    page.get_by_label("Radius (CLR), mm").fill("190")
    page.get_by_role("button", name="Add this die").press("Enter")
    expect(page.get_by_role("button", name="Change Die 38 on 190")).to_be_focused()
    page.get_by_role("button", name="Change Die 38 on 115").press("Enter")
    page.get_by_label("Name").fill("old faithful")
    page.get_by_role("button", name="Keep it").press("Enter")
    expect(page.get_by_role("button", name="Change Die old faithful")).to_be_focused()
    assert 'die = "old faithful"' in job.read_text()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Take away").press("Enter")
    expect(page.get_by_text("Step is made with it (hoop)")).to_be_visible()
    expect(page.get_by_role("button", name="Take it away")).to_be_focused()
    page.get_by_role("button", name="Take it away").dblclick()
    expect(page.get_by_role("heading", name="Die old faithful")).to_have_count(0)
    names = [one.name for one in read_bench(bench).dies]
    assert names == ["25 on 75", "38 on 152", "38 on 190"]
    expect(page.get_by_text("stands in the file any more")).to_have_count(0)
    for gone in ("old faithful taken away", "figures of Die", "38 on 190 added", "152 added"):
        page.get_by_role("button", name="Undo").press("Enter")
        expect(page.get_by_text(re.compile(f"Undone: .*{gone}"))).to_be_visible()
    assert (bench.read_text(), job.read_text()) == (before, asked)


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_the_yard_cuts_as_many_as_are_asked_for_on_a_phone(shop, page):
    _, url = shop
    page.goto(f"{url}yard")
    for title, times in (("Stern arch", 2), ("Step", 1)):
        row = page.locator(".counter").filter(has_text=title)
        while (shown := int(row.locator(".count").inner_text())) != times:
            more = "more" if shown < times else "less"
            page.get_by_role("button", name=f"One {title} {more}").click()
            expect(row.locator(".count")).not_to_have_text(str(shown))
    thick = page.locator(".slab").filter(has=page.get_by_role("heading", name="316 38.1x1.65"))
    expect(thick.get_by_text("7 pieces")).to_be_visible()
    names = " ".join(
        stick.get_attribute("aria-label") for stick in thick.locator(".narrow svg").all()
    )
    assert len(re.findall(r"hoop", names)) == 1
    across = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert across <= 0
    address = page.get_by_role("link", name="The cuts as a PDF").get_attribute("href")
    assert first_bytes(url, address) == b"%PDF-"
    page.get_by_label("The saw takes (kerf)").fill("wide")
    page.get_by_label("The saw takes (kerf)").press("Enter")
    expect(page.get_by_text("kerf: expected a length").first).to_be_visible()
    expect(page.get_by_role("link", name="The cuts as a PDF")).to_have_count(0)
    expect(page.locator(".sawn")).to_have_count(0)
    page.get_by_label("The saw takes (kerf)").fill("3")
    page.get_by_label("The saw takes (kerf)").press("Enter")
    page.get_by_role("button", name="Use what is left over").click()
    expect(page.get_by_role("link", name="The cuts as a PDF")).to_have_attribute(
        "href", re.compile("left=true")
    )
    address = page.get_by_role("link", name="The cuts as a PDF").get_attribute("href")
    assert first_bytes(url, address) == b"%PDF-"


def test_strength_says_what_the_command_says_and_what_is_missing_where_it_cannot(shop, page):
    folder, url = shop
    one = strength_job(folder / "step.toml").cases[0]
    page.goto(f"{url}job/step/strength")
    expect(page.locator(".big")).to_have_text(f"{one.reserve:.2f}")
    up = sum(round(held.force[2]) for held in one.supports)
    assert up == pytest.approx(900, abs=1)
    for held in one.supports:
        expect(page.get_by_text(f"{held.force[2]:.0f} N", exact=True).first).to_be_visible()
    expect(page.get_by_text("engineer's approval")).to_be_visible()
    address = page.get_by_role("link", name="All cases as a PDF").get_attribute("href")
    assert first_bytes(url, address) == b"%PDF-"
    page.get_by_role("button", name="from above").click()
    expect(page.get_by_role("button", name="from above")).to_have_attribute("aria-pressed", "true")
    (folder / "step.toml").write_text(FRAME.split("[[support]]", maxsplit=1)[0])
    expect(page.get_by_text("nothing holds it")).to_be_visible()
    (folder / "step.toml").write_text(FRAME)
    expect(page.locator(".big")).to_have_text(f"{one.reserve:.2f}")


def test_the_log_shows_new_bends_as_they_come(shop, page):
    folder, url = shop
    page.goto(f"{url}log")
    expect(page.get_by_text("Nothing is in the log yet.")).to_be_visible()
    with open_log(folder / "log.sqlite") as log:
        for lot, springback in (("heat 7", 0.02), ("heat 8", 0.09)):
            for angle in (30.0, 60.0, 90.0, 110.0):
                dial = angle * (1 + springback) + 1
                trial = LoggedTrial(
                    f"{lot} {angle}", "38 on 115", "316 38.1x1.65", lot, "2026-02-03", dial, angle
                )
                log.add_trial(trial)
    expect(page.get_by_text("more at 90° than the lot before")).to_be_visible()
    expect(page.locator(".chart circle")).to_have_count(2)


def test_the_quote_is_the_command_s_and_prints(shop, page, monkeypatch):
    folder, url = shop
    monkeypatch.setenv("SOAPSTONE_LOG", str(folder / "log.sqlite"))  # as the pages have it
    priced = quote_job(folder / "step.toml", 2)
    page.goto(f"{url}job/step/quote")
    page.get_by_role("button", name="One set more").click()
    expect(page.locator(".big")).to_contain_text(f"{priced.quote.total:.2f}")
    address = page.get_by_role("link", name="Quote for the customer").get_attribute("href")
    assert first_bytes(url, address) == b"%PDF-"


def test_where_a_tube_lands_is_told_with_what_matters_most(shop, page):
    _, url = shop
    page.goto(f"{url}job/step/landing")
    expect(page.get_by_text("What matters most")).to_be_visible()
    expect(page.get_by_text(re.compile(r"of bend 1")).first).to_be_visible()
    strict = page.locator(".big").nth(1).inner_text()
    page.get_by_label("The B end may be off by").fill("50 mm")
    page.get_by_label("The B end may be off by").press("Enter")
    expect(page.locator(".big").nth(1)).not_to_have_text(strict)
