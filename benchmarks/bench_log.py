"""What the shop log loses: nothing, when two programs write at once or one is killed at any moment.

`python benchmarks/bench_log.py` does both campaigns in full and prints what was kept: two programs
of 5,000 trials each, and 200 runs killed (SIGKILL) at random moments. tests/ have a share of each.
"""

import contextlib
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from soapstone.flow.running import running
from soapstone.log.store import LoggedTrial, open_log
from soapstone.plan.guide import Said

TRIALS, KILLS = 5000, 200
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
"""
JOB = """
format = 1
units = "mm"
bench = "bench.toml"
[[tube]]
name = "rail"
tubing = "tube"
die = "round"
points = [[0, 0, 0], [400, 0, 0], [650, 430, 0]]
"""


def write_trials(path: Path, name: str) -> None:
    """Record trials one by one, as a bender would make them."""
    with open_log(path) as log:
        for k in range(TRIALS):
            log.add_trial(LoggedTrial(f"{name}:{k}", "die", "tube", "", "2026", 47.0, 45.0))


def confirm_for_ever(job: Path, log: Path, told: int) -> None:
    """Confirm a step and take it back, again and again; say each number once it is confirmed."""
    with running(job, "rail", "", log, lambda: "now") as run:
        while True:
            at = run.look().state
            kind: Said = "undo" if at.number > 1 and at.step.kind == "mark" else "done"
            os.write(told, f"{run.say(kind).state.number}\n".encode())


def forked(work: Callable[[], None]) -> int:
    """Do it in a program of its own; give its number."""
    child = os.fork()
    if child:
        return child
    with contextlib.suppress(BaseException):
        work()
        os._exit(0)
    os._exit(1)


def two_writers(folder: Path) -> int:
    """Give how many of two times TRIALS are in the log afterwards."""
    path = folder / "two.sqlite"
    with open_log(path):
        pass
    children = [forked(partial(write_trials, path, name)) for name in "ab"]
    codes = [os.waitpid(child, 0)[1] for child in children]
    with open_log(path) as log:
        kept = {trial.id for trial in log.trials()}
    assert codes == [0, 0], codes
    return len(kept)


def killed(folder: Path) -> tuple[int, int, int]:
    """Give how many kills, steps confirmed aloud and steps lost there were."""
    job, path = folder / "job.toml", folder / "killed.sqlite"
    (folder / "bench.toml").write_text(BENCH, "utf-8")
    job.write_text(JOB, "utf-8")
    chance, lost, last = random.Random(5), 0, 1
    for _ in range(KILLS):
        hears, tells = os.pipe()
        child = forked(partial(confirm_for_ever, job, path, tells))
        os.close(tells)
        with os.fdopen(hears, "rb") as stream:
            first = stream.readline()
            time.sleep(chance.uniform(0, 0.08))
            os.kill(child, signal.SIGKILL)
            told = [first, *stream.read().split(b"\n")]
        os.waitpid(child, 0)
        last = max(int(number) for number in told if number.strip())
        with open_log(path) as log:
            (run,) = log.runs(still_open=True)
            numbers = [event["number"] for event in log.events(run.id)]
        assert numbers == list(range(1, len(numbers) + 1))
        lost += max(0, last - 1 - len(numbers))
    return KILLS, last - 1, lost


def main() -> None:
    """Do both campaigns and print what came of them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        began = time.perf_counter()
        kept = two_writers(folder)
        took = time.perf_counter() - began
        print(f"two programs, {TRIALS} trials each: {kept} of {2 * TRIALS} kept, {took:.0f} s")
        kills, steps, lost = killed(folder)
        print(f"killed {kills} times, {steps} steps confirmed: {lost} lost")
        sys.exit(kept != 2 * TRIALS or lost > 0)


if __name__ == "__main__":
    main()
