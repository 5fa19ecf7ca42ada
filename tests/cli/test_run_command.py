"""A tube made at the bench: every step confirmed is kept, whatever happens to the program."""

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


def test_an_angle_that_cannot_be_is_refused_and_does_not_spoil_the_run(arch):
    at_first_measure(arch)
    for angle in ("300", "nan", "-4", "360", "inf"):
        refused = run(arch, "--angle", angle)
        assert refused.code == 2, angle
        assert is_clean(refused)
    assert run(arch).json["kind"] == "measure"


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


CONFIRMING = """
import sys
from pathlib import Path
from soapstone.flow.running import running
with running(Path(sys.argv[1]), "starboard leg", "", Path(sys.argv[2]), lambda: "now") as bench:
    while True:
        now = bench.look()
        kind = "undo" if now.state.number > 1 and now.state.step.kind == "mark" else "done"
        print(bench.say(kind).state.number, flush=True)
"""


def test_a_program_killed_at_any_moment_loses_no_confirmed_step(arch):
    path, lot = arch.with_name("log.sqlite"), random.Random(5)
    for _ in range(20):
        child = subprocess.Popen(
            [sys.executable, "-c", CONFIRMING, str(arch), str(path)],
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
            kept = log.events(log.open_run(str(arch), LEG[1]).id)
        assert len(kept) >= last - 1
        assert [event["number"] for event in kept] == list(range(1, len(kept) + 1))
