"""The bench as the shop has it by now: its file, and the bends that the shop log holds of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from soapstone.bench.model import Bench, Die, Tubing
from soapstone.bench.trials import Trial
from soapstone.findings import Finding
from soapstone.job.files import bench_of
from soapstone.job.model import Job
from soapstone.log.rows import LoggedTrial
from soapstone.log.store import NO_LOG, log_path, read_log

SAME = 0.01
"""Share that a radius or a diameter may differ by before it is another die or tubing."""


@dataclass(frozen=True, slots=True)
class Remember:
    """Which logged bends count.

    `log` is the log's place, None for the usual one; `left_out`: none count. `only` names those
    that count, None for all; `lot` is the lot of tubing in hand.
    """

    log: Path | None = None
    left_out: bool = False
    only: frozenset[str] | None = None
    lot: str = ""


ALL = Remember()


@dataclass(frozen=True, slots=True)
class Remembered:
    """A bench with what the log holds of it; `log` is where that is, None where none was read."""

    bench: Bench
    log: Path | None
    findings: tuple[Finding, ...] = ()


def bench_as_is(job: Job, how: Remember = ALL) -> Bench:
    """Give the bench a job is made on, with the logged bends that count."""
    return remembered(bench_of(job), how).bench


def remembered(bench: Bench, how: Remember = ALL) -> Remembered:
    """Add to a bench the logged bends of its dies and tubings; say which are of others.

    Raises
    ------
    InputError
        There is a log, and it cannot be read.
    """
    path = log_path(how.log)
    if how.left_out or str(path) == NO_LOG or not path.is_file():
        return Remembered(bench.with_logged((), how.lot), None)
    with read_log(path) as log:
        held = log.trials()
    dies = {die.name: die for die in bench.dies}
    tubings = {tubing.name: tubing for tubing in bench.tubings}
    ours = [
        one
        for one in held
        if one.die in dies and one.tubing in tubings and (how.only is None or one.id in how.only)
    ]
    others = [one for one in ours if not _same(one, dies[one.die], tubings[one.tubing])]
    left = {one.id for one in others}
    trials = [_trial(one) for one in ours if one.id not in left]
    return Remembered(bench.with_logged(trials, how.lot), path, tuple(_left_out(others)))


def _trial(one: LoggedTrial) -> Trial:
    return Trial(
        die=one.die,
        tubing=one.tubing,
        lot=one.lot,
        date=one.date[:10],
        piece=one.id,
        bends=((one.dial, one.angle),),
        file=None,
    )


def _same(one: LoggedTrial, die: Die, tubing: Tubing) -> bool:
    """Whether a bend was made on this very die and tubing, as far as the log tells."""
    pairs = ((one.clr, die.clr), (one.od, tubing.od), (one.wall, tubing.wall))
    return all(then is None or abs(then - now) <= SAME * now for then, now in pairs)


def _left_out(others: Iterable[LoggedTrial]) -> list[Finding]:
    """Tell of bends under the names of this die and tubing that were made on others."""
    pairs: dict[tuple[str, str], int] = {}
    for one in others:
        pairs[one.tubing, one.die] = pairs.get((one.tubing, one.die), 0) + 1
    return [
        Finding(
            "warn",
            f"{tubing} on {die}",
            f"{count} of the log's bends under these names were made with another radius, "
            "diameter or wall, and do not count",
            "give what has changed a new name in the bench",
        )
        for (tubing, die), count in pairs.items()
    ]
