"""The pages in a real browser: from the list of jobs to a moved corner, desk and phone."""

import re
import urllib.request

import pytest
from playwright.sync_api import expect

from soapstone.flow import plan_job


def test_a_typed_corner_is_in_the_file_and_on_the_stick_and_can_be_taken_back(shop, page):
    folder, url = shop
    job = folder / "stern-arch.toml"
    before = job.read_text()
    page.goto(url)
    page.get_by_role("link", name=re.compile("Stern arch")).click()
    stick = page.locator("svg.stick").first
    expect(stick).to_be_visible()
    said = stick.get_attribute("aria-label")
    field = page.get_by_label("Corner 4, y")
    field.fill("-200")
    field.press("Enter")
    expect(page.locator("svg.stick").first).not_to_have_attribute("aria-label", said)
    points = plan_job(job).tubes[0].points
    assert points[4][1] == pytest.approx(-200)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("svg.stick").first).to_have_attribute("aria-label", said)
    assert job.read_text() == before


def test_nonsense_typed_is_told_and_changes_nothing(shop, page):
    folder, url = shop
    before = (folder / "stern-arch.toml").read_text()
    page.goto(f"{url}job/stern-arch")
    field = page.get_by_label("Corner 1, x")
    field.fill("near the rail")
    field.press("Enter")
    expect(page.get_by_text("length").first).to_be_visible()
    assert (folder / "stern-arch.toml").read_text() == before


def until(page, true):
    """Wait until something that the page brings about is `true`."""
    for _ in range(300):
        if true():
            return
        page.wait_for_timeout(100)
    assert true()


def change_elsewhere(page, job, y):
    """Move a corner in the file itself, and wait until the page shows it."""
    stick = page.locator("svg.stick").first
    said = stick.get_attribute("aria-label")
    moved = job.read_text().replace("[330, -140.69948405489973, 1850]", f"[330, {y}, 1850]")
    job.write_text(moved)
    expect(stick).not_to_have_attribute("aria-label", said)


def test_what_is_being_typed_stays_when_the_job_changes_elsewhere(shop, page):
    folder, url = shop
    job = folder / "stern-arch.toml"
    before = job.read_text()
    page.goto(f"{url}job/stern-arch")
    page.get_by_label("Corner 1, x").fill("-30")
    change_elsewhere(page, job, -170)
    field = page.get_by_label("Corner 1, x")
    expect(field).to_be_focused()
    expect(field).to_have_value("-30")
    # what was not meant yet is not in the job: a number meant after it is there without it
    page.evaluate(TYPED_FAST, [["Corner 2, x", "95"]])
    until(page, lambda: plan_job(job).tubes[0].points[2][0] == pytest.approx(95))
    assert plan_job(job).tubes[0].points[1][0] == pytest.approx(350)
    expect(field).to_have_value("-30")
    page.keyboard.press("Tab")
    until(page, lambda: plan_job(job).tubes[0].points[1][0] == pytest.approx(-30))
    job.write_text(before)


def test_a_number_about_to_be_typed_over_still_is_when_the_job_changes_elsewhere(shop, page):
    folder, url = shop
    job = folder / "stern-arch.toml"
    before = job.read_text()
    page.goto(f"{url}job/stern-arch")
    field = page.get_by_label("Corner 1, x")
    field.focus()
    field.select_text()
    old = field.element_handle()
    change_elsewhere(page, job, -171)
    page.wait_for_function("(old) => !old.isConnected", arg=old)
    page.keyboard.type("-31")
    expect(page.get_by_label("Corner 1, x")).to_have_value("-31")
    job.write_text(before)


TYPED_FAST = """async (typed) => {
  const say = ([label, value]) => {
    const field = document.querySelector(`[aria-label="${label}"]`);
    field.value = value;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  };
  say(typed[0]);
  await new Promise((sent) => setTimeout(sent, 20));
  // the answer to the first comes meanwhile, and the page is too busy to take it in
  for (const start = performance.now(); performance.now() - start < 700; );
  typed.slice(1).forEach(say);
}"""
"""Types numbers into fields, the others after the page has been made anew for the first one."""


def test_numbers_typed_without_waiting_are_all_kept(shop, page):
    folder, url = shop
    job = folder / "stern-arch.toml"
    before = job.read_text()
    page.goto(f"{url}job/stern-arch")
    typed = {1: -201, 2: -202, 3: -203, 4: -204}
    expect(page.get_by_label("Corner 4, y")).to_be_visible()
    page.evaluate(TYPED_FAST, [[f"Corner {corner}, y", f"{y}"] for corner, y in typed.items()])

    def kept():
        points = plan_job(job).tubes[0].points
        return [round(points[corner][1], 6) for corner in typed]

    until(page, lambda: kept() == list(typed.values()))
    job.write_text(before)


def test_a_mark_pointed_at_lights_its_bend_in_the_table(shop, page):
    page.goto(f"{shop[1]}job/stern-arch")
    page.get_by_role("button", name="Marks").click()
    expect(page.locator('tr[data-bend="2"]')).to_be_visible()
    mark = page.locator('svg.stick g.bend[data-bend="2"]').first
    mark.focus()
    expect(page.locator('tr[data-bend="2"]')).to_have_class(re.compile("lit"))


def test_chalk_on_slate_turns_into_ink_on_paper(shop, page):
    page.emulate_media(color_scheme="dark")
    page.goto(shop[1])
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.get_by_role("button", name="Light or dark").click()
    light = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert sum(map(int, re.findall(r"\d+", light)[:3])) > sum(
        map(int, re.findall(r"\d+", dark)[:3])
    )


def test_other_names_for_this_machine_get_nothing(shop):
    request = urllib.request.Request(shop[1], headers={"Host": "evil.example"})
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request)
    with refused.value as answer:
        assert answer.code == 421


def test_names_that_lead_elsewhere_open_nothing(shop, page):
    for name in ("..%2F..%2Fetc%2Fpasswd", "%2e%2e", "nothing"):
        page.goto(f"{shop[1]}job/{name}")
        assert "root:" not in page.content()
