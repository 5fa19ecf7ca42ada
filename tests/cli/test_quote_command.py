"""`soapstone quote` and `soapstone check --code` as a user and a script see them."""

import pytest

from tests.cli.running import is_clean, soapstone

JOB = """
format = 1
units = "in"
[[tube]]
name = "hoop"
tubing = { od = "1 1/2", wall = 0.065, material = "304", sticks = ["20 ft"] PRICE }
die = { clr = "4 1/2", springback = 0.02 }
bends = { legs = [20, 30, 20], angles = [90, 60], rotations = [0, 90] }
"""

RAIL = """
format = 1
units = "mm"
codes = ["workboat rail"]
[[keepout]]
name = "deck"
halfspace = { at = [0, 0, 0], normal = [0, 0, 1] }
[[tube]]
name = "top"
tubing = "316 38.1x1.65"
points = [[0, 0, 1020], [1500, 0, 1020]]
[[rail]]
tubes = ["top"]
above = "FLOOR"
"""


def job(folder, price=", price = 12", text=JOB):
    path = folder / "job.toml"
    path.write_text(text.replace("PRICE", price))
    return path


@pytest.fixture
def bare_bench(tmp_path, monkeypatch):
    """A shop whose bench has no rates."""
    path = tmp_path / "shop.toml"
    path.write_text('format = 1\nunits = "in"\n')
    monkeypatch.setenv("SOAPSTONE_BENCH", str(path))
    return path


def test_what_has_no_price_is_said_and_not_reckoned_as_nothing(tmp_path, bare_bench) -> None:
    told = soapstone("quote", job(tmp_path, ""), "--json")
    said = told.json
    assert said["complete"] is False
    assert {line["amount"] for line in said["lines"]} == {None}
    assert said["missing"] == [
        "no price for a metre of 304 1.5x0.065",
        "no price for an hour's work",
        "no price for finishing",
        "no price for packing",
    ]
    assert said["hours"] > 0
    assert said["mass"] > 0
    printed = soapstone("quote", job(tmp_path, ""))
    assert "no price for an hour's work" in printed.out


def test_a_price_of_nothing_is_a_price(tmp_path, bare_bench) -> None:
    bare_bench.write_text('format = 1\nunits = "in"\n[rates]\nhour = 0\nfinish = 0\npacking = 0\n')
    said = soapstone("quote", job(tmp_path), "--json").json
    assert said["complete"] is True
    # one stick of 20 ft, 6.096 m at 12
    assert said["total"] == 73.15


def test_a_quote_is_printed_for_the_customer(tmp_path) -> None:
    out = tmp_path / "quote.pdf"
    told = soapstone("quote", job(tmp_path), "--out", out, "--date", "today", "--json")
    assert told.json["file"] == str(out)
    pypdfium2 = pytest.importorskip("pypdfium2")
    with pypdfium2.PdfDocument(out) as pdf:
        text = pdf[0].get_textpage().get_text_range()
    assert f"{told.json['total']:.2f}" in text
    assert "Total, tax left out" in text
    assert "margin" not in text


@pytest.mark.parametrize("count", ["0", "-1", "1.5", "nan", "100000", ""])
def test_a_count_that_is_none_is_refused(tmp_path, count) -> None:
    told = soapstone("quote", job(tmp_path), "--count", count)
    assert told.code == 2
    assert is_clean(told)


def test_wrong_rates_are_named_all_at_once(tmp_path, bare_bench) -> None:
    bare_bench.write_text(
        'format = 1\nunits = "in"\n[rates]\nhour = nan\nmargin = -3\nbend = "x"\nbends = 1\n'
    )
    told = soapstone("quote", job(tmp_path))
    assert told.code == 2
    for key in ("rates.hour", "rates.margin", "rates.bend", "rates.bends"):
        assert key in told.err
    assert is_clean(told)


def test_codes_of_the_job_and_of_the_command_are_both_held(tmp_path) -> None:
    path = job(tmp_path, text=RAIL.replace("FLOOR", "deck"))
    told = soapstone("check", path, "--code", "small craft high rail", "--json")
    codes = {one["code"] for one in told.json["codes"]}
    assert codes == {"workboat rail", "small craft high rail"}
    # its top is high enough, and the opening under it is far too wide
    by_rule = {(one["code"], one["rule"]): one["status"] for one in told.json["codes"]}
    assert by_rule["workboat rail", "top at least 1000 mm high"] == "pass"
    assert by_rule["workboat rail", "lowest opening no more than 230 mm"] == "fail"
    assert told.code == 1
    assert told.json["sound"] is False


@pytest.mark.parametrize(
    ("arguments", "named"),
    [(["--code", "workbot rail"], "workboat rail"), (["--code", ""], "no rule set")],
)
def test_a_code_that_is_not_known_is_refused(tmp_path, arguments, named) -> None:
    told = soapstone("check", job(tmp_path, text=RAIL.replace("FLOOR", "deck")), *arguments)
    assert told.code == 2
    assert named in told.err
    assert is_clean(told)


def test_a_floor_that_is_not_there_is_named(tmp_path) -> None:
    told = soapstone("check", job(tmp_path, text=RAIL.replace("FLOOR", "dek")))
    assert told.code == 2
    assert 'did you mean "deck"' in told.err


def test_the_rule_sets_are_listed_with_their_sources() -> None:
    told = soapstone("check", "--codes", "--json")
    assert told.code == 0
    assert all(rule["source"] for one in told.json["codes"] for rule in one["rules"])
    assert "inspector" in told.json["caution"]


def test_a_check_without_a_job_asks_for_one() -> None:
    assert soapstone("check").code == 2
