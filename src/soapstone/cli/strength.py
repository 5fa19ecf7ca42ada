"""`soapstone strength`: what the frame carries."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.check.strength.bolts import BoltLoad
from soapstone.check.strength.model import CaseResult
from soapstone.cli.output import Json, emit, escape, say_findings, table, today
from soapstone.flow.strength import CAUTION, WANTED, StrongJob, strength_job
from soapstone.flow.strength_sheet import write_strength
from soapstone.quantities import Units, format_fine, format_force, format_moment, format_stress

MUCH = 1e6
"""A reserve above this is as good as no load."""


def command(
    job: Path,
    /,
    *,
    reserve: Annotated[float, Parameter(help="Yield over stress that is asked for.")] = WANTED,
    own_weight: bool = False,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    paper: Literal["A4", "Letter"] | None = None,
    json: Json = False,
) -> int:
    """Solve a job's tubes as one frame: what feet hold, how far it gives, what is left of yield.

    Leaves with 0 when every load case keeps the reserve asked for, with 1 when one does not. It
    does not take the place of a licensed engineer.

    Parameters
    ----------
    job
        A job file (.toml) with supports and loads, and joints where tubes are welded.
    own_weight
        Let the tubes' own weight act too; it is left out otherwise.
    out
        Draw every case, bent more than it gives and coloured by stress, to this PDF or SVG.
    paper
        A4 or Letter.
    """
    done = strength_job(job, reserve, own_weight=own_weight)
    if out is not None:
        done = write_strength(done, out, paper, today())
    emit(done.as_json, lambda where: _show(where, done), json)
    return 0 if done.sound else 1


def _show(where: Console, done: StrongJob) -> None:
    units = done.plan.job.units
    for one in done.cases:
        where.print()
        _show_case(where, one, units)
        _show_bolts(where, one, done.bolts(one), units)
    where.print()
    if done.note < 1e6:
        where.print(f"it hums at {done.note:.0f} Hz, {done.note * 60:.0f} beats a minute")
    say_findings(where, done.findings)
    if done.file:
        where.print(f"[bold]{escape(str(done.file))}[/]", soft_wrap=True)
    where.print(f"[dim]{escape(CAUTION)}[/]")


def _show_case(where: Console, one: CaseResult, units: Units) -> None:
    where.print(f"[bold]{escape(one.case)}[/]")
    tube, at = one.deflected
    where.print(
        f"gives {format_fine(one.deflection, units)} at most, on {escape(tube)}, "
        f"{format_fine(at, units)} from its A end"
    )
    if one.reserve > MUCH:
        where.print("carries nothing")
        return
    by = ", beside a weld" if one.worst.by_weld else ""
    stress = format_stress(one.stress, units)
    where.print(f"[bold]{one.reserve:.2f}[/] times its load to yield: {stress} at most")
    along = format_fine(one.worst.along, units)
    where.print(f"nearest to yield: {escape(one.worst.tube)}, {along} from its A end{by}")
    if one.buckling < 1e3:
        where.print(f"{one.buckling:.1f} times its load to buckle")
    rows = [
        (
            f"{support.tube}, {support.at}",
            *(format_force(value, units) for value in support.force),
            *(format_moment(value, units) for value in support.moment),
        )
        for support in one.supports
    ]
    heads = ("held at", "x", "y", "z", "about x", "about y", "about z")
    where.print(table("", heads, rows))


def _show_bolts(
    where: Console, one: CaseResult, bolts: Sequence[BoltLoad | None], units: Units
) -> None:
    """Print the hardest-worked bolt of every foot that has bolts."""
    rows = [
        (
            f"{support.tube}, {support.at}",
            str(held.bolt),
            format_force(held.tension, units),
            format_force(held.shear, units),
            "–" if held.stress is None else format_stress(held.stress, units),
        )
        for support, held in zip(one.supports, bolts, strict=True)
        if held
    ]
    if rows:
        where.print(table("", ("worst bolt of", "bolt", "pull", "shear", "stress"), rows))
        where.print("[dim]a plate that bends pries and adds to the pull: that is left out[/]")
