"""`soapstone rescue`: what is still to do when a bend came out wrong."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, patience, say_findings, table, today
from soapstone.cli.plan import dial_cell, roll_cell
from soapstone.flow.rescuing import RescuedTube, rescue_tube
from soapstone.quantities import format_angle, format_fine, format_length
from soapstone.sheets.words import level_short


def command(
    job: Path,
    /,
    *,
    made: Annotated[list[str] | None, Parameter(negative=())] = None,
    tube: str = "",
    within: str = "",
    angle: float | None = None,
    stick: str = "",
    sheet: Path | None = None,
    date: str = "",
    json: Json = False,
) -> int:
    """Solve anew what is left of a tube whose bends did not come out as planned.

    Leaves with 0 when both ends land, with 1 when they cannot; it then says by how much they miss.

    Parameters
    ----------
    job
        A job file (.toml).
    made
        A bend made and its angle as measured after release, such as "2: 44.2"; what else is known
        of it may follow: "2: 44.2, roll 91, dial 47.5, leg 310". Give it once for each bend made;
        or a file: .csv with columns bend, angle, roll, dial, mark, leg, or .toml with [[bend]].
    tube
        Which tube; needed where the job has several that are bent.
    within
        How near both ends must land, such as "2 mm"; left out, 1 mm.
    angle
        Degrees that the end legs may be off; left out, 0.3.
    stick
        The stick's real length, where it is not what the plan says.
    sheet
        A PDF to print the sheets for the rest to.
    date
        What the sheets say for a date; left out, today.
    """
    with patience("still solving; the first time on a machine takes longer"):
        done = rescue_tube(
            job,
            tube,
            made or [],
            within=within,
            angle=angle,
            stick=stick,
            sheet=sheet,
            date=date or today(),
        )
    emit(done.as_json, lambda where: _show(where, done), json)
    return 0 if done.sound else 1


def _show(where: Console, done: RescuedTube) -> None:
    rescued, units = done.result, done.planned.job.units
    tape = rescued.plan.setup.tape
    where.print(f"[bold]{escape(rescued.plan.name)}[/]")
    if rescued.lands:
        where.print("it lands: make the rest as follows")
    rows = [
        (
            str(step.n),
            step.lead,
            format_length(step.stock_mark, units, tape),
            roll_cell(step),
            dial_cell(step),
            level_short(step.level),
            format_angle(step.angle),
        )
        for step in rescued.rest
    ]
    if rows:
        where.print(table("", ("bend", "lead", "mark", "roll", "dial", "level", "angle"), rows))
    else:
        where.print("no bend is left to make")
    for cut in rescued.plan.cuts:
        if cut.offcut > 0:
            at, falls = (format_length(mm, units, tape) for mm in (cut.stock_mark, cut.offcut))
            where.print(f"cut the {cut.end} end at {at}: {falls} falls off")
    ends = " and ".join(
        f"the {one.end} end within {format_fine(one.off, units)} and {one.askew:.1f}°"
        for one in rescued.ends
    )
    where.print(f"then {ends} of where they were drawn")
    say_findings(where, rescued.problems)
    if done.pack is not None:
        where.print(
            f"[bold]{escape(str(done.pack.file))}[/]  ({done.pack.pages} pages)", soft_wrap=True
        )
