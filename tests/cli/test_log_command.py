"""The shop log goes out and comes in whole, once; its lots tell how springback drifts."""

import json

import pytest

from soapstone.log.rows import Inspected
from soapstone.log.store import LoggedTrial, Run, Stick, open_log
from tests.cli.running import is_clean, soapstone

ANGLES = (20.0, 30.1, 45.0 + 1e-13, 60.0, 75.0, 90.0)


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log"
    with open_log(path) as store:
        store.start(Run("r", "job", "leg", "", "t", "{}"))
        store.confirm("r", 1, {"kind": "done"}, "t")
        store.add_sticks([Stick("s1234567", "tube", "old", "2026-01-01", 6096.0, "stick")])
        store.use("s1234567", "2026-01-02", "brace", 1219.2, "r1234567")
        told = json.dumps({"sound": False, "ends": {"off": 25.4}})
        store.learn([], Inspected("i", "job", "leg", "old", "2026-01-03", "{}", told))
        for lot, date, back in (("new", "2026-05-01", 0.08), ("old", "2026-01-01", 0.03)):
            for k, angle in enumerate(ANGLES):
                dial = 1.0 + (1 + back) * angle
                store.add_trial(LoggedTrial(f"{lot}{k}", "die", "tube", lot, date, dial, angle))
    return path


def test_a_log_taken_out_comes_in_exactly_and_only_once(log, tmp_path):
    out, again, other = tmp_path / "out.json", tmp_path / "again.json", tmp_path / "other"
    assert soapstone("log", "export", out, "--log", log, "--json").json["rows"] == 18
    assert soapstone("log", "import", out, "--log", other, "--json").json["rows"] == 18
    assert soapstone("log", "import", out, "--log", other, "--json").json["rows"] == 0
    soapstone("log", "export", again, "--log", other)
    assert again.read_bytes() == out.read_bytes()


def test_a_file_of_the_first_format_comes_in_too(log, tmp_path):
    document = {
        "format": "soapstone log 1",
        "runs": [["q", "job", "brace", "", "t", "{}", None]],
        "steps": [["q", 1, "{}", "t"]],
        "trials": [["q:1", "die", "tube", "old", "2026-01-01", 47.0, 45.0]],
        "sticks": [["q:A", "tube", "old", "2026-01-01", 312.0]],
    }
    (tmp_path / "first.json").write_text(json.dumps(document), "utf-8")
    came = soapstone("log", "import", tmp_path / "first.json", "--log", log, "--json")
    assert came.json["rows"] == 4
    with open_log(log) as store:
        assert "q:1" in {trial.id for trial in store.trials()}
        assert "q:A" in {piece.id for piece in store.remnants()}


def test_a_copy_of_a_run_that_was_open_then_does_not_open_it_again(log, tmp_path):
    soapstone("log", "export", tmp_path / "then.json", "--log", log)
    with open_log(log) as store:
        store.end("r", "later")
    assert soapstone("log", "import", tmp_path / "then.json", "--log", log, "--json").code == 0
    with open_log(log) as store:
        assert [run.ended for run in store.runs()] == ["later"]


def test_lengths_are_told_in_the_units_asked_for(log):
    told = soapstone("log", "show", "--log", log, "--units", "in").out
    assert '48"' in told
    assert '1"' in told
    assert "1219.2 mm" in soapstone("log", "sticks", "--log", log).out


def test_sticks_come_in_are_used_and_listed(log):
    new = ("log", "add", "--tubing", "tube", "--length", "20 ft", "--count", "2", "--log", log)
    added = soapstone(*new, "--json").json["sticks"]
    assert [one["length"] for one in added] == [6096.0, 6096.0]
    used = soapstone("log", "use", added[0]["name"], "--left", "4 ft", "--log", log, "--json").json
    assert used["left"]["length"] == pytest.approx(1219.2)
    lies = soapstone("log", "sticks", "--tubing", "tube", "--log", log, "--json").json["sticks"]
    assert [one["length"] for one in lies] == pytest.approx([6096.0, 1219.2, 1219.2])
    assert {one["lot"] for one in lies} == {"old", ""}


def creeping(path, by):
    with open_log(path) as store:
        for k in range(16):
            angle = (30.0, 60.0, 90.0, 45.0)[k % 4]
            dial = 1.0 + 1.03 * angle + by * k / 15 + 0.05 * (-1) ** k
            day = f"2026-03-{k + 1:02d}"
            store.add_trial(LoggedTrial(f"c{k:02d}", "die", "tube", "L", day, dial, angle))


def test_a_dial_that_creeps_is_told_and_drawn(tmp_path):
    creeping(tmp_path / "log", 1.2)
    out = tmp_path / "drift.svg"
    told = soapstone("log", "drift", out, "--log", tmp_path / "log", "--json")
    assert told.code == 1
    (dial,) = told.json["dials"]
    assert "1.2° more on the dial" in dial["findings"][0]["what"]
    picture = out.read_text("utf-8")
    assert picture.count("<path") >= 16
    assert "lot L" in picture
    creeping(tmp_path / "still", 0.0)
    assert soapstone("log", "drift", "--log", tmp_path / "still").code == 0


def test_a_trial_is_kept_once_and_plans_by_it(log):
    how = ("trial", "--die", "38.1 on 114", "--keep", "--angle", "44.6", "--dial", "46.5")
    bench = soapstone("bench", "--json").json["bench"]
    die = bench["die"][0]["name"]
    fitting = [t["name"] for t in bench["tubing"] if t["od"] == bench["die"][0]["od"]]
    how = ("trial", "--die", die, "--tubing", fitting[0], *how[3:], "--log", log)
    assert soapstone(*how, "--json").json["kept"]["new"] is True
    assert soapstone(*how, "--json").json["kept"]["new"] is False
    with open_log(log) as store:
        kept = [one for one in store.trials() if one.source == "trial"]
    assert [(one.dial, one.angle, one.die) for one in kept] == [(46.5, 44.6, die)]
    for wrong in (("--dial", "nan"), ("--dial", "900"), ("--angle", "-4")):
        refused = soapstone(*how, *wrong)
        assert refused.code == 2
        assert is_clean(refused)


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


@pytest.mark.parametrize(
    "arguments",
    [("export",), ("show", "x.json"), ("burn",), (), ("use",), ("add",), ("drift", "x.png")],
)
def test_odd_questions_are_refused_in_a_line(log, arguments):
    refused = soapstone("log", *arguments, "--log", log)
    assert refused.code == 2
    assert is_clean(refused)
