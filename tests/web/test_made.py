"""A made tube taped on its page: what is typed, where it is kept, and what is said of it."""

import re
from dataclasses import replace

import numpy as np
import pytest

from soapstone.check.inspect.asked import AskedRow
from soapstone.check.inspect.files import read_readings
from soapstone.check.inspect.places import place_named
from soapstone.check.inspect.reads import Height, Protractor, Taping, drawn, reads
from soapstone.check.making import Cause, making_of
from soapstone.errors import InputError
from soapstone.flow import plan_job
from soapstone.flow.inspecting import inspect_tube
from soapstone.flow.remembering import Remember
from soapstone.flow.taping import Piece, put_down, put_lot, take
from soapstone.web.made_file import made_file
from soapstone.web.made_words import to_do, verdict, worst_words
from soapstone.web.taped_picture import SMALL, places_svg, row_svg
from tests.pages.conftest import demo_shop

LEG = "starboard leg"

NO_LOG = Remember(left_out=True)

TAPE = AskedRow("tape", 0, ("mark 1", "B end"), 0, 1054.0)

READINGS = """format = 1
units = "mm"
tube = "cross tube"
[[tape]]
from = "mark 1"
to = "B end"
length = 1054
"""


JOB = """format = 1
bench = "bench.toml"
units = "{units}"
[[tube]]
name = "cross tube"
tubing = "316 38.1x1.65"
die = "38 on 115"
points = [["96 mm", "-623 mm", "1190 mm"], ["96 mm", "-380 mm", "1290 mm"],
          ["96 mm", "380 mm", "1290 mm"], ["96 mm", "623 mm", "1190 mm"]]
"""

KEYS = {"tape": "length", "height": "height", "bend": "angle"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = demo_shop(tmp_path_factory.mktemp("demo"))
    return folder / "stern-arch.toml", plan_job(folder / "stern-arch.toml", NO_LOG)


@pytest.fixture
def job(tmp_path, monkeypatch):
    monkeypatch.setenv("SOAPSTONE_LOG", str(tmp_path / "log.sqlite"))
    job = demo_shop(tmp_path) / "cross.toml"
    job.write_text(JOB.format(units="mm"))
    return job


def _piece(job, tube="cross tube", planned=None):
    return Piece(job, tube, made_file(job, tube), planned)


def _row(taking, kind, *about):
    return next(r for r in taking.rows if r.kind == kind and about in (r.names, (r.bend,)))


def _measure(piece, *, stopped_short=0.0):
    """Put down what tape, floor and protractor read where bend 2 was stopped short by degrees."""
    taking = take(piece)
    making = making_of(taking.plan)
    off = np.zeros(len(making.causes))
    off[making.place_of(Cause("stop", 2))] = -stopped_short / (
        taking.plan.setup.dial_step / np.sqrt(12)
    )
    made = making.made(off) if stopped_short else drawn(taking.plan)
    for row in taking.rows:
        places = [place_named(name, making) for name in row.names]
        what = {
            "tape": lambda: Taping(*places),  # noqa: B023
            "height": lambda: Height(*places, row.bend, row.turned),  # noqa: B023
            "bend": lambda: Protractor(row.bend),  # noqa: B023
        }[row.kind]()
        value = float(reads([what], making, made)[0])
        put_down(piece, row, KEYS[row.kind], f"{max(value, 0.0):.3f} {'mm' * (row.kind != 'bend')}")
    return take(piece)


def test_a_tube_as_drawn_passes(job):
    piece = _piece(job)
    assert verdict(take(piece)) == ("Nothing measured yet", "")
    assert not piece.file.exists(), "looking writes nothing"
    good = _measure(piece)
    assert verdict(good) == ("Every leg, bend and roll passes; not sure of the B end", "good")
    wider = replace(good, result=replace(good.result, ends_limit=20.0))
    assert verdict(wider) == ("Passes", "good")


def test_a_short_bend_is_named_with_what_to_do_in_inches_too(job):
    job.write_text(JOB.format(units="in"))
    short = _measure(_piece(job), stopped_short=4.0)
    assert verdict(short) == ("Does not pass: bend 2", "bad")
    worst = short.result.worst
    came_out = 4.0 / (1 + short.plan.setup.calibration.springback)
    assert worst.off == pytest.approx(-came_out, abs=worst.plus_minus)
    assert worst_words(short.result).startswith("Farthest off: bend 2, -")
    assert [line[:15] for line in to_do(short.result, 2)] == ["Bend 2 is short"]


def test_what_is_past_mending_is_sent_to_rescue_and_a_long_end_is_cut(job):
    result = _measure(_piece(job)).result
    far = replace(result.numbers[3], verdict="out", made=result.numbers[3].drawn + 3)
    long = replace(result.numbers[0], verdict="out", made=result.numbers[0].drawn + 9)
    done = list(to_do(replace(result, numbers=(far, long)), 2))
    assert "Rescue" in done[0]
    assert "cut it back" in done[1]


def test_the_command_reads_what_the_page_wrote_and_says_the_same(job):
    piece = _piece(job)
    page = take(piece)
    put_down(piece, _row(page, "tape", "A end", "B end"), "length", "49 5/8 in")
    put_down(piece, _row(page, "bend", 2), "angle", "20,2")
    put_lot(piece, "heat 9")
    assert inspect_tube(job, piece.file).result == take(piece).result
    data = read_readings(piece.file)
    read = [one.length for one in data.tapes if one.length is not None]
    assert read == pytest.approx([49.625 * 25.4])
    assert data.bends[1].angle == 20.2
    assert data.lot == "heat 9"
    assert data.piece, "so that no bend counts twice"
    # in its own row, above the remark that speaks of it
    assert 'to = "B end"\nlength = "49 5/8 in"\n# length =' in piece.file.read_text("utf-8")


@pytest.mark.parametrize("typed", ["nan", "-4", "a lot", "9e99", "0", "1e400", '12" 3/8 5'])
def test_what_is_no_reading_is_refused_and_what_stood_there_stays(job, typed):
    piece = _piece(job)
    piece.file.write_text(READINGS)
    with pytest.raises(InputError):
        put_down(piece, TAPE, "length", typed)
    assert piece.file.read_text("utf-8") == READINGS


def test_a_reading_goes_nowhere_once_the_file_asks_for_something_else(job):
    piece = _piece(job)
    piece.file.write_text(READINGS)
    put_down(piece, TAPE, "length", "")
    assert "length" not in piece.file.read_text("utf-8")
    piece.file.write_text(READINGS.replace("mark 1", "leg 1"))
    with pytest.raises(InputError, match="something else"):
        put_down(piece, TAPE, "length", "1050")


def test_every_piece_and_every_tube_has_a_file_of_its_own_and_none_leads_out(job):
    folder = job.parent
    first = made_file(job, LEG)
    first.write_text(f'tube = "{LEG}"')
    second = made_file(job, LEG, another=True)
    second.write_text(f'tube = "{LEG}"')
    assert first != second
    assert made_file(job, LEG) == second, "the last piece is the one on the page"
    hostile = ["../../x", "a/b", "a:b", "..", "", "con", "é" * 300, "x\x00y", "\u202e"]
    for name in hostile:
        assert made_file(job, name).parent == folder
        assert len(made_file(job, name).name.encode()) < 255
    (folder / "cross made a b.toml").write_text('tube = "a/b"')
    assert made_file(job, "a/b").name == "cross made a b.toml"
    assert made_file(job, "a:b").name == "cross made a b 2.toml"
    (folder / "cross made port leg.toml").symlink_to("/etc/hostname")
    assert made_file(job, "port leg").name == "cross made port leg 2.toml"


def test_an_image_is_asked_for_the_same_lengths_lying_the_other_way_round(demo):
    port, star = (take(_piece(demo[0], name, demo[1])).rows for name in ("port leg", LEG))
    assert [one.drawn for one in port] == pytest.approx([one.drawn for one in star])
    heights = [(a.turned, b.turned) for a, b in zip(port, star, strict=True) if a.kind == "height"]
    assert heights
    assert all(a != b for a, b in heights)


def test_every_row_has_a_drawing_within_its_frame(demo):
    taking = take(_piece(demo[0], LEG, demo[1]))
    for row in taking.rows:
        for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", row_svg(taking.plan, row)):
            assert 0 <= float(x) <= SMALL[0]
            assert 0 <= float(y) <= SMALL[1]
    assert all(f">{word}<" in places_svg(taking.plan) for word in ("A", "B", "1", "4"))
