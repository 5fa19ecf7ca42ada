"""`soapstone shape`: a hoop, an offset, a saddle ... from the few numbers that one measures."""

from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.flow.shaping import Shaped, shape_job, usual_units
from soapstone.quantities import Units, format_fine
from soapstone.shape.starter import STARTERS


def command(
    name: str = "",
    numbers: Annotated[list[str] | None, Parameter(help='Such as "width=600".')] = None,
    /,
    *,
    die: str = "",
    tubing: str = "",
    bench: Annotated[Path | None, Parameter(help="A bench file; left out, the shop's own.")] = None,
    out: Annotated[Path | None, Parameter(help="Write a job with this tube here.")] = None,
    json: Json = False,
) -> int:
    """Start from a shape and the few numbers that one measures; without a name, list the shapes.

    Lengths are in the bench's units or carry their own: width=600, "width=24 1/2 in". Leaves with
    1 when there is no such shape, and says by how much it fails.

    Parameters
    ----------
    name
        The shape: hoop, offset, saddle and so on.
    die
        The die's name in the bench.
    tubing
        The tubing's name in the bench.
    """
    if not name:
        asked = usual_units(bench)
        emit(_listed, lambda where: _list(where, asked), json)
        return 0
    shaped = shape_job(name, numbers or [], bench, die, tubing, out)
    emit(shaped.as_json, lambda where: _show(where, shaped), json)
    return 0 if shaped.sound else 1


def _listed() -> dict[str, object]:
    return {
        "shapes": [
            {
                "name": one.name,
                "what": one.what,
                "measures": [
                    {"key": m.key, "what": m.what, "kind": m.kind, "usual": m.usual}
                    for m in one.measures
                ],
            }
            for one in STARTERS.values()
        ]
    }


def _list(where: Console, units: Units) -> None:
    for one in STARTERS.values():
        where.print(f"[bold]{escape(one.name)}[/]  {escape(one.what)}")
        for measure in one.measures:
            usual = measure.usual_in if units == "in" else measure.usual
            unit = "°" if measure.kind == "angle" else f" {units}"
            where.print(f"    {measure.key}={usual:g}{unit}  {escape(measure.what)}")


def _show(where: Console, shaped: Shaped) -> None:
    say = partial(format_fine, units="in" if shaped.units == "in" else "mm")
    rows = [(str(i), *(say(value) for value in at)) for i, at in enumerate(shaped.points, 1)]
    if rows:
        where.print(table("", ("point", "x", "y", "z"), rows))
    say_findings(where, shaped.findings)
    if shaped.file:
        where.print(f"written: [bold]{escape(str(shaped.file))}[/]", soft_wrap=True)
