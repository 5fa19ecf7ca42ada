"""Files of tubes brought to the pages by people who got them from others, and sent on again."""

import shutil
from importlib.resources import files

import numpy as np
import pytest

from soapstone.errors import InputError
from soapstone.flow import plan_job
from soapstone.flow.converting import DRAWN, convert, file_of
from soapstone.flow.new_from_file import MOST_TUBES, AskedOfFile
from soapstone.web.brought import bring_in
from soapstone.web.desk import Desk
from soapstone.web.shop import Shop

CHOSEN = AskedOfFile(tubing="316 38.1x1.65", die="38 on 115")
LEANING = b"x_in,y_in,z_in\n0,0,0\n0,0,20 1/2\n0,20,20 1/2\n"


@pytest.fixture
def shop(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return Shop(tmp_path)


def test_the_demo_sent_on_as_rows_is_taken_in_as_the_same_tubes(shop):
    planned = plan_job(shop.path("stern-arch"))
    before = sorted(shop.folder.iterdir())
    for form in ("", "legs"):
        sent = file_of(planned, ".csv", "in", form)
        assert sorted(shop.folder.iterdir()) == before
        name, new = bring_in(shop, "from the office.csv", sent.content, AskedOfFile())
        assert new.findings == ()
        back = Desk.open(shop.path(name)).now
        assert back.job.units == "in"
        for ours, theirs in zip(planned.planned, back.planned.planned, strict=True):
            assert (ours.name, ours.setup.die) == (theirs.name, theirs.setup.die)
            assert np.abs(np.array(ours.points) - theirs.points).max() < 1e-9
        shop.path(name).unlink()


def test_what_a_page_sends_on_is_what_the_command_writes(shop, tmp_path):
    planned = plan_job(shop.path("stern-arch"))
    for ending in (".csv", ".glb", ".stl", ".svg"):  # a DXF and a STEP hold the time of writing
        target = tmp_path / f"by command{ending}"
        convert(shop.path("stern-arch"), target)
        assert file_of(planned, ending, "mm").content == target.read_bytes()
    assert b"EOF" in file_of(planned, ".dxf", "mm").content
    with pytest.raises(InputError, match=r"\.csv, " + DRAWN[0]):
        file_of(planned, ".exe", "mm")


def test_a_table_of_bare_corners_gets_the_tubing_that_was_chosen_and_says_so(shop):
    name, new = bring_in(shop, "C:\\their desk\\leaning <hoop>.csv", LEANING, CHOSEN)
    assert name == "leaning hoop"
    job = Desk.open(shop.path(name)).now.job
    assert (job.units, job.bench, job.tubes[0].tubing, job.tubes[0].die) == (
        "in",
        "bench.toml",
        CHOSEN.tubing,
        CHOSEN.die,
    )
    assert CHOSEN.tubing in new.findings[0].what


def test_a_shop_without_a_bench_takes_in_inches_on_what_fits_there(tmp_path):
    name, new = bring_in(Shop(tmp_path), "corners.csv", LEANING, CHOSEN)
    assert Desk.open(tmp_path / f"{name}.toml").now.planned.planned
    assert new.tubes == 1


@pytest.mark.parametrize(
    ("named", "data", "said"),
    [
        ("a.step", b"", "expected STEP"),
        ("a.step", b"ISO-10303-21;\nHEADER;", "cut short"),
        ("a.stp", b"PK\x03\x04", "packed archive"),
        ("a.csv", b"", "the file is empty"),
        ("a.csv", b"\xff\xfe\x00", "UTF-8"),
        ("a.csv", LEANING.replace(b"20,", b"nan,"), "row 4"),
        ("a.csv", LEANING.replace(b"20,", b"1e9,"), "row 4"),
        ("a.csv", LEANING[:21], "at least 2"),
        ("a.toml", b"", ".step"),
        ("a", b"", ".step"),
        (
            "a.csv",
            b"tube,x_mm,y_mm,z_mm\n"
            + b"".join(b"%d,0,0,0\n%d,0,0,500\n" % (i, i) for i in range(MOST_TUBES + 1)),
            "split the file",
        ),
        ("a.csv", LEANING.replace(b"x_in", b"die,x_in").replace(b"\n0", b"\nno such,0"), "no such"),
    ],
)
def test_what_cannot_be_taken_in_is_told_in_a_line_by_its_own_name_and_nothing_stays(
    shop, named, data, said
):
    before = sorted(shop.folder.iterdir())
    with pytest.raises(InputError, match=said) as refused:
        bring_in(shop, f"../../{named}", data, CHOSEN)
    told = str(refused.value)
    assert told.startswith(named)
    assert "\n" not in told
    assert ".." not in told
    assert sorted(shop.folder.iterdir()) == before
