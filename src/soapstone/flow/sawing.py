"""The sticks for several jobs at once: what to saw from which, tubing by tubing."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.flow.nesting import CutPlan
from soapstone.flow.planning import JobPlan
from soapstone.job.tooling import tubing_of
from soapstone.plan.model import TubePlan
from soapstone.quantities import Tape, Units
from soapstone.yard.cut_list import CutList, Piece, Stick
from soapstone.yard.nesting import nest

MOST_TIMES = 200
"""How often one job can be made at once."""

KERFS = {"mm": 2.0, "in": 25.4 / 16}
"""What a saw takes where nothing is said, mm: common practice for a cold saw on thin tube."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A planned job, and how often it is made."""

    plan: JobPlan
    times: int


@dataclass(frozen=True, slots=True)
class SawnStick:
    """One way to saw a stick, and how many sticks are sawn so. Lengths in mm.

    `pieces` are names and lengths in the order sawn; `marks` is where the tape reads at the far
    end of each piece, from the stick's end; `offcut` is what is left.
    """

    length: float
    count: int
    pieces: tuple[tuple[str, float], ...]
    marks: tuple[float, ...]
    offcut: float


@dataclass(frozen=True, slots=True)
class TubingCut:
    """What is sawn of one tubing; `cut` is None where that cannot be, and `findings` say why.

    `priced` says whether its cost is money; else it is mm of stick. `tape` is what it is marked by.
    """

    tubing: str
    units: Units
    tape: Tape
    pieces: int
    length: float
    cut: CutPlan | None
    priced: bool
    findings: tuple[Finding, ...] = ()

    @property
    def sticks(self) -> tuple[SawnStick, ...]:
        """The sticks, those sawn alike as one, in the order to be sawn."""
        if self.cut is None:
            return ()
        kerf = self.cut.asked.kerf
        ways = Counter(self.cut.nest.ways)
        return tuple(_sawn(self.cut.row(way), count, kerf) for way, count in ways.items())

    @property
    def offcuts(self) -> float:
        """All that is left over, in mm."""
        return sum(one.offcut * one.count for one in self.sticks)


def _sawn(row: dict[str, Any], count: int, kerf: float) -> SawnStick:
    at, marks = 0.0, []
    for piece in row["pieces"]:
        marks.append(at + piece["length"])
        at = marks[-1] + kerf
    pieces = tuple((piece["name"], piece["length"]) for piece in row["pieces"])
    return SawnStick(row["stick"], count, pieces, tuple(marks), row["offcut"])


def saw_jobs(wanted: Sequence[Wanted], kerf: float) -> tuple[TubingCut, ...]:
    """Cut the stock of jobs out of sticks for the least money; `kerf` in mm.

    Tubes that have no plan are left out, and a finding says so.

    Raises
    ------
    InputError
        The kerf is none, or a job is wanted more often than can be.
    """
    if not 0 <= kerf < 100:
        raise InputError("kerf: expected a length from 0 to under 100 mm")
    if any(not 0 < one.times <= MOST_TIMES for one in wanted):
        raise InputError(f"expected a job to be made from 1 to {MOST_TIMES} times")
    found: dict[tuple[str, float, float], list[tuple[TubePlan, Wanted]]] = {}
    for one in wanted:
        for tube in one.plan.planned:
            setup = tube.setup
            found.setdefault((setup.tubing, setup.od, setup.wall), []).append((tube, one))
    several = len(wanted) > 1
    cuts = [_of_tubing(tubes, kerf, several=several) for tubes in found.values()]
    return tuple(cuts)


def unplanned(wanted: Iterable[Wanted]) -> tuple[Finding, ...]:
    """Name the tubes that have no stock yet, and are in no cut."""
    return tuple(
        Finding("warn", one.plan.job.name, f'"{tube.name}" has no plan and is left out')
        for one in wanted
        for tube in one.plan.tubes
        if not isinstance(tube, TubePlan)
    )


def _of_tubing(
    tubes: Sequence[tuple[TubePlan, Wanted]], kerf: float, *, several: bool
) -> TubingCut:
    first, job = tubes[0]
    setup = first.setup
    price = tubing_of(job.plan.job, job.plan.job.tube(first.name), job.plan.bench).price
    rate = price / 1000 if price else 1.0
    pieces = tuple(
        Piece(
            tube.stock_tape,
            one.times,
            f"{tube.name}, {one.plan.job.name}" if several else tube.name,
        )
        for tube, one in tubes
    )
    count, length = sum(p.count for p in pieces), sum(p.count * p.length for p in pieces)
    asked = CutList(
        kerf,
        tuple(Stick(stick, None, stick * rate) for stick in setup.sticks),
        pieces,
        job.plan.job.units,
    )
    cut, faults = _cut(asked, setup.tubing)
    return TubingCut(
        setup.tubing, job.plan.job.units, setup.tape, count, length, cut, bool(price), faults
    )


def _cut(asked: CutList, tubing: str) -> tuple[CutPlan | None, tuple[Finding, ...]]:
    if not asked.sticks:
        mend = "say in the bench what lengths it is bought in"
        return None, (Finding("stop", tubing, "no stick length is known", mend),)
    try:
        return CutPlan(asked, nest(asked.sticks, asked.pieces, asked.kerf)), ()
    except InputError as error:
        return None, (Finding("stop", tubing, str(error)),)
