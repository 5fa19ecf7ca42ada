"""`soapstone inspect`: a made tube, taped, against its drawing."""

from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table, today
from soapstone.flow.inspecting import Asked, Inspected, blank_readings, inspect_tube
from soapstone.quantities import format_angle, format_fine

INTO_LOG = "log"
"""What --learn says for the shop log."""


def command(
    job: Path,
    readings: Path,
    /,
    *,
    tube: Annotated[str, Parameter(help="The tube's name; a job of one needs none.")] = "",
    blank: Annotated[bool, Parameter(help="Write the file of readings to fill in.")] = False,
    learn: Annotated[
        Path | None,
        Parameter(
            help='Keep it and its bends in the shop log ("log"), or add the bends to a bench.'
        ),
    ] = None,
    log: Annotated[Path | None, Parameter(help="The shop log; left out, the usual one.")] = None,
    json: Json = False,
) -> int:
    """Find from tape and protractor how a tube came out, which bend is off, and what it teaches.

    Leaves with 0 when nothing is surely out of tolerance, with 1 when something is, or when the
    readings leave a mistake open.

    Parameters
    ----------
    job
        The job file (.toml) that the tube was made by.
    readings
        A file of readings (.toml) taken on the made tube.
    """
    if blank:
        asked = blank_readings(job, readings, tube, log)
        emit(asked.as_json, lambda where: _show_asked(where, asked), json)
        return 0
    keep = str(learn) == INTO_LOG
    found = inspect_tube(job, readings, tube, None if keep else learn, today(), log, keep=keep)
    emit(found.as_json, lambda where: _show(where, found), json)
    return 0 if found.result.sound else 1


def _show_asked(where: Console, asked: Asked) -> None:
    count = "1 distance" if asked.distances == 1 else f"{asked.distances} distances"
    where.print(f"{count} to tape on {escape(asked.tube)}", soft_wrap=True)
    if asked.heights:
        times = "1 height" if asked.heights == 1 else f"{asked.heights} heights"
        where.print(f"{times} over a flat floor, for rolls that no tape shows")
    angles = [str(bend) for what, bend in asked.untold if what == "angle"]
    rolls = [str(bend) for what, bend in asked.untold if what == "roll"]
    if angles:
        where.print(f"a tape tells these bends badly, so put a protractor on: {', '.join(angles)}")
    if rolls:
        where.print(f"no tape shows well the roll of bend {', '.join(rolls)}: sight along the tube")
    where.print(f"written: [bold]{escape(str(asked.file))}[/]", soft_wrap=True)


def _show(where: Console, found: Inspected) -> None:
    result = found.result
    say = partial(format_fine, units="in" if result.units == "in" else "mm")
    rows = []
    for one in result.numbers:
        write = say if one.what == "leg" else format_angle
        name = {"leg": "leg", "angle": "bend", "roll": "roll before bend"}[one.what]
        values = (write(x) for x in (one.drawn, one.made, one.off, one.plus_minus, one.limit))
        rows.append((f"{name} {one.n}", *values, one.verdict))
    columns = ("", "drawn", "made", "off by", "±", "may be off", "")
    where.print(table(result.tube, columns, rows))
    where.print(
        f"laid right at the A end, the B end is {say(result.ends)} off "
        f"(± {say(result.ends_plus_minus)}; {say(result.ends_limit)} may pass)"
    )
    where.print(f"[dim]tolerance: {escape(result.source)}[/]")
    say_findings(where, result.findings)
    for trial in result.trials:
        where.print(
            f"as a trial bend: bend {trial.bend}, dial {trial.dial:g}°, angle {trial.angle:.2f}° "
            f"(± {trial.plus_minus:.2f}°), springback {trial.springback * 100:.2f} %"
        )
    if found.learnt and found.new is not None:
        bends = "1 bend is new" if found.new == 1 else f"{found.new} bends are new"
        where.print(f"kept in [bold]{escape(str(found.learnt))}[/]: {bends}", soft_wrap=True)
    elif found.learnt:
        where.print(f"trial bends added to [bold]{escape(str(found.learnt))}[/]", soft_wrap=True)
