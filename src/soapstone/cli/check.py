"""`soapstone check`: whether the tubes clear what is around them."""

from functools import partial
from pathlib import Path

from rich.console import Console

from soapstone.cli.output import (
    FIRST_TIME,
    Json,
    emit,
    patience,
    say_findings,
    table,
)
from soapstone.flow.fitting import CheckedJob, check_job
from soapstone.quantities import format_fine


def command(job: Path, /, *, json: Json = False) -> int:
    """Certify the least gap of every tube to every keep-out, over all that swings.

    Leaves with 0 when every tube can be made and is clear, with 1 when one is not.

    Parameters
    ----------
    job
        A job file (.toml).
    """
    with patience(FIRST_TIME):
        checked = check_job(job)
    emit(checked.as_json, lambda where: _show(where, checked), json)
    return 0 if checked.sound else 1


def _show(where: Console, checked: CheckedJob) -> None:
    say = partial(format_fine, units=checked.plan.job.units)
    rows = []
    for tube in checked.tubes:
        for gap in tube.gaps:
            hinges = ", ".join(f"{angle + 0.0:.1f}°" for angle in gap.angles)
            name = tube.plan.name if gap is tube.gaps[0] else ""
            place = f"{say(gap.along)} from A"
            rows.append((name, gap.keepout, say(gap.gap), say(gap.wanted), place, hinges))
    if rows:
        columns = ("tube", "keep-out", "gap", "wanted", "nearest at", "swung to")
        where.print(table("", columns, rows))
    for tube in checked.tubes:
        say_findings(where, tube.problems)
    if not checked.plan.job.keepouts:
        where.print("nothing to keep clear of in this job")
    if checked.sound:
        where.print("[bold]sound[/]: every tube can be made and keeps its distance")
