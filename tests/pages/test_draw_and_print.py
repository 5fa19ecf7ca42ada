"""From an empty shop to a tube that is drawn, led past what is in the way, and printed."""

import re

import numpy as np
import pytest
from playwright.sync_api import expect

from soapstone.flow import plan_job
from soapstone.flow.fitting import check
from tests.pages.conftest import DESK, PHONE, demo_shop, served

CUBE = """solid cube
{}
endsolid cube
"""


def cube(side):
    """A closed box of triangles as ASCII STL, its lowest corner at the origin."""
    corners = np.array([[x, y, z] for x in (0, side) for y in (0, side) for z in (0, side)])
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    facets = []
    for a, b, c, d in faces:
        for three in ((a, b, c), (a, c, d)):
            loop = "\n".join("vertex {} {} {}".format(*corners[k]) for k in three)
            facets.append(f"facet normal 0 0 0\nouter loop\n{loop}\nendloop\nendfacet")
    return CUBE.format("\n".join(facets)).encode()


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    folder = tmp_path_factory.mktemp("empty shop")
    with served(folder) as url:
        yield folder, url


@pytest.mark.parametrize("page", [PHONE], indirect=True)
def test_a_hoop_in_inches_is_started_drawn_by_its_legs_and_given_its_other_hand(empty, page):
    folder, url = empty
    page.goto(url)
    page.get_by_label("What it is called").fill("ladder top")
    page.get_by_label("Units").select_option("in")
    page.get_by_label("Shape").select_option("hoop")
    page.get_by_label(re.compile("^Outside")).fill("30 1/2")
    page.get_by_role("button", name="Start it").click()
    page.wait_for_url("**/job/ladder%20top")
    job = folder / "ladder top.toml"
    points = np.array(plan_job(job).tubes[0].points) / 25.4
    assert np.ptp(points[:, 1]) == pytest.approx(30.5 - 0.75)
    page.get_by_role("button", name="Legs and bends").click()
    angle = page.get_by_label("Angle of bend 2")
    angle.fill("60")
    angle.press("Enter")
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    expect(page.get_by_label("Angle of bend 2")).to_have_value("60")
    assert plan_job(job).tubes[0].shape.angles == pytest.approx((90, 60))
    page.get_by_role("button", name="Tube", exact=True).click()
    page.get_by_role("button", name="Make the other hand").click()
    expect(page.get_by_role("button", name="hoop, other hand")).to_be_visible()
    assert plan_job(job).tubes[1].of == "hoop"


def test_a_scan_brought_in_stands_in_the_room_and_a_broken_one_changes_nothing(empty, page):
    folder, url = empty
    page.goto(url)
    page.get_by_label("What it is called").fill("bracket")
    page.get_by_role("button", name="Start it").click()
    page.wait_for_url("**/job/bracket")
    page.get_by_role("button", name="Room", exact=True).click()
    chosen = page.locator("input[type=file]")
    before = (folder / "bracket.toml").read_text()
    chosen.set_input_files(
        files=[{"name": "../broken.stl", "mimeType": "model/stl", "buffer": b"solid x\nfacet"}]
    )
    expect(page.get_by_text("endsolid")).to_be_visible()
    assert (folder / "bracket.toml").read_text() == before
    assert not list(folder.parent.glob("broken*"))
    chosen.set_input_files(
        files=[{"name": "hull.stl", "mimeType": "model/stl", "buffer": cube(50)}]
    )
    expect(page.locator("summary", has_text="scan")).to_be_visible()
    assert plan_job(folder / "bracket.toml").job.keepouts[0].mesh.file.name == "hull.stl"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = demo_shop(tmp_path_factory.mktemp("demo shop"))
    with served(folder) as url:
        yield folder, url


def test_a_way_is_found_while_the_page_stays_free_and_taken_into_the_file(demo, page):
    folder, url = demo
    page.goto(f"{url}job/stern-arch/route?tube=starboard+brace")
    seconds = page.get_by_label("Seconds to look for it")
    seconds.fill("60")
    page.get_by_role("button", name="Find the way").click()
    expect(page.get_by_text("Best so far")).to_be_visible()
    page.get_by_role("button", name="Stop here").click()
    page.get_by_role("button", name="Take it").first.click()
    page.wait_for_url("**/job/stern-arch")
    before = plan_job(demo_shop(folder.parent) / "stern-arch.toml")
    after = plan_job(folder / "stern-arch.toml")
    old, new = (one.planned[3] for one in (before, after))
    assert new.name == "starboard brace"
    assert new.points[0] == pytest.approx(old.points[0])
    assert new.points[-1] == pytest.approx(old.points[-1])
    assert new.points != old.points


@pytest.mark.parametrize("page", [DESK], indirect=True)
def test_the_die_is_turned_and_the_sheets_are_seen_and_taken_away(demo, page):
    url = f"{demo[1]}job/stern-arch"
    page.goto(f"{url}/steps")
    page.get_by_role("button", name="Bend 2", exact=True).click()
    page.get_by_label("Degrees of the die").fill("12")
    expect(page.locator("output")).to_have_text("12°")
    page.goto(f"{url}/sheets")
    expect(page.locator("img.leaf").first).to_be_visible()
    assert page.locator("img.leaf").first.evaluate(
        "one => one.decode().then(() => one.naturalWidth)"
    )
    with page.expect_download() as taken:
        page.get_by_role("link", name=re.compile("Take the PDF")).click()
    assert taken.value.path().read_bytes().startswith(b"%PDF-")


BARRED = """units = "mm"
[[keepout]]
name = "post"
cylinder = { from = [300, 0, 0], to = [300, 0, 900], diameter = 60 }
gap = 10
[[tube]]
name = "rail"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, -40, 400], [600, -40, 400], [600, 500, 400]]
"""
"""A rail drawn through a post."""


def test_a_drawn_tube_that_hits_something_is_mended_and_kept(demo, page):
    folder, url = demo
    job = folder / "barred.toml"
    job.write_text(BARRED)
    assert not check(plan_job(job)).sound
    page.goto(f"{url}job/barred/route")
    page.get_by_role("button", name="Mend it").click()
    expect(page.get_by_text("a corner moved by")).to_be_visible()
    page.get_by_role("button", name="Take it").click()
    page.wait_for_url("**/job/barred")
    mended = plan_job(job)
    assert check(mended).sound
    assert [mended.planned[0].points[end] for end in (0, -1)] == [
        pytest.approx([0, -40, 400]),
        pytest.approx([600, 500, 400]),
    ]
    page.goto(f"{url}job/barred/route")
    page.get_by_role("button", name="Mend it").click()
    expect(page.get_by_text("sound as it is drawn")).to_be_visible()


def test_a_frame_is_held_and_loaded_without_opening_its_file(demo, page):
    folder, url = demo
    job = folder / "held.toml"
    job.write_text(BARRED)
    page.goto(f"{url}job/held/strength")
    expect(page.get_by_text("nothing holds it")).to_be_visible()
    page.get_by_role("button", name="Hold it there").click()
    expect(page.get_by_text("rail, A end: fast")).to_be_visible()
    expect(page.get_by_text("it carries nothing")).to_be_visible()
    page.get_by_label("It weighs, kg or lb").fill("20")
    page.get_by_role("button", name="Hang it there").click()
    expect(page.get_by_text('expected a mass such as "22 kg"')).to_be_visible()
    page.get_by_label("It weighs, kg or lb").fill("44 lb")
    page.get_by_role("button", name="Hang it there").click()
    expect(page.get_by_text("times its load until it yields")).to_be_visible()
    (load,) = plan_job(job).job.loads
    assert load.mass == pytest.approx(44 * 0.45359237)
    page.get_by_role("button", name="Take away: rail, A end: fast").click()
    expect(page.get_by_text("nothing holds it")).to_be_visible()
