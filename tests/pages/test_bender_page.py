"""At the bender with a phone in a real browser: read, press, sleep, lose the network, come back."""

import re

import pytest
from playwright.sync_api import expect

from soapstone.log.store import open_log
from tests.pages.conftest import PHONE, served
from tests.web.phone import rail

AT = "job/rail/bender/port%20rail"


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    rail(folder)
    with served(folder) as url:
        yield folder, url


def title(page):
    return page.locator("#screen h2").first


def press(page, label):
    page.get_by_role("button", name=label).click()


def to_first_measure(page):
    for label, then in (
        ("It is cut", "Mark out"),
        ("All marks are on", "set up"),
        ("It is set up", "pull to"),
        ("Pulled, and released", "measure"),
    ):
        press(page, label)
        expect(title(page)).to_contain_text(then)


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_a_bend_is_made_with_the_thumb_through_a_lost_network_and_a_second_phone(
    bench, page, browser
):
    folder, url = bench
    page.goto(f"{url}job/rail/bender")
    page.get_by_role("link", name=re.compile("^port rail")).click()
    press(page, "Begin")
    expect(title(page)).to_have_text("Cut the stock")
    giant = page.locator(".giant")
    tall = giant.evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)")
    assert tall >= 70, "a capital 10 mm high is read at two metres"
    small = page.evaluate(
        """() => [...document.querySelectorAll("#screen button, #screen summary")]
            .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 56)
            .map((one) => one.innerText)"""
    )
    assert small == []
    to_first_measure(page)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0

    angle = page.get_by_label("Measured angle")
    expect(page.get_by_role("button", name="That is what it measures")).to_be_disabled()
    wanted = float(angle.get_attribute("data-wanted"))
    press(page, "−1°")
    press(page, "−0.5°")
    expect(angle).to_have_value(f"{wanted - 1.5:.1f}")

    page.context.set_offline(True)
    expect(page.get_by_role("alert")).to_contain_text("what you press is not kept")
    expect(page.get_by_role("button", name="That is what it measures")).to_be_disabled()
    page.context.set_offline(False)
    expect(page.get_by_role("alert")).to_be_hidden()
    expect(angle).to_have_value(f"{wanted - 1.5:.1f}")
    press(page, "That is what it measures")
    expect(title(page)).to_contain_text("take it further")

    other = browser.new_page(viewport={"width": 390, "height": 844})
    other.goto(url + AT)
    press(other, "Pulled, and released")
    expect(title(page)).to_contain_text("measure")  # the first phone sees it by itself
    press(page, "Look back")
    expect(page.get_by_text("You are looking back")).to_be_visible()
    press(page, "To where it stands")
    page.reload()
    expect(title(page)).to_contain_text("Bend 1: release and measure")
    with open_log(folder / "log.sqlite") as log:
        run = log.open_run(str((folder / "rail.toml").resolve()), "port rail")
        assert [event["kind"] for event in log.events(run.id)] == [*["done"] * 4, "angle", "done"]
    other.close()


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_a_press_whose_answer_never_comes_is_told_and_the_page_comes_back(bench, page):
    folder, url = bench
    page.goto(f"{url}job/rail/bender/stbd%20rail")
    press(page, "Begin")
    expect(title(page)).to_have_text("Cut the stock")
    page.route("**/bender/**", lambda route: route.abort())
    press(page, "It is cut")
    expect(page.get_by_role("alert")).to_contain_text("No connection")
    page.unroute("**/bender/**")
    expect(page.get_by_role("alert")).to_be_hidden()
    expect(title(page)).to_have_text("Cut the stock")
    with open_log(folder / "log.sqlite") as log:
        run = log.open_run(str((folder / "rail.toml").resolve()), "stbd rail")
        assert log.events(run.id) == []
    press(page, "It is cut")
    expect(title(page)).to_contain_text("Mark out")
