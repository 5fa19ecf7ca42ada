"""`soapstone plan`: marks, cuts, dial stops, rolls and level readings."""

from pathlib import Path

from rich.console import Console

from soapstone import flow
from soapstone.cli.output import Json, emit, escape, say_findings, table
from soapstone.plan.model import BendStep, LevelReading, TubePlan, Unplanned
from soapstone.quantities import format_angle, format_length, format_mass


def command(job: Path, /, *, json: Json = False) -> int:
    """Give marks, cuts, dial stops, rolls and level readings of a job's tubes.

    Leaves with 0 when every tube can be made so, with 1 when one cannot.

    Parameters
    ----------
    job
        A job file (.toml).
    """
    planned = flow.plan_job(job)
    emit(planned.as_json, lambda where: show(where, planned), json)
    return 0 if planned.sound else 1


def show(where: Console, planned: flow.JobPlan) -> None:
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


def _show_tube(where: Console, tube: TubePlan, planned: flow.JobPlan) -> None:
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
        where.print(f"load with the seam at {_clock(tube.seam.clock)}, seen from the tail")
    if tube.bends:
        columns = ("bend", "lead", "mark", "roll", "dial", "re-pin at", "level", "angle")
        rows = [_row(bend, length) for bend in tube.bends]
        where.print(table("", columns, rows))
    for cut in tube.cuts:
        if cut.offcut > 0:
            where.print(
                f"cut the {cut.end} end at {length(cut.mark)}: {length(cut.offcut)} falls off"
            )


def _row(bend: BendStep, length: flow.Say) -> tuple[str, ...]:
    return (
        str(bend.n),
        bend.lead,
        length(bend.mark),
        roll_words(bend.roll),
        f"{bend.dial_stop:g}°" + (f" (first {bend.first_stop:.1f}°)" if bend.first_stop else ""),
        ", ".join(f"{stroke:.1f}°" for stroke in bend.strokes),
        level_words(bend.level),
        format_angle(bend.angle),
    )


def roll_words(roll: float) -> str:
    """Say a roll as seen from the tail."""
    if abs(roll) < 0.05:
        return "none"
    if abs(abs(roll) - 180) < 0.05:
        return "half a turn"
    return f"{abs(roll):.1f}° {'clockwise' if roll > 0 else 'anticlockwise'}"


def level_words(level: LevelReading | None) -> str:
    """Say what a level reads once the roll is right."""
    if level is None:
        return ""
    if level.rises == "":
        return f"leg {level.leg} level"
    if level.reads > 89.95:
        return f"leg {level.leg} plumb, {level.rises} up"
    return f"leg {level.leg} {level.reads:.1f}°, {level.rises} up"


def _clock(hour: float) -> str:
    """Say a place on the clock to the nearest half hour."""
    half_hours = round(hour * 2)
    whole = half_hours // 2 or 12
    return f"{whole}:30" if half_hours % 2 else f"{whole} o'clock"
