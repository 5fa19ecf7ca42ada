"""The sticks for several jobs at once; a tubing that cannot be sawn does not stop the others."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.flow.nesting import CutPlan, nest_jobs
from soapstone.flow.planning import JobPlan
from soapstone.job.tooling import tubing_of
from soapstone.plan.model import TubePlan
from soapstone.quantities import Tape, Units
from soapstone.yard.quick import Way

MOST_TIMES = 200
"""How often one job can be made at once."""

WIDEST = 100.0
"""mm that a saw takes at most."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A planned job, and how often it is made."""

    plan: JobPlan
    times: int

    def of(self, tubing: str) -> "Wanted":
        """Leave the tubes that are planned, and of one tubing."""
        tubes = tuple(one for one in self.plan.planned if one.setup.tubing == tubing)
        return replace(self, plan=replace(self.plan, tubes=tubes))


@dataclass(frozen=True, slots=True)
class SawnStick:
    """One way to saw a stick, and how many sticks are sawn so. Lengths in mm.

    `pieces` are names and lengths in the order sawn; `marks` is where the tape reads at the far
    end of each piece, from the stick's end; `offcut` is what is left. `source` says in words where
    the stick comes from, and `bought` whether it costs anything.
    """

    length: float
    count: int
    pieces: tuple[tuple[str, float], ...]
    marks: tuple[float, ...]
    offcut: float
    source: str
    bought: bool


@dataclass(frozen=True, slots=True)
class TubingCut:
    """What is sawn of one tubing; `cut` is None where that cannot be, and `findings` say why.

    `pieces` counts them; `priced` says whether the cost is money, else it is mm of stick; `tape`
    is what is read.
    """

    tubing: str
    units: Units
    tape: Tape
    pieces: int
    cut: CutPlan | None
    priced: bool
    findings: tuple[Finding, ...] = ()

    @property
    def sticks(self) -> tuple[SawnStick, ...]:
        """The sticks, those sawn alike as one, in the order to be sawn."""
        if self.cut is None:
            return ()
        ways = Counter(self.cut.nest.ways)
        return tuple(_sawn(self.cut, way, count) for way, count in ways.items())

    @property
    def bought(self) -> int:
        """How many sticks are bought."""
        return sum(one.count for one in self.sticks if one.bought)

    @property
    def offcuts(self) -> float:
        """All that is left over, in mm."""
        return sum(one.offcut * one.count for one in self.sticks)


def _sawn(cut: CutPlan, way: Way, count: int) -> SawnStick:
    row: dict[str, Any] = cut.row(way)
    at, marks = 0.0, []
    for piece in row["pieces"]:
        marks.append(at + piece["length"])
        at = marks[-1] + cut.asked.kerf
    pieces = tuple((piece["name"], piece["length"]) for piece in row["pieces"])
    bought = cut.asked.sticks[way.stick].cost > 0
    return SawnStick(
        row["stick"], count, pieces, tuple(marks), row["offcut"], cut.source(way), bought
    )


def saw_jobs(
    wanted: Sequence[Wanted], kerf: float, remnants: Sequence[tuple[str, float]] = ()
) -> tuple[TubingCut, ...]:
    """Cut the stock of jobs out of sticks for the least money.

    Tubes that have no plan are left out: see `unplanned`.

    Parameters
    ----------
    kerf
        What the saw takes, mm.
    remnants
        What lies in the shop, (tubing, mm), and costs nothing.

    Raises
    ------
    InputError
        The kerf is none, or a job is wanted more often than can be.
    """
    if not 0 <= kerf < WIDEST:
        raise InputError(f"kerf: expected a length from 0 to under {WIDEST:g} mm")
    if any(not 0 < one.times <= MOST_TIMES for one in wanted):
        raise InputError(f"expected a job to be made from 1 to {MOST_TIMES} times")
    names = dict.fromkeys(tube.setup.tubing for one in wanted for tube in one.plan.planned)
    return tuple(_of_tubing(name, wanted, kerf, remnants) for name in names)


def unplanned(wanted: Iterable[Wanted]) -> tuple[Finding, ...]:
    """Name the tubes that have no stock yet, and are in no cut."""
    return tuple(
        Finding("warn", one.plan.job.name, f'"{tube.name}" has no plan and is left out')
        for one in wanted
        for tube in one.plan.tubes
        if not isinstance(tube, TubePlan)
    )


def _of_tubing(
    name: str, wanted: Sequence[Wanted], kerf: float, remnants: Sequence[tuple[str, float]]
) -> TubingCut:
    mine = [one for one in (each.of(name) for each in wanted) if one.plan.tubes]
    plan = mine[0].plan
    first = plan.planned[0]
    price = tubing_of(plan.job, plan.job.tube(first.name), plan.bench).price
    count = sum(one.times * len(one.plan.tubes) for one in mine)
    cut, faults = None, []
    try:
        times = [one.times for one in mine]
        (cut,) = nest_jobs([one.plan for one in mine], times, kerf, remnants)
    except InputError as error:
        faults.append(Finding("stop", name, str(error)))
    return TubingCut(name, plan.job.units, first.setup.tape, count, cut, bool(price), tuple(faults))
