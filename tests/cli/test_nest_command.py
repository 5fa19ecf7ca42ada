"""Nesting whole jobs, as a user asks for it."""

import pypdfium2
import pytest

from soapstone.flow.yard_stock import add_sticks
from tests.cli.running import is_clean, soapstone

BENCH = """
format = 1
units = "mm"
kerf = 3
[[die]]
name = "d"
od = 38.1
clr = 115
clamp = 300
follower = 90
[[tubing]]
name = "t"
od = 38.1
wall = 1.65
material = "304"
sticks = [3000, 6000]
price = 10
"""
JOB = """
format = 1
name = "NAME"
units = "mm"
bench = "bench.toml"
[[tube]]
name = "hook"
tubing = "t"
points = [[0, 0, 0], [1500, 0, 0], [1500, 0, 140]]
order = [1]
lead = "B"
[[tube]]
name = "stub"
tubing = "t"
points = [[0, 300, 0], [LONG, 300, 0]]
"""


def job(folder, name, long):
    (folder / "bench.toml").write_text(BENCH)
    path = folder / f"{name}.toml"
    path.write_text(JOB.replace("NAME", name).replace("LONG", str(long)))
    return path


def test_what_falls_off_a_bent_tube_becomes_another_piece(tmp_path):
    done = soapstone("nest", job(tmp_path, "rack", 200), "--json")
    assert done.code == 0
    assert done.json["kerf"] == 3
    stub = next(row for row in done.json["layout"] if row["pieces"][0]["name"] == "stub")
    assert stub["from"] == "falls off hook at B"
    assert done.json["cost"] == pytest.approx(30)
    assert done.json["optimal"]


def test_jobs_are_cut_together_as_often_as_asked(tmp_path):
    files = job(tmp_path, "rack", 900), job(tmp_path, "shelf", 700)
    done = soapstone("nest", *files, "--count", "2,3", "--kerf", "2.5 mm", "--json").json
    names = [piece["name"] for row in done["layout"] for piece in row["pieces"]]
    assert sorted(names) == sorted(
        ["rack: hook", "rack: stub"] * 2 + ["shelf: hook", "shelf: stub"] * 3
    )
    for row in done["layout"]:
        used = sum(piece["length"] for piece in row["pieces"]) + 2.5 * len(row["pieces"])
        assert used <= row["stick"] + 2.5 + 1e-6
    assert done["cost"] == pytest.approx(sum(row["stick"] / 100 for row in done["layout"]))


def test_what_lies_in_the_yard_is_used_up_first(tmp_path):
    rack, log = job(tmp_path, "rack", 2500), tmp_path / "log.sqlite"
    bought = soapstone("nest", rack, "--json").json
    add_sticks(log, "t", [2510.0], "2026-05-04", kind="remnant")
    done = soapstone("nest", rack, "--yard", "--log", log, "--json").json
    (row,) = (row for row in done["layout"] if row["stick"] == 2510)
    assert [piece["name"] for piece in row["pieces"]] == ["stub"]
    assert done["cost"] == pytest.approx(bought["cost"] - 30)
    refused = soapstone("nest", tmp_path / "cuts.json", "--yard", "--log", log)
    assert is_clean(refused)
    assert refused.code == 2


def test_cuts_are_printed(tmp_path):
    done = soapstone("nest", job(tmp_path, "rack", 900), "--out", tmp_path / "cuts.pdf", "--json")
    with pypdfium2.PdfDocument(tmp_path / "cuts.pdf") as pdf:
        assert len(pdf) == done.json["pages"] == 1
        words = pdf[0].get_textpage().get_text_bounded()
    for said in ("Cuts", "hook", "stub", "900 mm", "bought"):
        assert said in words


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("--count", "0"), "--count"),
        (("--count", "1,2,3"), "--count"),
        (("--count", "two"), "--count"),
        (("--kerf", "much"), "--kerf"),
    ],
)
def test_wrong_options_are_one_line(tmp_path, words, named):
    done = soapstone("nest", job(tmp_path, "rack", 900), *words)
    assert done.code == 2
    assert is_clean(done)
    assert named in done.err


def test_a_tube_longer_than_every_stick_is_named(tmp_path):
    done = soapstone("nest", job(tmp_path, "rack", 7000))
    assert done.code == 2
    assert is_clean(done)
    assert '"stub"' in done.err
