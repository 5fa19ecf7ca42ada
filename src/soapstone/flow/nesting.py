"""Files of sticks and pieces, or whole jobs, become lists of cuts."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapstone.bench.model import Tubing
from soapstone.errors import InputError
from soapstone.flow.asked import length_asked, needs_plan
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.job.tooling import tubing_of
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units
from soapstone.sheets.contents import CutStick, Paper
from soapstone.sheets.cut_page import cuts_pdf
from soapstone.sheets.pack import page_count
from soapstone.textfiles import one_line, read_toml, write_whole
from soapstone.yard.cut_list import CutList, Piece, Stick, read_cut_list
from soapstone.yard.nesting import Nest, nest
from soapstone.yard.quick import Way

KERF = 2.0
"""mm that a saw takes where nobody said: a cut-off disc or a band saw, common practice."""

SHORTEST = 50.0
"""mm: what falls off shorter is thrown away."""

MOST = 10_000
"""How many times a job may be made at once."""


@dataclass(frozen=True, slots=True)
class CutPlan:
    """What is cut from which stick of one tubing (no name: the file does not say).

    The first `found` of the sticks lie there already, or fall off tubes of the same jobs: from
    `sources` they come, in words.
    """

    asked: CutList
    nest: Nest
    tubing: str = ""
    sources: tuple[str, ...] = ()

    def row(self, way: Way) -> dict[str, Any]:
        """Give one stick, its pieces' names in the order cut, and what is left, in mm."""
        asked = self.asked
        stick = asked.sticks[way.stick].length
        taken = list(zip(asked.pieces, way.takes, strict=True))
        used = sum((piece.length + asked.kerf) * n for piece, n in taken)
        pieces = [
            {"name": piece.name, "length": piece.length} for piece, n in taken for _ in range(n)
        ]
        row = {"stick": stick, "pieces": pieces, "offcut": max(0.0, round(stick - used, 6))}
        if self.tubing:
            row |= {"tubing": self.tubing, "from": self.source(way)}
        return row

    def source(self, way: Way) -> str:
        """Say where a stick comes from."""
        return self.sources[way.stick] if self.sources else ""


@dataclass(frozen=True, slots=True)
class CutPlans:
    """Cut plans by tubing, and the page of them if it was printed."""

    plans: tuple[CutPlan, ...]
    units: Units
    file: Path | None = None
    pages: int = 0

    def as_json(self) -> dict[str, Any]:
        """Give the cuts as a JSON object in mm."""
        nests = [plan.nest for plan in self.plans]
        found: dict[str, Any] = {
            "sticks_used": sum(len(one.ways) for one in nests),
            "layout": [plan.row(way) for plan in self.plans for way in plan.nest.ways],
            "bound": sum(one.bound for one in nests),
            "optimal": all(one.optimal for one in nests),
            "cost": sum(one.cost for one in nests),
            "cost_bound": sum(one.least_cost for one in nests),
            "kerf": self.plans[0].asked.kerf,
        }
        if self.file:
            found |= {"file": str(self.file), "pages": self.pages}
        return found


def nest_files(
    paths: Sequence[Path],
    counts: Sequence[int] = (),
    kerf: str | None = None,
    remnants: Sequence[tuple[str, float]] = (),
) -> CutPlans:
    """Cut what files ask for, for the least money: one file of sticks and pieces, or jobs.

    `counts` says how many of each job; `kerf` is what the saw takes, as text, else the bench's or
    2 mm; `remnants` (name of the tubing, mm) lie in the shop and cost nothing.

    Raises
    ------
    InputError
        One line naming what is wrong.
    """
    if not paths:
        raise InputError("nest: expected a file of sticks and pieces, or job files")
    if any(_is_job(path) for path in paths):
        jobs = [plan_job(path) for path in paths]
        units = jobs[0].job.units
        saw = None if kerf is None else length_asked(kerf, units, "--kerf")
        return CutPlans(nest_jobs(jobs, counts, saw, remnants), units)
    if remnants:
        raise InputError("nest: --yard is for job files; a cut list names its own sticks")
    if len(paths) > 1 or counts:
        raise InputError("nest: expected one file of sticks and pieces; counts are for jobs")
    asked = read_cut_list(paths[0])
    if kerf is not None:
        asked = replace(asked, kerf=length_asked(kerf, asked.units, "--kerf"))
    return CutPlans((_nested(CutPlan(asked, _NOTHING), str(paths[0])),), asked.units)


def nest_jobs(
    jobs: Sequence[JobPlan],
    counts: Sequence[int] = (),
    kerf: float | None = None,
    remnants: Sequence[tuple[str, float]] = (),
) -> tuple[CutPlan, ...]:
    """Cut planned jobs from the sticks that their benches say, a cut plan for each tubing.

    What falls off a bent tube becomes another piece where it is long enough: it is shorter than
    the tube it falls off, so the longer tube can always be made first.
    """
    times = _counts(jobs, counts)
    groups: dict[str, list[tuple[Tubing, TubePlan, int, str]]] = {}
    for planned, n in zip(jobs, times, strict=True):
        for one in planned.tubes:
            tube = needs_plan(one, planned.job.where)
            tubing = tubing_of(planned.job, planned.job.tube(tube.name), planned.bench)
            groups.setdefault(tubing.name, []).append((tubing, tube, n, planned.job.name))
    where = jobs[0].job.where
    own = jobs[0].bench.kerf
    saw = kerf if kerf is not None else KERF if own is None else own
    return tuple(
        _tubing_cut(
            rows, saw, jobs[0].job.units, where, [at for who, at in remnants if who == name]
        )
        for name, rows in groups.items()
    )


def _tubing_cut(
    rows: Sequence[tuple[Tubing, TubePlan, int, str]],
    kerf: float,
    units: Units,
    where: str,
    remnants: Sequence[float],
) -> CutPlan:
    tubing = rows[0][0]
    if not tubing.sticks:
        what = f'tubing "{tubing.name}".sticks: expected the lengths it is bought in'
        raise InputError(one_line(f"{where}: {what}"))
    several = len({job for *_, job in rows}) > 1
    pieces = tuple(
        Piece(tube.stock_tape, n, f"{job}: {tube.name}" if several else tube.name)
        for _, tube, n, job in rows
    )
    shortest = min(piece.length for piece in pieces)
    sticks: list[Stick] = []
    sources: list[str] = []
    for length in remnants:
        sticks.append(Stick(length, 1, 0.0))
        sources.append("remnant")
    for _, tube, n, _ in rows:
        for cut in tube.cuts:
            if cut.offcut >= max(shortest, SHORTEST):
                sticks.append(Stick(cut.offcut, n, 0.0))
                sources.append(f"falls off {tube.name} at {cut.end}")
    price = tubing.price / 1000 if tubing.price else 1.0
    for length in sorted(set(tubing.sticks)):
        sticks.append(Stick(length, None, round(length * price, 4)))
        sources.append("bought")
    asked = CutList(kerf, tuple(sticks), pieces, units)
    return _nested(CutPlan(asked, _NOTHING, tubing.name, tuple(sources)), where)


def _nested(plan: CutPlan, where: str) -> CutPlan:
    asked = plan.asked
    try:
        return replace(plan, nest=nest(asked.sticks, asked.pieces, asked.kerf))
    except InputError as error:
        of = f'tubing "{plan.tubing}": ' if plan.tubing else ""
        raise InputError(one_line(f"{where}: {of}{error}")) from None


def _counts(jobs: Sequence[JobPlan], counts: Sequence[int]) -> list[int]:
    if any(not 0 < n <= MOST for n in counts) or len(counts) not in (0, 1, len(jobs)):
        raise InputError(
            f"--count: expected one whole number, or one for each job, from 1 to {MOST}"
        )
    return list(counts) * len(jobs) if len(counts) == 1 else list(counts) or [1] * len(jobs)


def _is_job(path: Path) -> bool:
    """Whether a file is a job: it has tubes, or lacks sticks and pieces."""
    if path.suffix.lower() == ".json":
        return False
    raw = read_toml(path)
    return "tube" in raw or not ({"sticks", "pieces", "kerf"} & set(raw))


def write_cuts(found: CutPlans, file: Path, paper: Paper | None, date: str) -> CutPlans:
    """Print the cuts, each stick as a ruler, as a PDF."""
    sheet = paper or ("Letter" if found.units == "in" else "A4")
    pdf = cuts_pdf(cut_sticks(found.plans), found.units, sheet, date)
    write_whole(file, pdf)
    return replace(found, file=file.absolute(), pages=page_count(pdf))


def cut_sticks(plans: Sequence[CutPlan]) -> list[CutStick]:
    """Give the sticks as they are drawn, those that are cut alike once."""
    drawn: dict[str, CutStick] = {}
    for plan in plans:
        for way in plan.nest.ways:
            row = plan.row(way)
            key = json.dumps(row)
            before = drawn.get(key)
            drawn[key] = CutStick(
                tubing=plan.tubing,
                source=plan.source(way),
                length=row["stick"],
                pieces=tuple((piece["name"], piece["length"]) for piece in row["pieces"]),
                kerf=plan.asked.kerf,
                times=before.times + 1 if before else 1,
            )
    return list(drawn.values())


_NOTHING = Nest((), 0.0, 0.0, 0)
