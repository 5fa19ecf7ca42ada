"""`soapstone bending`: how near the tubes come to the bender, the floor and themselves."""

from functools import partial
from pathlib import Path

from rich.console import Console

from soapstone.bend.clash import FAR, Near
from soapstone.bend.order import Step
from soapstone.cli.output import FIRST_TIME, Json, emit, patience, say_findings, table
from soapstone.findings import Say
from soapstone.flow.bending import BentJob, bend_job
from soapstone.quantities import format_fine

WHEN = {
    "swing": "die at {:.0f}°",
    "release": "springing back, at {:.0f}°",
    "feed": "fed on, {:.0f} mm to go",
    "roll": "rolled, {:.0f}° to go",
}


def command(job: Path, /, *, json: Json = False) -> int:
    """Hold every bend, as planned, against the bender, the floor and the tube itself.

    Leaves with 0 when every tube can be made and nothing is hit, with 1 when something is.

    Parameters
    ----------
    job
        A job file (.toml).
    """
    with patience(FIRST_TIME):
        bent = bend_job(job)
    emit(bent.as_json, lambda where: _show(where, bent), json)
    return 0 if bent.sound else 1


def _show(where: Console, bent: BentJob) -> None:
    say = partial(format_fine, units=bent.plan.job.units)
    rows = []
    for tube in bent.tubes:
        for step in tube.steps:
            name = tube.plan.name if step is tube.steps[0] else ""
            rows.append((name, str(step.n), step.lead, *_nearest(step, say)))
    if rows:
        columns = ("tube", "bend", "lead", "least gap", "between", "when")
        where.print(table("", columns, rows))
    for tube in bent.tubes:
        say_findings(where, tube.plan.problems)
    say_findings(where, bent.plan.findings)
    if not rows:
        where.print("nothing to bend in this job")
    elif bent.sound:
        where.print("[bold]sound[/]: nothing is hit while the tubes are bent as planned")


def _nearest(step: Step, say: Say) -> tuple[str, str, str]:
    near = step.nearest
    if near is None:
        return "", "nothing about", ""
    if near.gap >= FAR:
        return f"over {say(FAR)}", "", ""
    gap = f"hit, {say(-near.gap)} deep" if near.gap < 0 else say(near.gap)
    return gap, f"{near.part} and {near.what}", _when(near)


def _when(near: Near) -> str:
    return WHEN[near.motion].format(abs(near.at))
