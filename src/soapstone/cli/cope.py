"""`soapstone cope`: ends cut to sit on other tubes or on plates."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.check.cope.joint import Cope
from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.findings import stops
from soapstone.flow.coping import CopedJob, cope_job
from soapstone.quantities import Units, format_fine

EVERY = 30
"""Degrees between the rows of the printed table; the JSON has more."""


def command(
    job: Path,
    /,
    *,
    svg: Path | None = None,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    paper: Literal["A4", "Letter"] | None = None,
    json: Json = False,
) -> int:
    """Give the cut of every coped end: angle, depths all round, where to saw, length of weld.

    Leaves with 0 when every cope can be cut, with 1 when one cannot.

    Parameters
    ----------
    job
        A job file (.toml) with [[cope]] tables.
    svg
        Write a template of each at true size beside this name: NAME-1.svg, NAME-2.svg, ...
    out
        Print all templates at true size, with their depths, to this PDF.
    paper
        A4 or Letter.
    """
    done = cope_job(job, svg, out, paper)
    emit(done.as_json, lambda where: _show(where, done), json)
    return 0 if done.sound else 1


def _show(where: Console, done: CopedJob) -> None:
    units = done.plan.job.units
    for one in done.copes:
        where.print()
        where.print(
            f"[bold]{escape(one.tube)}[/], {one.end} end onto {escape(one.onto)}: "
            f"{one.angle:.1f}°, axes {format_fine(one.offset, units)} apart"
        )
        if not stops(one.problems):
            _show_cut(where, one, units)
        say_findings(where, one.problems)
    for file in done.files:
        where.print(f"[bold]{escape(str(file))}[/]", soft_wrap=True)


def _show_cut(where: Console, one: Cope, units: Units) -> None:
    where.print(f"saw it square at {format_fine(one.saw, units)} on the stick, then cope it")
    if one.from_bend is not None:
        where.print(f"0° lies {one.from_bend:.0f}° round from the inside of the bend next to it")
    rows = [
        (f"{angle:g}°", format_fine(depth - one.tip, units))
        for angle, depth in one.clear
        if angle % EVERY == 0
    ]
    where.print(table("", ("round the tube", "deep"), rows))
    where.print(f"weld {format_fine(one.weld, units)} round the outside")
