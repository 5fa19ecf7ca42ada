"""Printed packs read back: all numbers there, nothing over anything, true to size, and safe."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from soapstone.findings import Finding
from soapstone.geometry.moves import mirror
from soapstone.quantities import parse_tape
from soapstone.sheets.contents import PackContents
from soapstone.sheets.hands import pair_hands
from soapstone.sheets.pack import make_pack, page_count
from soapstone.sheets.words import NO_BREAK
from tests.setups import setup
from tests.sheets.packs import contents, drawn_by_lot, length_text, line, named, pair, planned
from tests.sheets.printed import glyphs, longest_runs, outside, overlaps, pages, rendered, text


@cache
def by_lot(seed: int) -> tuple[PackContents, bytes]:
    """A job of two or three tubes drawn by lot, and its pack."""
    pack = drawn_by_lot(seed, tubes=2 + seed % 2)
    return pack, make_pack(pack)


@cache
def of_a_pair() -> bytes:
    return make_pack(contents(pair()))


def all_text(pdf: bytes) -> str:
    return " ".join(text(page) for page in pages(pdf))


@pytest.mark.parametrize("seed", range(8))
def test_text_never_meets_text_or_the_edge(seed):
    for number, page in enumerate(pages(by_lot(seed)[1]), start=1):
        found = glyphs(page)
        assert not overlaps(found), f"page {number}"
        assert not outside(found, page), f"page {number}"


@pytest.mark.parametrize("seed", range(8))
def test_every_card_is_whole_on_one_page(seed):
    pack, pdf = by_lot(seed)
    cards = [text(page) for page in pages(pdf) if "Wanted:" in text(page)]
    assert len(cards) == sum(len(hands.first.bends) for hands in pair_hands(pack.tubes))
    for card in cards:
        assert "MARK TO THE INDEX LINE" in card
        assert "final angle" in card


@pytest.mark.parametrize("seed", range(8))
def test_every_mark_and_dial_stop_is_on_the_tubes_sheet_and_on_its_cards(seed):
    pack, pdf = by_lot(seed)
    printed = all_text(pdf)
    for tube in pack.tubes:
        for bend in tube.bends:
            mark = length_text(bend.stock_mark, pack)
            unit = '"' if pack.units == "in" else " mm"
            assert printed.count(f"{mark}{unit}") >= 2
            decimals = {0.1: 1, 0.5: 1, 1.0: 0}[pack.dial_step]
            assert printed.count(f"{bend.dial_stop:.{decimals}f}°") >= 2
            for stroke in bend.strokes:
                assert f"{stroke:.{decimals}f}°" in printed
        for cut in tube.cuts:
            if cut.offcut > 0:
                assert length_text(cut.stock_mark, pack) in printed
        assert length_text(tube.stock_tape, pack) in printed


def test_both_hands_share_sheet_and_cards_and_their_rolls_go_opposite_ways():
    printed = [text(page) for page in pages(of_a_pair())]
    assert len(printed) == 1 + 1 + 3 + 1
    sheet, cards = printed[1], printed[2:5]
    assert "port leg" in sheet
    assert "starboard leg" in sheet
    assert "90° clockwise 90° anticlockwise" in sheet
    assert "40° anticlockwise 40° clockwise" in sheet
    assert "port leg clockwise starboard leg anticlockwise" in cards[1]
    assert "port leg anticlockwise starboard leg clockwise" in cards[2]
    assert "Roll 90° clockwise, seen from the tail." in cards[1]
    assert "Roll 90° anticlockwise, seen from the tail." in cards[1]


@pytest.mark.parametrize(
    ("plane", "swing", "way"),
    [
        ("horizontal", "left", "end for end, flat on the table"),
        ("vertical", "up", "end over end, in the die's plane"),
    ],
)
def test_bends_stand_in_the_order_made_and_a_turn_end_for_end_before_its_bend(plane, swing, way):
    tubes = pair("3A 1A 2B", plane=plane, swing=swing)
    printed = [text(page) for page in pages(make_pack(contents(tubes)))]
    sheet, cards = printed[1], [page for page in printed if "Wanted:" in page]
    turned = f"Turn the tube {way}: the B end leads now."
    marks = [sheet.index(f"{bend.n} {bend.stock_mark:g} mm ") for bend in tubes[0].bends]
    assert marks == sorted(marks)
    assert marks[1] < sheet.index(turned) < marks[2]
    assert "in the order 3, 1 with the A end leading, then 2 with the B end leading" in sheet
    for n, card in zip("312", cards, strict=True):
        assert f"Bend {n} made" in card
    assert [turned in card for card in cards] == [False, False, True]
    roll = tubes[0].bends[2].roll
    ways = ("clockwise", "anticlockwise") if roll > 0 else ("anticlockwise", "clockwise")
    for one in ways:
        assert f"Then roll {abs(roll):g}° {one}, seen from the tail." in cards[2]
    assert f"port leg {ways[0]} starboard leg {ways[1]}" in cards[2]


def test_a_card_says_what_to_level_and_which_end_is_up():
    tubes = pair(plane="vertical", swing="up")
    cards = [text(page) for page in pages(make_pack(contents(tubes)))][2:5]
    for place, card in enumerate(cards):
        for tube in tubes:
            level = tube.bends[place].level
            if level is None:
                continue
            up = f", {level.rises} end up" if level.rises else ""
            said = "level" if not up else f"at {level.reads:.1f}°{up}"
            if level.reads >= 89.95:
                said = f"plumb, seen from the tail{up}"
            assert f"Leg {level.leg} {said}." in card


def test_a_stop_is_on_the_cover_on_the_sheet_and_on_every_card_of_its_tube():
    port, starboard = pair()
    stop = Finding("stop", "port leg, leg 2", "12 mm too short for the clamp", "lengthen it")
    printed = pages(make_pack(contents((replace(port, problems=(stop,)), starboard))))
    words = [text(page) for page in printed]
    for page in words[:2]:
        assert "STOP: mend this before bending" in page
        assert "12 mm too short for the clamp" in page
    cards = [page for page in words if "Wanted:" in page]
    assert len(cards) == 3
    assert all("STOP: do not bend this yet" in card for card in cards)


def test_a_tube_without_a_plan_is_on_the_cover():
    pack = contents(pair(), unmade=("too wide",))
    cover = text(pages(make_pack(pack))[0])
    assert "3 tubes, 1 of them cannot be made" in cover
    assert "too wide STOP: cannot be made" in cover
    assert "1 tube, which cannot be made" in all_text(make_pack(contents((), unmade=("x",))))


def test_the_cover_warns_first_and_writes_runs_of_bends_short():
    note = Finding("note", "job", "a plan is blind", "look yourself")
    warn = Finding("warn", "port leg, bend 1, 2, 3", "the dial is unsure", "make trial bends")
    cover = text(pages(make_pack(contents(pair(), findings=(note, warn))))[0])
    said = "port leg, bends 1–3: the dial is unsure. Make trial bends"
    assert cover.index(said) < cover.index("a plan is blind. Look yourself")


def test_no_stop_no_box():
    assert "STOP:" not in all_text(of_a_pair())


def test_first_stop_is_never_past_the_wanted_one_and_the_rest_is_said():
    tube = pair()[0]
    step = replace(tube.bends[1], first_stop=33.74, dial_stop=36.0, angle=35.0, loaded=35.7)
    tube = replace(tube, bends=(tube.bends[0], step, tube.bends[2]))
    printed = all_text(make_pack(contents((tube,))))
    card = next(page for page in map(text, pages(make_pack(contents((tube,))))) if "Bend 2" in page)
    assert "FIRST STOP" in card
    assert "about 36.0° after measuring" in card
    assert "33.5° first stop then about 36.0°" in printed
    assert "If not, stop at 33.5° + 1.02 × (35° – measured)." in card
    assert "second stop at" in card


def test_cut_lines_are_marked_with_the_bends_and_the_tape_waits_for_the_saw():
    shape = line([20, 220, 15], [60, 90], [0, 90], 100)
    tube = planned([named("short ends", shape)], setup())[0]
    sheet = text(pages(make_pack(contents((tube,))))[1])
    places = [tube.cuts[0].stock_mark, *(b.stock_mark for b in tube.bends)]
    places.append(tube.cuts[1].stock_mark)
    names = ["cut A", "bend 1", "bend 2", "cut B"]
    marks = ", ".join(f"{at:g} mm ({name})" for at, name in zip(places, names, strict=True))
    assert f"mark, without moving it: {marks}." in sheet
    assert "saw on the line of cut A and keep the side toward B" in sheet
    assert "AFTER BOTH CUTS" in sheet


def test_the_banner_of_a_pair_says_what_is_true_of_it():
    with_setup = setup(seam=False)
    flat = line([300, 220, 250], [80, 35], [0, 0], with_setup.clr_free, start=(0.0, 400.0, 0.0))
    other = mirror(flat, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    tubes = planned([named("left", flat), named("right", other, "left")], with_setup)
    printed = all_text(make_pack(contents(tubes)))
    assert "opposite ways" not in printed
    assert "the rolls go opposite ways" in all_text(of_a_pair())


def test_same_contents_give_the_same_bytes():
    assert make_pack(contents(pair())) == of_a_pair()


@pytest.mark.parametrize("seed", [2, 5])
def test_pages_are_counted_as_a_reader_counts_them(seed):
    pdf = by_lot(seed)[1]
    assert page_count(pdf) == len(pages(pdf))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_paper_has_its_size(paper):
    size = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[paper]
    for page in pages(make_pack(contents(pair(), paper=paper))):
        assert [value / 72 * 25.4 for value in page.get_size()] == pytest.approx(size, abs=0.05)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    ("units", "length", "said"), [("mm", 100.0, "100 mm"), ("in", 101.6, "4 in")]
)
def test_check_lines_have_their_length_on_paper(paper, units, length, said):
    """At 600 dots per inch one dot is 0.042 mm; both check lines within 0.1 mm."""
    tube = planned([named("tube", line([300, 250], [80], [0], 100))], setup())
    band_page = pages(make_pack(contents(tube, paper=paper, units=units)))[-1]
    assert text(band_page).count(said) >= 3
    dark = rendered(band_page, 600) < 90
    for lines in (dark, dark.T):
        lengths = longest_runs(lines) / 600 * 25.4
        near = lengths[(lengths > 90) & (lengths < 110)]
        assert near.size > 0
        assert near == pytest.approx(np.full(near.size, length), abs=0.1)


@pytest.mark.parametrize("od", [38.1, 60.3])
def test_bands_go_once_round_on_paper(od):
    """A band's upper edge is as long as the tube is round; pi OD, split over strips when wide."""
    tube = planned(
        [named("tube", line([300, 250], [80], [0], 3 * od))], setup(od=od, die_od=od, clr=3 * od)
    )
    image = pages(make_pack(contents(tube)))[-1].render(scale=300 / 72).to_numpy()
    ember = (image[:, :, 2] > 150) & (image[:, :, 0] < 60)
    runs = longest_runs(ember) / 300 * 25.4
    around = np.pi * od
    assert np.abs(runs - (around if around < 160 else around / 2)).min() < 0.1


HOSTILE = [
    "#panic()",
    '#import "x": *; *bold* _it_ $x$ @ref <tag> `raw` \\ // /* */',
    "A" * 300,
    "long name " * 40,
    "مرحبا بالعالم",
    "🔧🔩 café",
    "",
    "\u202egnp.exe\x00\x07\n\ttail",
    "日本語の名前",
    "{{}} %s ${x} <script>alert(1)</script> &amp; ]]>",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_only_ever_text(name):
    bent = setup(tubing=name, die=name)
    tubes = planned([named(name, line([300, 220, 250], [80, 35], [0, 90], 100))], bent)
    calm = planned([named("calm", line([300, 220, 250], [80, 35], [0, 90], 100))], setup())
    note = Finding("stop", name, name, name)
    pack = contents(
        tubes,
        job=name,
        bender=name,
        date=name,
        note=name,
        calibrations={name: name},
        cautions=(name,),
        findings=(note,),
    )
    document = pages(make_pack(pack))
    assert len(document) >= len(pages(make_pack(contents(calm))))
    for page in document:
        found = glyphs(page)
        assert not overlaps(found)
        assert not outside(found, page)


def test_markup_in_a_name_is_printed_as_written():
    tubes = planned([named("*x* #panic() $y$", line([300, 250], [80], [0], 100))], setup())
    assert "*x* #panic() $y$" in all_text(make_pack(contents(tubes)))


def test_inches_are_printed_to_the_tape_and_never_run_into_their_fraction():
    tubes = pair()
    pack = contents(tubes, units="in", tape=parse_tape("1/16 in"))
    document = pages(make_pack(pack))
    bend = tubes[0].bends[0]
    mark = length_text(bend.stock_mark, pack)
    assert mark == "11 13/16"
    assert mark in text(document[2])
    whole, part = mark.split(" ")
    strokes = [page for page in document if f"{whole}{part}" in text(page)]
    assert not strokes


def test_a_length_is_not_broken_over_lines():
    pack = contents(pair(), units="in", tape=parse_tape("1/16 in"))
    assert NO_BREAK in pack.numbers.length(300.0)


def test_a_tube_without_bends_and_a_job_without_tubes_print():
    straight = planned([named("straight", line([500], [], [], 100))], setup())
    assert page_count(make_pack(contents(straight))) == 2
    assert page_count(make_pack(contents(()))) == 1
