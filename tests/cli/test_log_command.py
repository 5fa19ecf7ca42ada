"""The shop log goes out and comes in whole, once; its lots tell how springback drifts."""

import json

import pytest

from soapstone.log.store import LoggedTrial, Run, open_log
from tests.cli.running import is_clean, soapstone

ANGLES = (20.0, 30.1, 45.0 + 1e-13, 60.0, 75.0, 90.0)


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log"
    with open_log(path) as store:
        store.start(Run("r", "job", "leg", "", "t", "{}"))
        store.confirm("r", 1, {"kind": "done"}, "t")
        for lot, date, back in (("new", "2026-05-01", 0.08), ("old", "2026-01-01", 0.03)):
            for k, angle in enumerate(ANGLES):
                dial = 1.0 + (1 + back) * angle
                store.add_trial(LoggedTrial(f"{lot}{k}", "die", "tube", lot, date, dial, angle))
    return path


def test_a_log_taken_out_comes_in_exactly_and_only_once(log, tmp_path):
    out, again, other = tmp_path / "out.json", tmp_path / "again.json", tmp_path / "other"
    assert soapstone("log", "export", out, "--log", log, "--json").json["rows"] == 14
    assert soapstone("log", "import", out, "--log", other, "--json").json["rows"] == 14
    assert soapstone("log", "import", out, "--log", other, "--json").json["rows"] == 0
    soapstone("log", "export", again, "--log", other)
    assert again.read_bytes() == out.read_bytes()


def test_lots_are_told_apart_in_the_order_bent(log):
    lots = soapstone("log", "drift", "--log", log, "--json").json["lots"]
    assert [one["lot"] for one in lots] == ["old", "new"]
    assert [one["springback"] for one in lots] == pytest.approx([0.03, 0.08], abs=0.01)
    assert "old" in soapstone("log", "drift", "--log", log).out
    assert "new" in soapstone("log", "show", "--log", log).out


def changed(text, what):
    document = json.loads(text)
    if what == "angle":
        document["trials"][0][6] = 12.0
    elif what == "not a number":
        document["trials"][0][6] = float("nan")
    elif what == "step without run":
        document["steps"].append(["nobody", 1, "{}", "t"])
    else:
        document[what] = None
    return json.dumps(document)


@pytest.mark.parametrize(
    "what", ["angle", "not a number", "step without run", "trials", "format", "runs"]
)
def test_what_does_not_agree_is_refused_whole(log, tmp_path, what):
    out = tmp_path / "out.json"
    soapstone("log", "export", out, "--log", log)
    before = soapstone("log", "show", "--log", log).out
    out.write_text(changed(out.read_text("utf-8"), what), "utf-8")
    refused = soapstone("log", "import", out, "--log", log)
    assert refused.code == 2
    assert is_clean(refused)
    assert soapstone("log", "show", "--log", log).out == before


@pytest.mark.parametrize("arguments", [("export",), ("show", "x.json"), ("burn",), ()])
def test_odd_questions_are_refused_in_a_line(log, arguments):
    refused = soapstone("log", *arguments, "--log", log)
    assert refused.code == 2
    assert is_clean(refused)
