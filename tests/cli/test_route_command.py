"""Odd wishes for a route, and odd places for what is found, as a user runs them."""

import pytest

from tests.cli.running import is_clean, soapstone

LOOP = """
units = "mm"
[[tube]]
name = "loop"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
route = { start = { at = [0, 150, 0] }, end = { at = [0, 150, 0.001] } }
"""


def test_a_route_that_ends_where_it_starts_is_refused(tmp_path):
    job = tmp_path / "loop.toml"
    job.write_text(LOOP)
    refused = soapstone("route", job)
    assert refused.code == 2
    assert is_clean(refused)
    assert "route.end: expected another place than start" in refused.err


def test_a_drawn_tube_that_ends_where_it_starts_is_mended(tmp_path):
    job = tmp_path / "ring.toml"
    ring = "[[0, 0, 0], [1000, 0, 0], [1000, 1000, 0], [0, 1000, 0], [0, 0, 0]]"
    job.write_text(
        'units = "mm"\n[[keepout]]\nname = "ball"\n'
        "ball = { at = [1000, 500, 0], diameter = 60 }\n"
        '[[tube]]\nname = "ring"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        f"points = {ring}\n"
    )
    done = soapstone("route", job, "--mend", "--json")
    (tube,) = done.json["tubes"]
    assert tube["found"]
    assert tube["clearance"] >= 0
    assert tube["points"][0] == pytest.approx(tube["points"][-1], abs=1e-6)


def test_a_place_that_cannot_be_written_is_told_before_the_search(tmp_path):
    job = tmp_path / "wish.toml"
    job.write_text(LOOP.replace("[0, 150, 0.001]", "[900, 150, 300]"))
    for out, said in ((tmp_path / "none" / "x.toml", "cannot be written"), (tmp_path, "directory")):
        done = soapstone("route", job, "--seconds", "60", "--out", out)
        assert done.code == 2
        assert is_clean(done), "no route is told of that would be lost"
        assert f"{out}: " in done.err
        assert said in done.err


def test_an_inch_job_is_offered_more_clearance_in_inches(tmp_path):
    """It said "59 mm clearance instead of 19" to a shop that has no such tape."""
    job = tmp_path / "inch.toml"
    job.write_text(
        'units = "in"\n[[tube]]\nname = "r"\ntubing = "304 1 x .065"\ndie = "1 on 3"\n'
        "route = { start = { at = [0, 0, 0], along = [1, 0, 0] }, "
        "end = { at = [31.5, 12, 8], along = [1, 0, 0] } }\n"
        '[[keepout]]\nname = "b"\nball = { at = [16, 6, 4], diameter = 4.5 }\ngap = 0.75\n'
    )
    done = soapstone("route", job, "--seconds", "20")
    assert done.code == 0
    assert '" clearance instead of 3/4"' in done.out
    assert " mm" not in done.out
