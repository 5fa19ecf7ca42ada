"""`soapstone nest`: which pieces to cut from which stick."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, table, today
from soapstone.flow.nesting import CutPlan, CutPlans, nest_files, write_cuts
from soapstone.flow.yard_stock import in_yard
from soapstone.quantities import Units, format_length, usual_tape


def command(
    *files: Path,
    count: Annotated[str, Parameter(help="How many of each job: 4, or 2,1 for two jobs.")] = "",
    kerf: str | None = None,
    yard: bool = False,
    log: Annotated[Path | None, Parameter(help="The shop log, for --yard.")] = None,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    paper: Literal["A4", "Letter"] | None = None,
    json: Json = False,
) -> int:
    """Say which pieces to cut from which stick, for the least money.

    Parameters
    ----------
    files
        Kerf, sticks and pieces in one file (.json or .toml), or job files: their tubes are cut
        from the sticks that the bench names, and what falls off bent tubes is used again.
    kerf
        What the saw takes: "2.4 mm"; left out, what the file says, and 2 mm for jobs.
    yard
        Use up for jobs what lies in the yard by the shop log; it costs nothing.
    out
        Print the cuts, each stick as a ruler, to this PDF.
    paper
        A4 or Letter.
    """
    remnants = in_yard(log) if yard else ()
    found = nest_files(files, _counts(count), kerf, remnants)
    if out is not None:
        found = write_cuts(found, out, paper, today())
    emit(found.as_json, lambda where: show(where, found), json)
    return 0


def _counts(text: str) -> list[int]:
    """Read whole numbers with commas between; what is none is left for the flow to refuse."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    return [int(word) if word.isdecimal() and len(word) < 9 else 0 for word in words]


def show(where: Console, found: CutPlans) -> None:
    """Print a table for every tubing."""
    for plan in found.plans:
        _show_plan(where, plan, found.units)
    if found.file:
        where.print(f"[bold]{escape(str(found.file))}[/]  ({found.pages} pages)", soft_wrap=True)


def _show_plan(where: Console, found: CutPlan, units: Units) -> None:
    def length(mm: float) -> str:
        return format_length(mm, units, usual_tape(units))

    rows = []
    for n, way in enumerate(found.nest.ways, 1):
        row = found.row(way)
        cuts = zip(found.asked.pieces, way.takes, strict=True)
        words = ", ".join(f"{k} × {piece.name} {length(piece.length)}" for piece, k in cuts if k)
        size = length(row["stick"])
        rows.append((str(n), words, found.source(way), size, length(row["offcut"])))
    where.print(table(found.tubing, ("stick", "cut", "", "length", "left over"), rows))
    if found.nest.optimal:
        said = "it cannot be done for less"
    else:
        short = 100 * (1 - found.nest.least_cost / found.nest.cost)
        said = f"no way is more than {short:.1f} % cheaper"
    where.print(f"{len(found.nest.ways)} sticks; {said}")
