"""`soapstone convert`: tubes from one kind of file into another."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings
from soapstone.flow.converting import Converted, convert


def command(
    source: Path,
    target: Path,
    /,
    *,
    form: Annotated[
        Literal["corners", "legs"] | None,
        Parameter(name="--as", help="Rows of the CSV: corners, or legs and bends."),
    ] = None,
    units: Literal["mm", "in"] | None = None,
    wall: str = "",
    material: str = "",
    json: Json = False,
) -> int:
    """Turn tubes from one kind of file into another, by the files' endings.

    Tubes are read from .toml, .csv and .step, and written to these and to .dxf (views, centrelines
    and sticks with marks), .glb and .stl (solids) and .svg (sticks as rulers). From a STEP file
    come each tube's corners, outside diameter and wall; what is no tube is named and left out.
    Leaves with 1 when a tube is left out, or is not as drawn.

    Parameters
    ----------
    source
        The file to read: a job (.toml), tubes (.csv) or a drawing (.step).
    target
        The file to write: .toml, .csv, .step, .dxf, .glb, .stl or .svg.
    units
        Units of the written file; left out, those of the source, mm for a drawing.
    wall
        Wall of what a drawing has as solid bars, such as "1.65 mm".
    material
        What the tubes of a drawing are made of.
    """
    made = convert(source, target, form or "", units or "", wall, material)
    emit(made.as_json, lambda where: _show(where, made), json)
    return 0 if made.sound else 1


def _show(where: Console, made: Converted) -> None:
    count = len(made.tubes)
    where.print(
        f"{escape(str(made.file))}  ({count} tube{'' if count == 1 else 's'})", soft_wrap=True
    )
    if made.left_out:
        where.print(f"[yellow]note well[/]  not in it: {escape(', '.join(made.left_out))}")
    say_findings(where, made.findings)
