"""How fast soapstone is: what a person waits for, and what planning costs as a library call.

Run it with `./dev bench`. Each time is the best of several runs, which is what the machine can do
when nothing disturbs it: first the time that passed, then the time that the processor worked, which
says more on a machine that has other work. The last column compares the processor's times.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.flow import plan_job
from soapstone.geometry.centreline import Centreline
from soapstone.plan.model import TubePlan
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape

BENDS = 4
ONE_BY_ONE = 500
"""How many tubes are planned one by one; the time for all is reckoned from these."""


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds that passed, and seconds that the processor worked, programs started included."""

    passed: float
    worked: float


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: what was measured, its times, and what that is a ratio of."""

    what: str
    times: Times
    compared: str = ""


def main(arguments: Sequence[str]) -> None:
    """Measure everything and print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tubes", type=int, default=10_000, help="tubes planned in one call")
    options.add_argument("--runs", type=int, default=5, help="runs of each, the best counts")
    chosen = options.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        job = demo_job(Path(folder))
        rows = [*commands(job, chosen.runs), *library(job, chosen.tubes, chosen.runs)]
    wide = max(len(row.what) for row in rows)
    for row in rows:
        passed, worked = written(row.times.passed), written(row.times.worked)
        print(f"{row.what:<{wide}}  {passed:>9}  {worked:>9}  {row.compared}".rstrip())


def demo_job(folder: Path) -> Path:
    """Write the demo job and give its job file."""
    soapstone("demo", str(folder))
    return folder / "stern-arch.toml"


def commands(job: Path, runs: int) -> list[Row]:
    """Measure the commands as a person meets them, start-up of Python included."""
    bare = best(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True), runs)
    numpy = best(lambda: subprocess.run([sys.executable, "-c", "import numpy"], check=True), runs)
    cases = {
        "soapstone --help": ["--help"],
        "soapstone plan, the demo's five tubes": ["plan", str(job), "--json"],
        "soapstone check, the demo's five tubes": ["check", str(job), "--json"],
        "soapstone sheet, the demo's pack": ["sheet", str(job), "-o", str(job.with_suffix(".pdf"))],
    }
    rows = [Row("python that does nothing", bare), Row("python that imports numpy", numpy)]
    for what, words in cases.items():
        times = best(partial(soapstone, *words), runs)
        rows.append(Row(what, times, f"{times.worked / bare.worked:.1f} x bare python"))
    return rows


def library(job: Path, count: int, runs: int) -> list[Row]:
    """Measure planning as a call: the demo, and many tubes of one setup."""
    demo = best(lambda: plan_job(job), runs)
    setup = next(tube.setup for tube in plan_job(job).tubes if isinstance(tube, TubePlan))
    shapes = variants(count, setup)
    few = shapes[:ONE_BY_ONE]
    together = best(lambda: plan_tubes(shapes, [setup] * count), min(runs, 3))
    single = best(lambda: [plan_tubes([shape], [setup]) for shape in few], min(runs, 3))
    share = count / len(few)
    apart = Times(single.passed * share, single.worked * share)
    return [
        Row("plan_job, the demo from its files", demo),
        Row(
            f"plan_tubes, {count:,} tubes of {BENDS} bends in one call",
            together,
            f"{together.worked / count * 1e6:.0f} us a tube",
        ),
        Row(
            "the same tubes, one call each",
            apart,
            f"{apart.worked / together.worked:.1f} x the one call (reckoned from {len(few)})",
        ),
    ]


def variants(count: int, setup: Setup) -> list[Shape]:
    """Draw tubes of one setup by lot, the same ones each time."""
    lot = np.random.default_rng(1)
    legs = lot.uniform(150, 500, (count, BENDS + 1))
    angles = lot.uniform(15, 110, (count, BENDS))
    rotations = lot.uniform(-180, 180, (count, BENDS))
    rotations[:, 0] = 0
    rows = zip(legs.tolist(), angles.tolist(), rotations.tolist(), strict=True)
    return [
        Shape(f"tube {i}", drawn(tuple(leg), tuple(angle), tuple(rotation), setup), ())
        for i, (leg, angle, rotation) in enumerate(rows)
    ]


def drawn(
    legs: tuple[float, ...],
    angles: tuple[float, ...],
    rotations: tuple[float, ...],
    setup: Setup,
) -> Centreline:
    """Give the centreline of legs, angles and rotations at the setup's free radius."""
    return Centreline(
        start=(0.0, 0.0, 0.0),
        along=(0.0, 0.0, 1.0),
        up=(1.0, 0.0, 0.0),
        legs=legs,
        angles=angles,
        rotations=rotations,
        radii=(setup.clr_free,) * len(angles),
    )


def soapstone(*words: str) -> None:
    """Run a command of soapstone; findings (exit 1) are no failure here."""
    ran = [sys.executable, "-c", "from soapstone.cli import main; main()", *words]
    done = subprocess.run(ran, capture_output=True, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode())


def best(work: Callable[[], object], runs: int) -> Times:
    """Times of the fastest of several runs, after one that warms up."""
    work()
    found = [timed(work) for _ in range(runs)]
    return Times(min(times.passed for times in found), min(times.worked for times in found))


def timed(work: Callable[[], object]) -> Times:
    """Measure one run."""
    before, started = worked_so_far(), time.perf_counter()
    work()
    passed = time.perf_counter() - started
    return Times(passed, worked_so_far() - before)


def worked_so_far() -> float:
    """Seconds that the processor has worked for this program and those it started.

    Windows keeps no such count, so there it is the time of the clock.
    """
    try:
        import resource
    except ImportError:
        return time.perf_counter()
    own, started = (
        resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return own.ru_utime + own.ru_stime + started.ru_utime + started.ru_stime


def written(seconds: float) -> str:
    """Write a time in the unit that suits it."""
    return f"{seconds:.2f} s" if seconds >= 1 else f"{seconds * 1e3:.1f} ms"


if __name__ == "__main__":
    main(sys.argv[1:])
