"""`soapstone budget`: how near tubes land, and what matters most."""

from pathlib import Path
from typing import Literal

from rich.console import Console

from soapstone.check.budget.budget import SAMPLES
from soapstone.check.budget.model import Budget
from soapstone.cli.output import Json, emit, escape, patience, say_findings, table
from soapstone.flow.budgeting import BudgetedJob, budget_job
from soapstone.quantities import Units, format_fine

SHOWN = 0.02
"""Sources of error with a lesser part are not listed."""


def command(
    job: Path,
    /,
    *,
    within: str = "",
    angle: float | None = None,
    iso_13920: Literal["A", "B", "C", "D"] | None = None,
    samples: int = SAMPLES,
    seed: int = 0,
    json: Json = False,
) -> int:
    """Say how near every bent tube will land, how likely it passes, and what matters most.

    Leaves with 0 when every tube passes 19 times in 20 or more, with 1 when one does not.

    Parameters
    ----------
    job
        A job file (.toml).
    within
        What the B end may be off by, such as "3 mm"; left out: ISO 13920, by the ends' distance.
    angle
        Degrees that the last leg may be turned; left out: ISO 13920.
    iso_13920
        The class of ISO 13920; left out: B.
    samples
        How many tubes are made of each, on paper.
    seed
        Which tubes those are: another number makes others, the same number the same again.
    """
    with patience("still making tubes on paper; the first time on a machine takes longer"):
        done = budget_job(job, within, angle, iso_13920, samples, seed)
    emit(done.as_json, lambda where: _show(where, done), json)
    return 0 if done.sound else 1


def _show(where: Console, done: BudgetedJob) -> None:
    units = done.plan.job.units
    for one in done.budgets:
        where.print()
        _show_one(where, one, units)
    if not done.budgets:
        where.print("no tube of this job is bent")
    say_findings(where, done.stopping)


def _show_one(where: Console, one: Budget, units: Units) -> None:
    def say(mm: float) -> str:
        return format_fine(mm, units)

    where.print(f"[bold]{escape(one.tube)}[/]")
    where.print(
        f"with its A end held, 19 of 20 have their B end within [bold]{say(one.radius)}[/] "
        f"of where it is drawn, and the last leg within {one.turn:.1f}°"
    )
    where.print(
        f"laid any way, the ends are {say(one.apart)} more or less apart than drawn, the end legs "
        f"{one.between:.1f}° more or less inclined"
    )
    share = f"{one.chance:.1%}" if one.chance < 0.9995 else "nearly all"
    where.print(
        f"{share} pass {say(one.within[0])} and {one.within[1]:.2g}° ({escape(one.limits)})"
    )
    if one.back_chance > one.chance + 0.005 or one.back < 0.95 * one.radius:
        where.print(
            f"laid by its B end, the A end is within [bold]{say(one.back)}[/], its leg within "
            f"{one.back_turn:.1f}°, and {one.back_chance:.1%} pass"
        )
    for name, radius in one.places:
        where.print(f'by "{escape(name)}" 19 of 20 pass within {say(radius)} of as drawn')
    rows = [
        (f"{s.what}{f' of bend {s.bend}' if s.bend else ''}", f"{s.part:.0%}")
        for s in one.shares
        if s.part >= SHOWN
    ]
    if one.one_sided >= SHOWN:
        where.print(
            f"{one.one_sided:.0%} of the error is one-sided, from bends past their angle at their "
            "first stop, which cannot be taken back; the parts below are of the rest"
        )
    where.print(table("what matters", ("source", "part"), rows))
    if one.gains:
        gains = [(gain.what, say(gain.radius)) for gain in one.gains]
        where.print(table("what would help", ("with", "B end within"), gains))
