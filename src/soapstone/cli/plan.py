"""`soapstone plan`: marks, cuts, dial stops, rolls and level readings."""

from pathlib import Path

from rich.console import Console

from soapstone.cli.output import FIRST_TIME, Json, emit, escape, patience, say_findings, table
from soapstone.findings import Say
from soapstone.flow import JobPlan, plan_job
from soapstone.flow.remembering import Remember
from soapstone.plan.model import BendStep, TubePlan, Unplanned
from soapstone.plan.order import in_turn, order_words
from soapstone.quantities import format_angle, format_length, format_mass
from soapstone.sheets.words import (
    clock_words,
    is_still,
    level_short,
    roll_title,
    roll_way,
)


def command(
    job: Path,
    /,
    *,
    lot: str = "",
    log: Path | None = None,
    no_log: bool = False,
    json: Json = False,
) -> int:
    """Give marks, cuts, dial stops, rolls and level readings of a job's tubes.

    Leaves with 0 when every tube can be made so, with 1 when one cannot.

    Parameters
    ----------
    job
        A job file (.toml).
    lot
        The lot of tubing in hand: its own bends tell the dials, where there are any.
    log
        The shop log; left out, the one SOAPSTONE_LOG names, or else your own.
    no_log
        Plan from the bench's own trial bends alone.
    """
    with patience(FIRST_TIME):
        planned = plan_job(job, Remember(log, no_log, lot=lot))
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
    say_learnt_from(where, planned)
    say_findings(where, planned.findings)


def say_learnt_from(where: Console, planned: JobPlan) -> None:
    """Say on which trial bends the dials stand, lot by lot."""
    for (die, tubing), lots in planned.learnt_from.items():
        told = []
        for one in lots:
            counts = (one.own, "of the bench"), (len(one.logged), "of the shop log")
            shares = " and ".join(f"{count} {whose}" for count, whose in counts if count)
            told.append(f"{shares} (lot {one.lot})" if one.lot else shares)
        bends = ", ".join(told) or "none: a guess from what is known of the metal"
        name = f"{tubing} on {die}, trial bends: {bends}"
        where.print(f"[dim]{escape(name)}[/]", soft_wrap=True)


def _show_tube(where: Console, tube: TubePlan, planned: JobPlan) -> None:
    units, tape = planned.job.units, tube.setup.tape

    def length(mm: float) -> str:
        return format_length(mm, units, tape)

    image = f"  mirror image of {escape(tube.of)}" if tube.of else ""
    where.print(f"[bold]{escape(tube.name)}[/]{image}")
    setup = tube.setup
    die = f", die {escape(setup.die)}" if tube.bends else ""
    where.print(
        f"{escape(setup.tubing)}{die}: cut the stock to "
        f"[bold]{length(tube.stock_tape)}[/]; the part weighs {format_mass(tube.mass, units)}"
    )
    if tube.seam:
        where.print(f"load with the seam at {clock_words(tube.seam.clock)}, seen from the tail")
    if tube.order not in (in_turn(len(tube.bends)), in_turn(len(tube.bends), "B")):
        where.print(f"made in the order {order_words(tube.order)}")
    if tube.bends:
        columns = ("bend", "lead", "mark", "roll", "dial", "re-pin at", "level", "angle")
        rows = [_row(bend, length) for bend in tube.bends]
        where.print(table("", columns, rows))
    for cut in tube.cuts:
        if cut.offcut > 0:
            where.print(
                f"cut the {cut.end} end at {length(cut.stock_mark)}: {length(cut.offcut)} falls off"
            )


def _row(bend: BendStep, length: Say) -> tuple[str, ...]:
    return (
        str(bend.n),
        bend.lead,
        length(bend.stock_mark),
        roll_cell(bend),
        dial_cell(bend),
        ", ".join(f"{stroke:.1f}°" for stroke in bend.strokes),
        level_short(bend.level),
        format_angle(bend.angle),
    )


def roll_cell(bend: BendStep) -> str:
    """Say in a word or two how the tube is turned before a bend."""
    turned = "end for end, then " if bend.end_for_end else ""
    if is_still(bend.roll):
        return f"{turned}none"
    return f"{turned}{roll_title(bend.roll)} {roll_way(bend.roll)}"


def dial_cell(bend: BendStep) -> str:
    """Say where to stop the dial, and where to stop first."""
    first = "" if bend.first_stop is None else f" (first {bend.first_stop:g}°)"
    return f"{bend.dial_stop:g}°{first}"
