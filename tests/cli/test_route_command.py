"""Routes whose two ends are one place, as a user runs them."""

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
