"""`soapstone survey`: points from taped distances."""

from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.flow.surveying import Surveyed, survey_file
from soapstone.quantities import format_fine


def command(
    file: Path,
    /,
    *,
    into: Annotated[Path | None, Parameter(help="Put the points into this job file.")] = None,
    json: Json = False,
) -> int:
    """Find points from taped distances, levels and plumb lines, and what each may be off by.

    Leaves with 1 when a point is not pinned down or may be on the other side; it then says what
    to measure next, and no job is changed.

    Parameters
    ----------
    file
        A survey file (.toml) with a datum and taped distances.
    """
    surveyed = survey_file(file, into)
    emit(surveyed.as_json, lambda where: _show(where, surveyed), json)
    return 0 if surveyed.result.sound else 1


def _show(where: Console, surveyed: Surveyed) -> None:
    result = surveyed.result
    say = partial(format_fine, units="in" if result.units == "in" else "mm")
    rows = [
        (name, *(say(value) for value in point.at), f"± {say(point.plus_minus)}")
        for name, point in result.points.items()
    ]
    where.print(table("", ("point", "x", "y", "z", "19 times of 20"), rows))
    say_findings(where, result.findings)
    if surveyed.job:
        where.print(f"points put into [bold]{escape(str(surveyed.job))}[/]", soft_wrap=True)
