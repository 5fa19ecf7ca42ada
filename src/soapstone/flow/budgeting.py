"""How near a job's tubes land to where they are drawn, and what would bring them nearer."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf
from pathlib import Path
from typing import Any, Literal

from soapstone.bench.model import Bench, Trial
from soapstone.check.budget.budget import SAMPLES, Passing, budget_of
from soapstone.check.budget.model import Budget
from soapstone.check.inspect.model import ToleranceTable
from soapstone.check.inspect.tolerance import limits_for
from soapstone.errors import InputError
from soapstone.findings import Finding, stops
from soapstone.flow.asked import length_asked
from soapstone.flow.planning import JobPlan, plan, plan_job
from soapstone.job.model import Job
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan
from soapstone.quantities import Tape

Grade = Literal["A", "B", "C", "D"]

LIKELY = 0.95
"""The chance to pass below which a tube wants a second thought."""

MOST_SAMPLES = 10_000_000


@dataclass(frozen=True, slots=True)
class BudgetedJob:
    """A job with the error budgets of its tubes; those that have no bend, or no plan, have none."""

    plan: JobPlan
    budgets: tuple[Budget, ...]

    @property
    def stopping(self) -> tuple[Finding, ...]:
        """What keeps tubes of the job from being made as planned."""
        return tuple(stop for tube in self.plan.tubes for stop in stops(tube.problems))

    @property
    def sound(self) -> bool:
        """Whether every tube is likely to pass, 19 times in 20, laid by its better end."""
        return self.plan.sound and all(one.best_chance >= LIKELY for one in self.budgets)

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm and degrees."""
        return {
            "job": self.plan.job.name,
            "tubes": [budget_json(one) for one in self.budgets],
            "findings": problems_json(self.stopping),
            "sound": self.sound,
        }


def budget_json(one: Budget) -> dict[str, Any]:
    """Give one budget as a JSON object, mm and degrees."""
    return {
        "name": one.tube,
        "offset": list(one.offset),
        "axes": [list(axis) for axis in one.axes],
        "radius": one.radius,
        "turn": one.turn,
        "apart": one.apart,
        "between": one.between,
        "linear_radius": one.linear_radius,
        "sampled_radius": one.sampled_radius,
        "within": {"length": one.within[0], "angle": one.within[1], "source": one.limits},
        "chance": one.chance,
        "shares": [{"what": s.what, "bend": s.bend, "part": s.part} for s in one.shares],
        "bends": list(one.bends),
        "gains": [{"what": gain.what, "radius": gain.radius} for gain in one.gains],
        "samples": one.samples,
        "laid_by_b": {"radius": one.back, "turn": one.back_turn, "chance": one.back_chance},
        "one_sided": one.one_sided,
        "places": [{"point": name, "radius": radius} for name, radius in one.places],
    }


def budget_job(
    path: Path,
    within: str = "",
    angle: float | None = None,
    grade: Grade | None = None,
    samples: int = SAMPLES,
    seed: int = 0,
) -> BudgetedJob:
    """Reckon the error budget of every bent tube of a job.

    Parameters
    ----------
    within
        What may pass at the B end, as a length in words; empty: ISO 13920 by the ends' distance.
    angle
        Degrees that the last leg may be turned; None: ISO 13920 by the shorter end leg.
    grade
        The class of ISO 13920; None: B.
    samples
        How many tubes are made of each; `seed` chooses them, 0 or more.

    Raises
    ------
    InputError
        One line naming what is wrong.
    """
    if not 1000 <= samples <= MOST_SAMPLES:
        raise InputError(f"--samples: expected a whole number from 1000 to {MOST_SAMPLES}")
    if seed < 0:
        raise InputError("--seed: expected a whole number, 0 or more")
    planned = plan_job(path)
    length = length_asked(within, planned.job.units, "--within") if within else None
    if angle is not None and not 0 < angle < 180:
        raise InputError("--angle: expected degrees above 0 and below 180")
    others = [(what, _tubes(planned.job, bench)) for what, bench in _better(planned)]
    budgets = []
    for tube in planned.planned:
        if tube.bends:
            better = [(what, tubes[tube.name]) for what, tubes in others if tube.name in tubes]
            passing = passing_in(planned.job, tube, length, angle, grade)
            budgets.append(budget_of(tube, passing, better, samples, seed, planned.job.points))
    return BudgetedJob(planned, tuple(budgets))


def budgets_for_sheets(planned: JobPlan, samples: int = SAMPLES) -> dict[str, Budget]:
    """Reckon the budgets that stand on the tubes' sheets, by tube name."""
    return {
        tube.name: budget_of(tube, passing_in(planned.job, tube), samples=samples)
        for tube in planned.planned
        if tube.bends and not tube.made
    }


def passing_in(
    job: Job,
    tube: TubePlan,
    length: float | None = None,
    angle: float | None = None,
    grade: Grade | None = None,
) -> Passing:
    """Give what may pass at a tube's B end: what is asked, else what the job says of it.

    A class that is asked for stands above the job's length.
    """
    told, class_told = job.tolerance_of(tube.name)
    if length is None and grade is None and told is not None:
        found = passing_of(tube, told, angle, class_told)
        return replace(found, source=f"length as the job says, {found.source}")
    return passing_of(tube, length, angle, grade or class_told)


def passing_of(
    tube: TubePlan,
    length: float | None = None,
    angle: float | None = None,
    grade: Grade | None = None,
) -> Passing:
    """Give what may pass at a tube's B end: the user's figures, and ISO 13920 for the rest."""
    limits = limits_for(tube, ToleranceTable(iso_13920=grade or "B"))
    angles = [limits.angles[0], limits.angles[-1]] if limits.angles else [inf]
    given = length is not None and angle is not None
    return Passing(
        limits.ends if length is None else length,
        max(angles) if angle is None else angle,
        "as asked" if given else f"ISO 13920 class {grade or 'B'}",
    )


def _tubes(job: Job, bench: Bench) -> dict[str, TubePlan]:
    return {tube.name: tube for tube in plan(job, bench).planned}


def _better(planned: JobPlan) -> Iterator[tuple[str, Bench]]:
    """Give the bench with one thing better at a time, and what that is."""
    bench = planned.bench
    truth = bench.accuracy
    fine = Tape(bench.tape.step / 2, bench.tape.units)
    yield "a tape with graduations twice as fine", bench.model_copy(update={"tape": fine})
    for what, change in (
        ("marks twice as true", {"mark": truth.mark / 2}),
        ("a level twice as true", {"level": truth.level / 2}),
        ("a wrap band twice as true", {"band": truth.band / 2}),
        ("a protractor twice as true", {"protractor": truth.protractor / 2}),
        ("the index line found by a trial piece", {"index_line": truth.index_line / 4}),
    ):
        kept = truth.model_copy(update=change)
        yield what, bench.model_copy(update={"accuracy": kept})
    finer = {"dial_step": bench.dial_step / 2}
    yield "a dial with graduations twice as fine", bench.model_copy(update=finer)
    trials = tuple(_trial(planned))
    if trials:
        more = {"trials": (*bench.trials, *trials)}
        yield "one more trial bend of each tubing", bench.model_copy(update=more)


def _trial(planned: JobPlan) -> Iterator[Trial]:
    """Give one more trial bend of each die and tubing, at the widest bend, come out as expected."""
    bench = planned.bench
    widest: dict[tuple[str, str], TubePlan] = {}
    for tube in planned.planned:
        key = tube.setup.die, tube.setup.tubing
        if tube.bends and (key not in widest or _most(tube) > _most(widest[key])):
            widest[key] = tube
    dies, tubings = {die.name for die in bench.dies}, {one.name for one in bench.tubings}
    for (die, tubing), tube in widest.items():
        if die in dies and tubing in tubings:
            angle = _most(tube)
            dial = float(tube.setup.calibration.dial(angle))
            known = [one for one in bench.trials if (one.die, one.tubing) == (die, tubing)]
            newest = max(known, key=lambda one: one.date, default=None)
            yield Trial(
                die=die,
                tubing=tubing,
                lot=newest.lot if newest else "",
                date=newest.date if newest else "",
                bends=((dial, angle),),
            )


def _most(tube: TubePlan) -> float:
    return max(bend.angle for bend in tube.bends)
