"""A quote worked by hand with pencil and paper, line by line."""

import pytest

from tests.cli.running import soapstone

BENCH = """
format = 1
units = "mm"
[rates]
currency = "EUR"
hour = 60
cut = 4
bend = 5
set_up = 20
first_part = 15
joint = 20
finish = 40
packing = 12.50
kerf = 3
margin = 10
[[die]]
name = "die"
od = 25.4
clr = 100
springback = 0
dial_zero = 0
[[tubing]]
name = "tube"
od = 25.4
wall = 2
material = "S235"
sticks = [2000]
price = 8.40
"""

JOB = """
format = 1
units = "mm"
bench = "bench.toml"
[[tube]]
name = "post"
tubing = "tube"
points = [[0, 0, 0], [0, 0, 1000]]
[[tube]]
name = "hoop"
tubing = "tube"
die = "die"
bends = { legs = [300, 400], angles = [90] }
[[joint]]
tubes = ["post", "hoop"]
at = [0, 0, 0]
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("quote")
    (folder / "bench.toml").write_text(BENCH)
    (folder / "job.toml").write_text(JOB)
    return folder / "job.toml"


@pytest.fixture(scope="module")
def one(job):
    """The quote of one set."""
    return soapstone("quote", job, "--json").json


def test_two_sets_worked_by_hand(job):
    told = soapstone("quote", job, "--count", "2", "--json")
    # hoop: 300 + 400 + 100 pi / 2 = 857.08 mm. A stick of 2000 holds a post and a hoop with two
    # cuts (1000 + 3 + 857 + 3 = 1863) and not two posts (2003): two sticks, 4 m, 33.60.
    # Minutes, at 1.00 each: 4 cuts 16, 2 bends 10, one die 20, one first part 15, 2 joints 40.
    # Outside: pi 25.4 (1000 + 857.08) = 79796 + 68392 mm2, twice: 0.296376 m2 at 40 = 11.85504.
    # Packing 2 x 12.50. Sum 171.46 with 11.86 for the finish; margin 17.146, so 17.15.
    amounts = [line["amount"] for line in told.json["lines"]]
    assert amounts == [33.60, 16.0, 10.0, 20.0, 15.0, 40.0, 11.86, 25.0, 17.15]
    assert told.json["total"] == 188.61
    assert told.json["hours"] == pytest.approx(101 / 60)
    assert told.json["complete"] is True
    assert told.code == 0


def test_set_ups_are_shared_by_the_sets(job, one):
    ten = soapstone("quote", job, "--count", "10", "--json").json
    # 35 minutes of die and first part once: each of ten saves nine tenths of that and its margin
    saved = one["hours"] - ten["hours"] / 10
    assert saved == pytest.approx(35 * 0.9 / 60, abs=4 / 60)
    assert ten["each"] < one["each"] - 25


def test_the_parcel_of_both_tubes_by_hand(one):
    parcel = one["parcel"]
    # the post is 1000 long, so is the parcel at least; both lie flat beside or in each other
    assert parcel["length"] >= 1000 - 1e-6
    assert parcel["girth"] == pytest.approx(2 * (parcel["width"] + parcel["height"]))
    assert parcel["tubes"][0]["box"] == pytest.approx([1000, 25.4, 25.4], abs=1e-3)
    # S235, 7850 kg/m3: pi 2 (25.4 - 2) mm2 over 1857.08 mm
    metal = 3.141592653589793 * 2 * 23.4 * (1000 + 700 + 157.0796) * 7.85e-6
    assert parcel["mass"] == pytest.approx(metal, rel=1e-6)
