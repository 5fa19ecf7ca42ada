"""`soapstone plan`: marks, cuts, dial stops, rolls and level readings."""

from pathlib import Path

from rich.console import Console

from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.findings import Say
from soapstone.flow import JobPlan, plan_job
from soapstone.plan.model import BendStep, TubePlan, Unplanned
from soapstone.quantities import format_angle, format_length, format_mass
from soapstone.sheets.words import (
    clock_words,
    is_still,
    level_short,
    roll_title,
    roll_way,
)


def command(job: Path, /, *, json: Json = False) -> int:
    """Give marks, cuts, dial stops, rolls and level readings of a job's tubes.

    Leaves with 0 when every tube can be made so, with 1 when one cannot.

    Parameters
    ----------
    job
        A job file (.toml).
    """
    planned = plan_job(job)
    emit(planned.as_json, lambda where: show(where, planned), json)
    return 0 if planned.sound else 1


def show(where: Console, planned: JobPlan) -> None:
    """Print every tube as a table of bends in the order made."""
    for tube in planned.tubes:
        where.print()
        if isinstance(tube, Unplanned):
            where.print(f"[bold]{escape(tube.name)}[/]  has no plan")
        else:
            _show_tube(where, tube, planned)
        say_findings(where, tube.problems)
    where.print()
    say_findings(where, planned.findings)


def _show_tube(where: Console, tube: TubePlan, planned: JobPlan) -> None:
    units, tape = planned.job.units, planned.bench.tape

    def length(mm: float) -> str:
        return format_length(mm, units, tape)

    image = f"  mirror image of {escape(tube.of)}" if tube.of else ""
    where.print(f"[bold]{escape(tube.name)}[/]{image}")
    setup = tube.setup
    where.print(
        f"{escape(setup.tubing)}, die {escape(setup.die)}: cut the stock to "
        f"[bold]{length(tube.stock)}[/], {format_mass(tube.mass, units)}"
    )
    if tube.seam:
        where.print(f"load with the seam at {clock_words(tube.seam.clock)}, seen from the tail")
    if tube.bends:
        columns = ("bend", "lead", "mark", "roll", "dial", "re-pin at", "level", "angle")
        rows = [_row(bend, length) for bend in tube.bends]
        where.print(table("", columns, rows))
    for cut in tube.cuts:
        if cut.offcut > 0:
            where.print(
                f"cut the {cut.end} end at {length(cut.mark)}: {length(cut.offcut)} falls off"
            )


def _row(bend: BendStep, length: Say) -> tuple[str, ...]:
    return (
        str(bend.n),
        bend.lead,
        length(bend.mark),
        _roll(bend.roll),
        f"{bend.dial_stop:g}°" + (f" (first {bend.first_stop:.1f}°)" if bend.first_stop else ""),
        ", ".join(f"{stroke:.1f}°" for stroke in bend.strokes),
        level_short(bend.level),
        format_angle(bend.angle),
    )


def _roll(roll: float) -> str:
    return "none" if is_still(roll) else f"{roll_title(roll)} {roll_way(roll)}"
