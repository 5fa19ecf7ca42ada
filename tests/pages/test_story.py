"""The whole job by someone who never opens a terminal: from an empty folder to a rescued tube."""

import re

import pytest
from playwright.sync_api import expect
from pypdfium2 import PdfDocument

from soapstone.flow import plan_job
from soapstone.log.store import open_log
from tests.pages.conftest import PHONE, served

LONGEST = 60
"""Presses after which a run that has not ended never will."""


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    folder = tmp_path_factory.mktemp("new shop")
    with served(folder) as url:
        yield folder, url


def press(page, label):
    page.get_by_role("button", name=label, exact=True).click()


def start(page, url):
    page.goto(url)
    page.get_by_label("What it is called").fill("Rod rack")
    page.get_by_label("Shape").select_option("gooseneck")
    press(page, "Start it")
    page.wait_for_url("**/job/**")
    expect(page.locator("svg.stick").first).to_be_visible()
    return page.url


def put_a_ball_in_the_way(page):
    press(page, "Room")
    page.get_by_label("What it is").select_option("ball")
    press(page, "Put it in")
    page.locator("summary", has_text="ball").click()
    field = page.get_by_label("Centre of ball, y")
    field.fill("700")
    field.press("Enter")
    expect(page.get_by_text("gooseneck is clear")).to_be_visible()


def change_a_straight(page, number, to):
    stick = page.locator("svg.stick").first
    said = stick.get_attribute("aria-label")
    press(page, "Legs and bends")
    field = page.get_by_label(f"Straight {number}")
    field.fill(to)
    field.press("Enter")
    expect(stick).not_to_have_attribute("aria-label", said)


def pack(page, address):
    """Give the words of each page of the sheet pack, as it is taken away."""
    page.goto(f"{address}/sheets")
    with page.expect_download() as taken:
        page.get_by_role("link", name=re.compile("Take the PDF")).click()
    with PdfDocument(taken.value.path()) as document:
        return [sheet.get_textpage().get_text_range() for sheet in document]


def bend(phone, address):
    """Make the tube, its first bend two degrees too far; give what it showed."""
    phone.goto(f"{address}/bender")
    phone.get_by_role("link", name=re.compile("^gooseneck")).click()
    press(phone, "Begin")
    screen = phone.locator("#screen")
    titles, wanted, rescue, step = [], [], "", screen.get_attribute("data-step")
    for _ in range(LONGEST):
        expect(screen).not_to_have_attribute("data-step", step)
        step = screen.get_attribute("data-step")
        titles.append(screen.locator("h2").first.inner_text())
        if titles[-1] == "Finished":
            break
        if "measure the angle" in titles[-1]:
            wanted.append(float(phone.get_by_label("Measured angle").get_attribute("data-wanted")))
            touches = ("+1°", "+1°") if titles[-1].startswith("Bend 1") else ("+0.5°", "−0.5°")
            for by in touches:
                press(phone, by)
            press(phone, "That is what it measures")
        elif "too far" in titles[-1]:
            rescue = screen.inner_text()
            press(phone, "Take the rescue")
        else:
            screen.locator("button.main").last.click()
    return titles, wanted, rescue


def test_from_an_empty_folder_to_a_rescued_tube(empty, page, browser):
    folder, url = empty
    address = start(page, url)
    put_a_ball_in_the_way(page)
    change_a_straight(page, 2, "391")
    drawn = plan_job(folder / "Rod rack.toml")
    assert drawn.planned[0].shape.legs[1] == pytest.approx(391)
    assert [one.name for one in drawn.job.keepouts] == ["ball"]

    page.goto(f"{address}/steps")
    expect(page.get_by_role("button", name="Bend 2", exact=True)).to_be_visible()
    sheets = pack(page, address)
    assert any("Rod rack" in sheet and "gooseneck" in sheet for sheet in sheets)

    phone = browser.new_page(viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True)
    titles, wanted, rescue = bend(phone, address)
    phone.close()
    assert titles[-1] == "Finished"
    assert "bend 2: dial" in rescue
    first, second = drawn.planned[0].bends
    assert wanted[0] == pytest.approx(first.angle, abs=0.05)
    assert wanted[1] < second.angle - 1, "the second bend makes up for the first"
    with open_log(folder / "log.sqlite") as log:
        runs = log.runs()
        kinds = [event["kind"] for event in log.events(runs[-1].id)]
    assert "rescue" in kinds
    page.goto(f"{url}log")
    expect(page.get_by_text("gooseneck").first).to_be_visible()
