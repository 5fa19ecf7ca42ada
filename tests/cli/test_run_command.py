"""A tube made at the bench: every step confirmed is kept, whatever happens to the program."""

import os
import random
import shutil
import subprocess
import sys
import time
from importlib.resources import files

import pytest

from soapstone.log.store import LOG_VARIABLE, open_log
from tests.cli.running import is_clean, soapstone

LEG = ("--tube", "starboard leg")


@pytest.fixture
def arch(tmp_path, monkeypatch):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    monkeypatch.setenv(LOG_VARIABLE, str(tmp_path / "log.sqlite"))
    return tmp_path / "stern-arch.toml"


def angles_of(arch):
    plan = soapstone("plan", arch, "--json").json
    tube = next(tube for tube in plan["tubes"] if tube["name"] == LEG[1])
    return {bend["n"]: bend["angle"] for bend in tube["bends"]}


def run(arch, *arguments):
    return soapstone("run", arch, *LEG, *arguments, "--json")


def make(arch, angles, lot="L7"):
    """Make the whole leg, each bend measuring what `angles` says."""
    now = run(arch, "--lot", lot).json
    while not now["finished"]:
        said = ("--angle", angles[now["bend"]]) if now["kind"] == "measure" else ("--done",)
        now = run(arch, *said, "--step", now["step"]).json
    return now


def test_a_whole_leg_is_made_and_teaches_the_log(arch):
    angles = angles_of(arch)
    done = make(arch, angles)
    assert {one["n"]: one["angle"] for one in done["made"]} == pytest.approx(angles)
    with open_log(arch.with_name("log.sqlite")) as log:
        assert {trial.lot for trial in log.trials()} == {"L7"}
        assert sorted(trial.angle for trial in log.trials()) == sorted(angles.values())
        assert log.open_run(str(arch), LEG[1]) is None
    assert run(arch).json["step"] == 1, "a finished tube is followed by the next one"


def test_steps_are_told_in_words_and_taken_back(arch):
    assert "cut to" in soapstone("run", arch, *LEG, "--show").out
    marked = soapstone("run", arch, *LEG, "--done").out
    assert "Mark out" in marked
    assert "bend 4: mark at" in marked
    assert run(arch, "--undo").json["kind"] == "stock"
    assert run(arch, "--done", "--step", "1").code == 2, "a step from an old window"
    assert run(arch).json["kind"] == "stock"


def at_first_measure(arch):
    for _ in range(4):
        now = run(arch, "--done").json
    return now


def test_a_short_bend_is_taken_further_and_an_overshot_one_rescued(arch):
    wanted = angles_of(arch)[at_first_measure(arch)["bend"]]
    before = run(arch).json["dial"]
    further = run(arch, "--angle", wanted - 2).json
    assert further["kind"] == "pull"
    assert further["dial"] >= before + 2
    assert run(arch, "--done").json["kind"] == "measure"
    over = run(arch, "--angle", wanted + 1.5).json
    assert over["kind"] == "overshot"
    taken = run(arch, "--rescue")
    assert over["rescue"] == (taken.code == 0)


@pytest.mark.parametrize(
    "arguments",
    [
        ("--done", "--undo"),
        ("--angle", "45"),
        ("--rescue",),
        ("--undo",),
        ("--tube", "starbord leg"),
        ("--done", "--step", "9"),
    ],
)
def test_what_does_not_fit_is_refused_in_a_line(arch, arguments):
    tube = () if "--tube" in arguments else LEG
    refused = soapstone("run", arch, *tube, *arguments)
    assert refused.code == 2
    assert is_clean(refused)


def test_a_changed_plan_is_not_mixed_with_an_old_run(arch):
    run(arch, "--done")
    bench = arch.with_name("bench.toml")
    bench.write_text(bench.read_text("utf-8").replace("tolerance = ", "# ", 1), "utf-8")
    text = arch.with_name("trials-38.csv")
    text.write_text("\n".join(text.read_text("utf-8").splitlines()[:-2]) + "\n", "utf-8")
    refused = run(arch)
    assert refused.code == 2
    assert "--fresh" in refused.err
    assert run(arch, "--fresh").json["step"] == 1


BENCH = """
format = 1
units = "mm"
[[die]]
name = "round"
od = 38.1
clr = 115
[[tubing]]
name = "tube"
od = 38.1
wall = 1.65
material = "304"
[[trial]]
die = "round"
tubing = "tube"
lot = "old"
date = "2026-01-05"
bends = [[31.5, 30], [46.8, 45], [62.1, 60], [92.7, 90]]
"""
SMALL = """
format = 1
name = "Handrail"
units = "mm"
bench = "bench.toml"
[[tube]]
name = "rail"
tubing = "tube"
die = "round"
points = [[0, 0, 0], [400, 0, 0], [650, 433.0127018922193, 0]]
"""


@pytest.fixture
def rail(tmp_path, monkeypatch):
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    (tmp_path / "handrail.toml").write_text(SMALL, "utf-8")
    monkeypatch.setenv(LOG_VARIABLE, str(tmp_path / "log.sqlite"))
    return tmp_path / "handrail.toml"


def step(job, *arguments):
    return soapstone("run", job, *arguments, "--json")


def at_terminal(job, typed):
    """What a terminal shows when this is typed, a line each."""
    ours, theirs = os.openpty()
    child = subprocess.Popen(
        [sys.executable, "-c", "from soapstone.cli import main; main()", "run", str(job)],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    )
    os.write(ours, "".join(f"{line}\n" for line in typed).encode())
    shown, _ = child.communicate(timeout=300)
    os.close(ours)
    os.close(theirs)
    return child.returncode, shown


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal of another kind")
def test_at_a_terminal_a_tube_is_made_left_and_taken_up_again(rail):
    # undo with nothing done, stock, mark, undo, mark, set up, pull, words for an angle, 55°, stop
    code, shown = at_terminal(rail, ["u", "", "", "u", "", "", "", "long", "55", "q"])
    assert code == 0
    assert "nothing has been done yet" in shown
    assert "Cut the stock" in shown
    assert "or Enter, u, r, q" in shown
    assert "take it further" in shown
    assert "Traceback" not in shown
    now = step(rail).json
    assert (now["kind"], now["bend"], now["measured"]) == ("pull", 1, 55.0)
    for said in (("--done",), ("--angle", "60.1"), ("--done",)):
        now = step(rail, *said).json
    assert now["finished"]
    with open_log(rail.with_name("log.sqlite")) as log:
        assert [(one.angle, one.clr, one.source) for one in log.trials()] == [(60.1, 115.0, "run")]


def test_a_run_is_listed_and_named_by_job_tube_or_its_short_name(rail):
    assert soapstone("run", "--list", "--json").json == {"runs": []}
    step(rail, "--done")
    (listed,) = soapstone("run", "--list", "--json").json["runs"]
    assert (listed["title"], listed["tube"], listed["step"]) == ("Handrail", "rail", 2)
    for name in ("handrail", "Handrail", "rail", "handrail.toml", listed["name"]):
        assert step(name).json["step"] == 2, name
    refused = soapstone("run", "nothing of the kind", "--done")
    assert refused.code == 2
    assert "run --list" in refused.err
    assert is_clean(refused)
    assert soapstone("run").code == 2


def test_an_angle_that_cannot_be_is_refused_and_does_not_spoil_the_run(rail):
    for _ in range(4):
        step(rail, "--done")
    for angle in ("300", "nan", "-4", "360", "inf"):
        refused = step(rail, "--angle", angle)
        assert refused.code == 2, angle
        assert is_clean(refused)
    assert step(rail).json["kind"] == "measure"


def finish(job, angle=60.0):
    now = step(job, "--lot", "L9").json
    while not now["finished"]:
        said = ("--angle", angle) if now["kind"] == "measure" else ("--done",)
        now = step(job, *said).json


def test_what_a_tube_teaches_moves_the_next_plan_and_not_one_that_is_open(rail):
    (rail.with_name("other.toml")).write_text(SMALL.replace("rail", "post"), "utf-8")
    finish(rail)
    step(rail.with_name("other.toml"), "--done")
    before = step(rail.with_name("other.toml")).json
    finish(rail, 60.4)
    after = step(rail.with_name("other.toml"))
    assert after.code == 0, after.err
    assert after.json == before
    (used,) = soapstone("plan", rail, "--json").json["trials"]
    assert [(one["lot"], len(one["logged"])) for one in used["lots"]] == [("old", 0), ("L9", 2)]


def test_a_tube_that_is_inspected_too_teaches_each_bend_once(rail):
    finish(rail)
    readings = rail.with_name("readings.toml")
    soapstone("inspect", rail, readings, "--blank")
    text = readings.read_text("utf-8")
    assert 'lot = "L9"' in text
    readings.write_text(
        text.replace("# angle =", "angle = 60.2 #").replace("# dial =", "dial = 62 #")
    )
    kept = soapstone("inspect", rail, readings, "--learn", "log", "--json")
    assert kept.json["new"] == 0, "the run has told of it already"
    with open_log(rail.with_name("log.sqlite")) as log:
        assert [one.angle for one in log.trials()] == [60.0]
        assert len(log.inspections()) == 1
    assert soapstone("log", "inspections", "--json").json["inspections"][0]["tube"] == "rail"


def test_a_tube_inspected_again_with_a_reading_put_right_teaches_what_is_right(rail):
    readings = rail.with_name("readings.toml")
    soapstone("inspect", rail, readings, "--blank")
    text = readings.read_text("utf-8").replace("# dial =", "dial = 62 #")
    for angle in (60.6, 60.2):
        readings.write_text(text.replace("# angle =", f"angle = {angle} #"), "utf-8")
        assert soapstone("inspect", rail, readings, "--learn", "log", "--json").json["new"] == 1
    with open_log(rail.with_name("log.sqlite")) as log:
        (trial,) = log.trials()
    assert trial.source == "inspection"
    assert trial.angle == pytest.approx(60.2, abs=0.05)


CONFIRMING = """
import sys
from pathlib import Path
from soapstone.flow.running import running
with running(Path(sys.argv[1]), "rail", "", Path(sys.argv[2]), lambda: "now") as bench:
    while True:
        now = bench.look()
        kind = "undo" if now.state.number > 1 and now.state.step.kind == "mark" else "done"
        print(bench.say(kind).state.number, flush=True)
"""


def test_a_program_killed_at_any_moment_loses_no_confirmed_step(rail):
    """A share of benchmarks/bench_log.py, which does it two hundred times."""
    path, lot = rail.with_name("log.sqlite"), random.Random(5)
    for _ in range(2):
        child = subprocess.Popen(
            [sys.executable, "-c", CONFIRMING, str(rail), str(path)],
            stdout=subprocess.PIPE,
            text=True,
        )
        first = child.stdout.readline()
        time.sleep(lot.uniform(0, 0.08))
        child.kill()
        told = [first.strip(), *child.stdout.read().split("\n")]
        child.wait()
        child.stdout.close()
        last = max(int(number) for number in told if number.strip())
        with open_log(path) as log:
            kept = log.events(log.open_run(str(rail), "rail").id)
        assert len(kept) >= last - 1
        assert [event["number"] for event in kept] == list(range(1, len(kept) + 1))
