"""The page of what the tubes keep clear of: its numbers, its pictures, and what does not fit."""

from functools import cache

import numpy as np
import pytest

from soapstone.findings import Finding
from soapstone.fit.clearance import KeepOut, clearance_findings, clearances
from soapstone.fit.motion import Hinge
from soapstone.flow.packing import write_pack
from soapstone.flow.planning import plan_job
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, box_mesh
from soapstone.sheets.bodies import body_of, hull, outline
from soapstone.sheets.contents import Surroundings
from soapstone.sheets.pack import make_pack
from soapstone.sheets.projection import FRONT, RIGHT, TOP
from soapstone.sheets.silhouette import Cover, area
from soapstone.sheets.sketch import Box as PageBox
from tests.setups import setup
from tests.sheets.packs import contents, drawn_by_lot, line, named, pair, planned, surrounded
from tests.sheets.printed import glyphs, outside, overlaps, pages, text
from tests.sheets.test_pack import HOSTILE

MOTOR = KeepOut(
    "outboard",
    Box((400.0, 900.0, 0.0), (300.0, 300.0, 500.0)),
    40.0,
    (Hinge((400.0, 900.0, 300.0), (1.0, 0.0, 0.0), 0.0, 62.0),),
)


def around(tubes, *keepouts: KeepOut) -> Surroundings:
    gaps = {tube.name: clearances(tube.shape, tube.setup.od, keepouts) for tube in tubes}
    return Surroundings(keepouts, gaps)


@cache
def by_lot(seed: int) -> bytes:
    return make_pack(surrounded(drawn_by_lot(seed, tubes=2 + seed % 3), seed))


@pytest.mark.parametrize("seed", range(8))
def test_text_never_meets_text_or_the_edge(seed):
    document = pages(by_lot(seed))
    assert any(text(page).startswith("Room") for page in document)
    for number, page in enumerate(document, start=1):
        found = glyphs(page)
        assert not overlaps(found), f"page {number}"
        assert not outside(found, page), f"page {number}"


def test_names_are_only_ever_text():
    tubes = planned([named("tube", line([300, 250, 200], [80, 40], [0, 90], 100))], setup())
    document = pages(make_pack(surrounded(contents(tubes), 3, names=HOSTILE)))
    for page in document:
        found = glyphs(page)
        assert not overlaps(found)
        assert not outside(found, page)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_gap_wanted_place_and_hinge_are_on_the_page_and_on_the_tubes_sheet(units):
    tubes = pair()[:1]
    about = around(tubes, MOTOR)
    (gap,) = about.gaps[tubes[0].name]
    assert gap.gap > 40
    room, sheet = (
        text(page)
        for page in pages(make_pack(contents(tubes, units=units, surroundings=about)))[1:3]
    )
    if units == "mm":
        near, wanted, along = (
            f"{gap.gap:.1f}".removesuffix(".0") + " mm",
            "40",
            f"{gap.along:.0f} mm",
        )
    else:
        thirty_seconds = round(gap.gap / 25.4 * 32)
        near = str(thirty_seconds // 32)
        wanted, along = "1", str(int(gap.along / 25.4))
    hinge = f"{gap.angles[0]:.1f}".removesuffix(".0") + "°"
    assert f"outboard {near}" in room
    assert f"wanted {wanted}" in room
    assert along in room
    assert hinge in room
    assert f"Keeps {near}" in sheet
    assert f"{wanted}" in sheet
    assert f"{along}" in sheet
    assert f"hinge at {hinge}" in sheet
    assert "swings 62°" in room


def test_what_comes_too_near_is_a_stop_on_cover_sheet_and_cards(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(JOB)
    pack = write_pack(plan_job(job), tmp_path / "pack.pdf", None, "a day")
    assert not pack.plan.sound
    words = [text(page) for page in pages(pack.file.read_bytes())]
    assert "STOP: mend this before bending" in words[0]
    assert 'hits "post"' in words[0]
    assert "clearance" not in words[0]
    assert "\u2212" in words[1]
    assert "hits post by" in words[1]
    assert any("STOP: mend this" in page and "Hits post by" in page for page in words[2:])
    cards = [page for page in words if "Wanted:" in page]
    assert cards
    assert all("STOP: do not bend this yet" in card for card in cards)
    severities = [problem["severity"] for problem in pack.as_json()["tubes"][0]["problems"]]
    assert "stop" in severities


def test_a_job_without_keepouts_has_no_such_page(tmp_path):
    job, pdf = tmp_path / "job.toml", tmp_path / "p.pdf"
    job.write_text(JOB.split("[[keepout]]", maxsplit=1)[0] + JOB[JOB.index("[[tube]]") :])
    write_pack(plan_job(job), pdf, None, "a day")
    words = [text(page) for page in pages(pdf.read_bytes())]
    assert not any(page.startswith("Room") for page in words)
    assert "clearance" not in " ".join(words)


def test_every_place_too_near_is_listed_and_the_others_are_counted():
    tubes = pair()[:1]
    posts = [
        KeepOut(f"post {i}", Ball((-900.0 - 10 * i, 400.0, 300.0), 100.0), 2000.0 if i < 6 else 0.0)
        for i in range(12)
    ]
    about = around(tubes, *posts)
    short = clearance_findings("", about.gaps[tubes[0].name])
    assert len(short) == 6
    room = text(pages(make_pack(contents(tubes, surroundings=about)))[1])
    for i in range(6):
        assert f"post {i} " in room
    listed = room.count(" 0 mm ")
    assert f"{12 - 6 - listed} gaps are not listed" in room or listed == 6


def test_both_hands_keep_their_own_distances():
    tubes = pair()
    post = KeepOut("post", Cylinder((0.0, 900.0, -100.0), (0.0, 900.0, 900.0), 80.0), 10.0)
    about = around(tubes, post)
    sheet = text(pages(make_pack(contents(tubes, surroundings=about)))[2])
    for tube in tubes:
        (gap,) = about.gaps[tube.name]
        near = f"{gap.gap:.1f}".removesuffix(".0")
        assert f"{tube.name}: Keeps {near} mm from post" in sheet


def test_the_plans_own_findings_stay():
    tubes = pair()[:1]
    note = Finding("warn", "job", "the dial is not known well")
    words = text(
        pages(make_pack(contents(tubes, findings=(note,), surroundings=around(tubes, MOTOR))))[0]
    )
    assert "the dial is not known well" in words


def spread(loops) -> float:
    return sum(area(loop) for loop in loops)


@pytest.mark.parametrize("view", [FRONT, TOP, RIGHT])
@pytest.mark.parametrize("turned", [(0, 0, 0), (20, -35, 70)])
def test_a_mesh_has_the_outline_of_the_box_it_is(view, turned):
    box = Box((30.0, -20.0, 10.0), (80.0, 50.0, 120.0), turned)
    everywhere = np.full(3, np.inf)
    true = body_of(box, 1.0, -everywhere, everywhere)
    mesh = body_of(box_mesh(box), 0.4, -everywhere, everywhere)
    exact = outline(true, view.project(true.points)[:, :2], 1.0)
    cover = Cover(PageBox(-200, -200, 200, 200))
    cover.add_points(view.project(mesh.points)[:, :2])
    (loop,) = cover.loops()
    assert area(loop) == pytest.approx(area(exact), rel=0.02)
    filled = Cover(PageBox(-200, -200, 200, 200))
    filled.add_convex(exact)
    assert spread(filled.loops()) == pytest.approx(area(exact), rel=0.01)


def test_a_window_in_a_mesh_stays_open():
    frame = [
        box_mesh(Box(at, size)).triangles()
        for at, size in [
            ((-45, 0, 0), (10, 5, 100)),
            ((45, 0, 0), (10, 5, 100)),
            ((0, 0, 45), (100, 5, 10)),
            ((0, 0, -45), (100, 5, 10)),
        ]
    ]
    corners = np.concatenate(frame)
    mesh = Mesh(corners.reshape(-1, 3), np.arange(len(corners) * 3).reshape(-1, 3))
    body = body_of(mesh, 0.4, np.full(3, -np.inf), np.full(3, np.inf))
    cover = Cover(PageBox(-80, -80, 80, 80))
    cover.add_points(FRONT.project(body.points)[:, :2])
    outer, window = cover.loops()
    assert area(outer) == pytest.approx(100**2, rel=0.02)
    assert area(window) == pytest.approx(-(80**2), rel=0.02)


def test_a_rod_and_a_ball_are_as_wide_as_they_are():
    everywhere = np.full(3, np.inf)
    rod = body_of(Rod(line([200], [], [], 100), 30.0), 0.4, -everywhere, everywhere)
    cover = Cover(PageBox(-50, -50, 50, 250))
    cover.add_points(FRONT.project(rod.points)[:, :2])
    assert spread(cover.loops()) == pytest.approx(200 * 30, rel=0.03)
    ball = body_of(Ball((1.0, 2.0, 3.0), 40.0), 1.0, -everywhere, everywhere)
    assert area(outline(ball, np.zeros((1, 2)), 1.0)) == pytest.approx(np.pi * 400, rel=0.01)


def test_a_hull_is_convex_and_holds_all_points():
    points = np.random.default_rng(4).normal(size=(200, 2))
    ring = hull(points)
    sides = np.roll(ring, -1, axis=0) - ring
    for corner, side in zip(ring, sides, strict=True):
        off = points - corner
        assert (side[0] * off[:, 1] - side[1] * off[:, 0]).min() > -1e-12


def test_a_half_space_far_below_and_things_far_away_do_not_shrink_the_picture():
    tubes = pair()[:1]
    near = make_pack(contents(tubes, surroundings=around(tubes, MOTOR)))
    floor = KeepOut("pit", HalfSpace((0.0, 0.0, -50000.0), (0.0, 0.0, 1.0)), 0.0)
    moon = KeepOut("moon", Ball((90000.0, 0.0, 0.0), 3000.0), 0.0)
    far = make_pack(contents(tubes, surroundings=around(tubes, MOTOR, floor, moon)))
    widths = []
    for pdf in (near, far):
        image = pages(pdf)[1].render(scale=1.0).to_numpy()
        upper = image[60 : image.shape[0] // 3, : image.shape[1] // 2]
        dark = np.flatnonzero((upper.min(axis=2) < 90).any(axis=0))
        widths.append(dark.max() - dark.min())
    assert widths[1] > 0.7 * widths[0]


JOB = """
format = 1
name = "Rail"
units = "mm"
[[keepout]]
name = "post"
cylinder = { from = [300, 0, 400], to = [300, 400, 400], diameter = 60 }
gap = 5
[[tube]]
name = "rail"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 0, 0], [0, 0, 400], [600, 0, 400], [600, 0, 0]]
"""
