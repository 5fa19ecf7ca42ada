"""Tubes sent on and taken in, and ends put onto tubes and plates, without a terminal."""

import re

import pytest
from playwright.sync_api import expect

from soapstone.flow import plan_job
from tests.pages.conftest import PHONE


def test_rows_are_taken_from_the_sheets_and_brought_in_as_a_new_job(shop, page, tmp_path):
    folder, url = shop
    before = {path.name for path in folder.glob("*.*") if not path.name.startswith("log")}
    page.goto(f"{url.rstrip('/')}/job/stern-arch/sheets")
    page.get_by_text("Files to send on").click()
    page.get_by_label("Rows of the CSV").select_option("legs and bends")
    with page.expect_download() as taken:
        page.get_by_role("button", name="Take it as CSV").click()
    assert taken.value.suggested_filename == "stern-arch.csv"
    sent = tmp_path / "stern-arch.csv"
    taken.value.save_as(sent)
    assert "leg_mm,angle,rotation" in sent.read_text()
    expect(page.get_by_text("Not in it: keep-outs")).to_be_visible()
    assert {path.name for path in folder.glob("*.*") if not path.name.startswith("log")} == before
    page.goto(url)
    page.locator("input[type=file]").set_input_files(sent)
    page.wait_for_url("**/job/stern-arch%202")
    ours, theirs = (plan_job(folder / f"{name}.toml") for name in ("stern-arch", "stern-arch 2"))
    for one, other in zip(ours.planned, theirs.planned, strict=True):
        assert other.stock == pytest.approx(one.stock, abs=1e-6)


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_a_damaged_drawing_is_refused_in_one_line_and_a_table_says_what_was_taken(
    shop, page, tmp_path
):
    folder, url = shop
    broken, table = tmp_path / "broken.step", tmp_path / "hoop.csv"
    broken.write_bytes(b"ISO-10303-21;\nHEADER;\n")
    table.write_text("x_mm,y_mm,z_mm\n0,0,0\n0,0,400\n0,500,400\n")
    page.goto(url)
    page.locator("input[type=file]").set_input_files(broken)
    expect(page.get_by_text("broken.step: expected STEP that ends with")).to_be_visible()
    assert not (folder / "broken.toml").exists()
    page.locator("input[type=file]").set_input_files(table)
    expect(page.get_by_text("hoop: 1 tube taken in.")).to_be_visible()
    expect(page.get_by_text("names no tubing for 1 of its tubes")).to_be_visible()
    page.get_by_role("link", name="Open hoop").click()
    page.wait_for_url("**/job/hoop")
    expect(page.get_by_text("1 bend")).to_be_visible()


def test_an_end_is_coped_onto_a_tube_with_its_numbers_and_template_and_undone(shop, page):
    folder, url = shop
    job = folder / "stern-arch.toml"
    before = job.read_text()
    page.goto(f"{url.rstrip('/')}/job/stern-arch")
    page.get_by_role("button", name="starboard brace", exact=True).click()
    page.get_by_role("button", name="Ends", exact=True).click()
    page.get_by_label("B end is").select_option("onto starboard leg")
    expect(page.get_by_text("Deepest cut")).to_be_visible()
    tube = plan_job(job).planned[3]
    (saw,) = re.findall(r"saw it square at (\S+) mm", " ".join(map(str, tube.problems)))
    expect(page.locator("dl.facts dd", has_text=f"{saw} mm")).to_be_visible()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Take the templates").click()
    assert taken.value.suggested_filename == "stern-arch, starboard brace, templates.pdf"
    assert taken.value.path().read_bytes().startswith(b"%PDF")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Deepest cut")).to_have_count(0)
    assert job.read_text() == before
