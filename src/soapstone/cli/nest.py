"""`soapstone nest`: which pieces to cut from which stick."""

from pathlib import Path

from rich.console import Console

from soapstone.cli.output import Json, emit, table
from soapstone.flow.nesting import CutPlan, nest_file
from soapstone.quantities import format_size


def command(file: Path, /, *, json: Json = False) -> int:
    """Say which pieces to cut from which stick, for the least money.

    Parameters
    ----------
    file
        Kerf, sticks and pieces (.json or .toml).
    """
    found = nest_file(file)
    emit(found.as_json, lambda where: show(where, found), json)
    return 0


def show(where: Console, found: CutPlan) -> None:
    """Print a row for every stick."""
    units = found.asked.units
    rows = []
    for n, way in enumerate(found.nest.ways, 1):
        row = found.row(way)
        cuts = zip(found.asked.pieces, way.takes, strict=True)
        words = ", ".join(
            f"{k} × {piece.name} {format_size(piece.length, units)}" for piece, k in cuts if k
        )
        size = format_size(row["stick"], units)
        rows.append((str(n), words, size, format_size(row["offcut"], units)))
    where.print(table("", ("stick", "cut", "length", "left over"), rows))
    if found.nest.optimal:
        said = "it cannot be done for less"
    else:
        said = f"no fewer than {found.nest.bound} would do"
    where.print(f"{len(found.nest.ways)} sticks; {said}")
