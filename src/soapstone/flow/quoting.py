"""What a job costs to make, and the parcel it goes in."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.bench.rates import Rates
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.job.tooling import tubing_of
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import format_length, usual_tape
from soapstone.sheets.contents import Paper
from soapstone.sheets.pack import page_count
from soapstone.sheets.quote_page import QuoteContents, make_quote
from soapstone.textfiles import write_whole
from soapstone.yard.buying import Bought, buy
from soapstone.yard.parcel import Parcel, parcel_findings, parcel_of
from soapstone.yard.quote import Quote, quote

MOST_SETS = 10_000


@dataclass(frozen=True, slots=True)
class QuotedJob:
    """A planned job with its price and its parcel; no parcel where no tube has a shape.

    `bought` is the tubing, one entry a kind; `file` the printed quote, if any.
    """

    plan: JobPlan
    quote: Quote
    bought: tuple[Bought, ...]
    parcel: Parcel | None
    findings: tuple[Finding, ...]
    file: Path | None = None

    @property
    def sound(self) -> bool:
        """Whether every tube can be made as planned."""
        return self.plan.sound

    @property
    def mass(self) -> float:
        """Mass in kg of all sets, without packing."""
        return self.quote.count * sum(tube.mass for tube in self.plan.planned)

    @property
    def rates(self) -> Rates:
        """The shop's prices and minutes."""
        return self.plan.bench.rates

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object: money as numbers, mm, kg and hours."""
        priced = self.quote
        return {
            "job": self.plan.job.name,
            "count": priced.count,
            "currency": self.rates.currency,
            "lines": [line.as_json() for line in priced.lines],
            "total": float(priced.total),
            "each": float(priced.each),
            "complete": priced.complete,
            "missing": list(priced.missing),
            "tax": "left out",
            "rounded_to": self.rates.rounding,
            "hours": float(priced.hours),
            "mass": self.mass,
            "offcuts": [
                {"tubing": one.material.tubing, "lengths": list(one.offcuts)} for one in self.bought
            ],
            "parcel": self.parcel.as_json() if self.parcel else None,
            "parcels": priced.count if self.parcel else 0,
            "findings": problems_json(self.findings),
            "file": None if self.file is None else str(self.file),
            "sound": self.sound,
        }


def quote_job(
    path: Path,
    count: float = 1,
    out: Path | None = None,
    paper: Paper | None = None,
    date: str = "",
) -> QuotedJob:
    """Price `count` sets of a job's tubes; with `out`, print the quote there as a PDF.

    Raises
    ------
    InputError
        One line naming what is wrong.
    """
    if not 1 <= count <= MOST_SETS or count != int(count):
        wanted = f"expected a whole number from 1 to {MOST_SETS}"
        raise InputError(f"--count: {wanted}, found {count:g}")
    done = price(plan_job(path), int(count))
    if out is None:
        return done
    pdf = make_quote(contents_of(done, paper, date))
    write_whole(out, pdf)
    assert page_count(pdf)
    return QuotedJob(done.plan, done.quote, done.bought, done.parcel, done.findings, out.absolute())


def price(planned: JobPlan, count: int = 1) -> QuotedJob:
    """Price `count` sets of a planned job. Tubes without a plan are left out, and said."""
    job, rates = planned.job, planned.bench.rates
    bought = _buy(planned, count)
    extra = {
        "cuts": sum(one.cuts for one in bought),
        "copes": len(job.copes),
        "joints": sum(len(joint.tubes) - 1 for joint in job.joints),
    }
    priced = quote(planned.planned, [one.material for one in bought], rates, extra, count)
    parcel = _parcel(planned)
    findings = (
        *(finding for tube in planned.tubes for finding in _stops(tube)),
        *(
            Finding("warn", "quote", words, "put it in the bench file; 0 asks for nothing")
            for words in priced.missing
        ),
        *(finding for one in bought for finding in one.findings),
        *(parcel_findings(parcel) if parcel else ()),
    )
    return QuotedJob(planned, priced, bought, parcel, findings)


def _stops(tube: TubePlan | Unplanned) -> list[Finding]:
    """What keeps a tube from being made, and that it is left out when it has no plan."""
    found = [finding for finding in tube.problems if finding.severity == "stop"]
    if isinstance(tube, Unplanned):
        found.append(Finding("stop", tube.name, "it has no plan, and is left out of the quote"))
    return found


def _buy(planned: JobPlan, count: int) -> tuple[Bought, ...]:
    """Choose what to buy of each tubing, in the order they come."""
    units = planned.job.units
    kinds: dict[tuple[Any, ...], list[TubePlan]] = {}
    for tube in planned.planned:
        tubing = tubing_of(planned.job, planned.job.tube(tube.name), planned.bench)
        key = (tubing.name, tubing.od, tubing.wall, tubing.price, tubing.sticks)
        kinds.setdefault(key, []).append(tube)
    say = partial(format_length, units=units, tape=usual_tape(units), feet=True)
    return tuple(
        buy(name, price, sticks, _pieces(tubes), planned.bench.rates.kerf, count, say)
        for (name, _, _, price, sticks), tubes in kinds.items()
    )


def _pieces(tubes: Sequence[TubePlan]) -> list[tuple[str, float]]:
    return [(tube.name, tube.stock_tape) for tube in tubes]


def _parcel(planned: JobPlan) -> Parcel | None:
    """Pack one set of the job's tubes together."""
    tubes, rates = planned.planned, planned.bench.rates
    if not tubes:
        return None
    rods = [(tube.shape, tube.setup.od) for tube in tubes]
    mass = sum(tube.mass for tube in tubes) + (rates.packing_mass or 0.0)
    return parcel_of([tube.name for tube in tubes], rods, mass, rates.packing_room)


def contents_of(done: QuotedJob, paper: Paper | None, date: str) -> QuoteContents:
    """Bring together what the printed quote says."""
    planned = done.plan
    job = planned.job
    return QuoteContents(
        job=job.name or (job.path.stem if job.path else "job"),
        units=job.units,
        paper=paper or ("Letter" if job.units == "in" else "A4"),
        date=date,
        note=job.note,
        tubes=planned.planned,
        quote=done.quote,
        rates=done.rates,
        parcel=done.parcel,
        mass=done.mass,
        tolerance=planned.bench.tolerance,
        finish=done.rates.finish,
        copes=len(job.copes),
        joints=len(job.joints),
        findings=done.findings,
    )
