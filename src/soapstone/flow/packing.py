"""A planned job becomes a printed shop pack."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapstone.bench.setup import tape_for
from soapstone.check.budget.model import Budget
from soapstone.check.cope.joint import Cope
from soapstone.check.inspect.choosing import check_distances
from soapstone.errors import InputError
from soapstone.findings import stops
from soapstone.fit.keepouts import keepouts_for
from soapstone.flow.budgeting import budgets_for_sheets
from soapstone.flow.cope_ends import copes_of
from soapstone.flow.fitting import CheckedJob, check, shapes_of
from soapstone.flow.nesting import cut_sticks, nest_jobs
from soapstone.flow.planning import JobPlan, wall_json
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import Units, format_fine, format_size
from soapstone.sheets.contents import CutStick, PackContents, Paper, Surroundings
from soapstone.sheets.pack import make_pack, page_count
from soapstone.textfiles import write_whole


@dataclass(frozen=True, slots=True)
class Pack:
    """A printed shop pack: where it lies, how many pages it has, and the plan it shows.

    The plan has been held against the job's keep-outs when there are any.
    """

    file: Path
    pages: int
    plan: JobPlan

    def as_json(self) -> dict[str, Any]:
        """Give file and pages, and what is wrong with which tube, as a JSON object."""
        return {
            "file": str(self.file),
            "pages": self.pages,
            "tubes": [
                {"name": tube.name, "problems": problems_json(tube.problems)}
                for tube in self.plan.tubes
            ],
            "findings": problems_json(self.plan.findings),
            "sound": self.plan.sound,
        }


def write_pack(planned: JobPlan, file: Path, paper: Paper | None, date: str) -> Pack:
    """Print a planned job as a PDF. `date` is printed as given; no paper: the usual one.

    A job with keep-outs is checked against them first, and what was found is printed.
    """
    if planned.job.keepouts:
        checked = check(planned)
        planned = checked.plan
        contents = replace(
            pack_contents(planned, paper, date), surroundings=surroundings_of(checked)
        )
    else:
        contents = pack_contents(planned, paper, date)
    pdf = make_pack(contents)
    write_whole(file, pdf)
    return Pack(file.absolute(), page_count(pdf), planned)


def surroundings_of(checked: CheckedJob) -> Surroundings:
    """Give what stands about a job's tubes, and how near each comes to it."""
    planned = checked.plan
    rods = shapes_of(planned)
    keepouts = {
        keepout.name: keepout
        for tube in planned.planned
        for keepout in keepouts_for(planned.job, planned.job.tube(tube.name), rods)
    }
    order = [keepout.name for keepout in planned.job.keepouts if keepout.name in keepouts]
    gaps = {tube.plan.name: tube.gaps for tube in checked.tubes}
    return Surroundings(tuple(keepouts[name] for name in order), gaps)


def pack_contents(planned: JobPlan, paper: Paper | None, date: str) -> PackContents:
    """Bring together what the sheets say."""
    job, bench = planned.job, planned.bench
    budgets = budgets_for_sheets(planned)
    missing = [
        finding
        for tube in planned.tubes
        if isinstance(tube, Unplanned)
        for finding in tube.problems
    ]
    return PackContents(
        job=job.name or (job.path.stem if job.path else "job"),
        units=job.units,
        tape=tape_for(bench, job.units),
        dial_step=bench.dial_step,
        paper=paper or ("Letter" if job.units == "in" else "A4"),
        bender=bench.bender.name,
        tubes=planned.planned,
        date=date,
        distances={tube.name: check_distances(tube) for tube in planned.planned},
        calibrations={
            tube.name: " ".join(
                words
                for words in (
                    _dial_words(tube),
                    _wall_words(tube, job.units),
                    _landing_words(budgets.get(tube.name), job.units),
                )
                if words
            )
            for tube in planned.planned
        },
        findings=(*missing, *planned.findings),
        unmade=tuple(tube.name for tube in planned.tubes if isinstance(tube, Unplanned)),
        note=job.note,
        cuts=_cuts(planned),
        copes=_copes(planned),
    )


def _cuts(planned: JobPlan) -> tuple[CutStick, ...]:
    """Give how the job's sticks are cut.

    Nothing where the bench does not say what is bought, or where a tube is bent in part already.
    """
    if any(tube.made for tube in planned.planned):
        return ()
    try:
        return tuple(cut_sticks(nest_jobs([planned])))
    except InputError:
        return ()


def _copes(planned: JobPlan) -> tuple[Cope, ...]:
    """Give the ends that can be coped; what stops the others stands with their tubes."""
    try:
        copes = copes_of(planned.job, planned.tubes)
    except InputError:
        return ()
    return tuple(one for one in copes if not stops(one.problems))


def _dial_words(tube: TubePlan) -> str:
    """Say how well the dial is known for a tube."""
    learnt = tube.setup.calibration
    springback = f"Springback {learnt.springback * 100:.1f} %, dial zero {learnt.dial_zero:+.1f}°"
    if not learnt.trials:
        return f"{springback}: no trial bends yet, so stop early, release and measure."
    return f"{springback}; trial bends: {learnt.trials}."


def _landing_words(budget: Budget | None, units: Units) -> str:
    """Say how near the B end will land, and what matters most for that."""
    if budget is None or not budget.shares:
        return ""
    worst = budget.shares[0]
    of_bend = f" of bend {worst.bend}" if worst.bend else ""
    near = format_fine(budget.radius, units)
    return f"19 of 20 land their B end within {near}; {worst.what}{of_bend} matters most."


def _wall_words(tube: TubePlan, units: Units) -> str:
    """Say what the bends leave of the wall."""
    wall = wall_json(tube)
    if wall is None:
        return ""
    low, high = (format_size(thickness, units) for thickness in wall["thinnest"])
    before = format_size(tube.setup.wall, units)
    return f"The outside of the bends thins from {before} to {low}–{high}."
