"""`soapstone convert`: tubes from one kind of file into another."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape
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
    json: Json = False,
) -> int:
    """Turn tubes from .toml into .csv and back, or into files for other programs, by their endings.

    .step and .glb and .stl hold the tubes as solids, .dxf centrelines and sticks with marks, .svg
    the sticks as rulers.

    Parameters
    ----------
    source
        The file to read: a job (.toml) or tubes (.csv).
    target
        The file to write: .toml, .csv, .step, .dxf, .glb, .stl or .svg.
    units
        Units of the written file; left out, those of the source.
    """
    made = convert(source, target, form or "", units or "")
    emit(made.as_json, lambda where: _show(where, made), json)
    return 0


def _show(where: Console, made: Converted) -> None:
    count = len(made.tubes)
    where.print(
        f"{escape(str(made.file))}  ({count} tube{'' if count == 1 else 's'})", soft_wrap=True
    )
    if made.left_out:
        where.print(f"[yellow]note well[/]  not in it: {escape(', '.join(made.left_out))}")
