"""`soapstone calibrate`: learn springback and dial zero from trial bends."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import Json, emit, say_findings, table
from soapstone.flow.learning import Learnt, angles_from, calibrate
from soapstone.quantities import format_angle


def command(
    data: Path,
    /,
    *,
    at: Annotated[str, Parameter(help="Finished angles to give readings for.")] = "15,30,45,60,90",
    bench: Annotated[Path | None, Parameter(help="A bench file whose die is the prior.")] = None,
    die: Annotated[str, Parameter(help="A die's name in that bench.")] = "",
    tubing: Annotated[str, Parameter(help="A tubing's name in that bench.")] = "",
    json: Json = False,
) -> int:
    """Learn springback and dial zero from a CSV file with columns dial and angle.

    Parameters
    ----------
    data
        A CSV file: the dial reading each trial bend was stopped at, the angle measured after
        release, and the lot of tubing if you like.
    """
    learnt = calibrate(data, angles_from(at), bench, die, tubing)
    emit(learnt.as_json, lambda where: _show(where, learnt), json)
    return 0


def _show(where: Console, learnt: Learnt) -> None:
    fitted = learnt.calibration
    where.print(
        f"springback {fitted.springback * 100:.2f} %   dial zero {fitted.dial_zero:+.2f}°   "
        f"scatter {fitted.sigma:.2f}°   from {fitted.trials} trial bends"
    )
    rows = [
        (
            format_angle(row["angle"]),
            format_angle(row["dial"]),
            f"{row['low']:.1f} to {row['high']:.1f}°",
        )
        for row in learnt.readings()
    ]
    where.print(table("", ("finished angle", "stop the dial at", "95 % lie within"), rows))
    say_findings(where, learnt.findings)
