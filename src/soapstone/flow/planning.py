"""The main road: a job file and its bench become a plan."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench
from soapstone.bench.setup import LearntFrom
from soapstone.check.inspect.choosing import check_distances
from soapstone.check.wall import wall_change, wall_findings
from soapstone.findings import Finding, Say, stops
from soapstone.flow.clearing import clear_orders, held_to_bender
from soapstone.flow.cope_ends import with_copes
from soapstone.flow.ordering import is_fixed, orders_for
from soapstone.flow.remembering import ALL, Remember, remembered
from soapstone.job.files import bench_of, read_job
from soapstone.job.model import Job
from soapstone.plan.as_json import problems_json, tube_json
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.plan.order import Order
from soapstone.plan.tubes import plan_tubes
from soapstone.quantities import format_fine, format_size
from soapstone.shape.resolve import resolve

ROOM = "clearance to keep-outs"
"""What a plan leaves to the check of a job's clearances."""


@dataclass(frozen=True, slots=True)
class JobPlan:
    """A job with its bench, the plans of its tubes in the job's order, and what holds for all.

    `doubts` are about the whole job; `unseen` are things that nobody has looked at yet. `log` is
    the shop log whose bends count too, None where none does.
    """

    job: Job
    bench: Bench
    tubes: tuple[TubePlan | Unplanned, ...]
    doubts: tuple[Finding, ...] = ()
    unseen: tuple[str, ...] = ()
    log: Path | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What holds for the whole job: its doubts, and a note of what was not looked at."""
        if not self.unseen:
            return self.doubts
        note = Finding("note", "job", f"a plan does not look at {'; '.join(self.unseen)}")
        return (*self.doubts, note)

    @property
    def planned(self) -> tuple[TubePlan, ...]:
        """The tubes that have a plan."""
        return tuple(tube for tube in self.tubes if isinstance(tube, TubePlan))

    @property
    def learnt_from(self) -> dict[tuple[str, str], tuple[LearntFrom, ...]]:
        """The trial bends that the dials stand on, by die and tubing."""
        return {(t.setup.die, t.setup.tubing): t.setup.learnt_from for t in _bent(self.tubes)}

    @property
    def sound(self) -> bool:
        """Whether every tube can be made as planned."""
        return not any(stops(tube.problems) for tube in self.tubes)

    def as_json(self) -> dict[str, Any]:
        """Give the plan as a JSON object in mm, degrees and kg."""
        return {
            "job": self.job.name,
            "tubes": [
                {**tube_json(tube), "wall": wall_json(tube), "distances": distances_json(tube)}
                for tube in self.tubes
            ],
            "trials": [
                {"die": die, "tubing": tubing, "lots": [asdict(one) for one in lots]}
                for (die, tubing), lots in self.learnt_from.items()
            ],
            "log": str(self.log) if self.log else None,
            "findings": problems_json(self.findings),
            "sound": self.sound,
        }


def plan_job(path: Path | str, how: Remember = ALL) -> JobPlan:
    """Read a job and its bench and plan every tube: the main road through soapstone.

    `how` says which bends of the shop log count beside the bench's own.

    Raises
    ------
    InputError
        One line naming the file, the key and what is expected.
    """
    job = read_job(path)
    shop = remembered(bench_of(job), how)
    planned = plan(job, shop.bench)
    return replace(planned, doubts=(*planned.doubts, *shop.findings), log=shop.log)


def plan(job: Job, bench: Bench, orders: Mapping[str, Order] | None = None) -> JobPlan:
    """Plan every tube of a job on a bench.

    `orders` says by tube name in which order bends are made; other tubes go by their file, or by
    what gives clamp and follower their straight with the least handling. Where that hits something
    in the bender, another order is looked for in which nothing is hit.
    """
    say = partial(format_fine, units=job.units)
    shaped = resolve(job, bench)
    setups = [setup for _, setup in shaped]
    wanted = orders_for(job, shaped, orders or {})
    fixed = [is_fixed(job, tube, orders or {}) for tube in job.tubes]
    shapes = [shape for shape, _ in shaped]

    made: dict[tuple[int, Order | None], TubePlan | Unplanned] = {}

    def again(other: Mapping[int, Order]) -> list[TubePlan | Unplanned]:
        chosen = [(i, other.get(i, order)) for i, order in enumerate(wanted)]
        new = [one for one in chosen if one not in made]
        plans = plan_tubes(
            [shapes[i] for i, _ in new], [setups[i] for i, _ in new], say, [by for _, by in new]
        )
        made.update(zip(new, plans, strict=True))
        return [made[one] for one in chosen]

    planned, free = clear_orders(job, bench, again({}), fixed, again)
    size = partial(format_size, units=job.units)
    walled = [_with_wall(tube, size) for tube in planned]
    checked = tuple(
        tube
        if i in free or isinstance(tube, Unplanned)
        else held_to_bender(tube, bench, fixed[i], say)
        for i, tube in enumerate(walled)
    )
    coped = tuple(with_copes(job, checked))
    return JobPlan(job, bench, coped, _doubts(coped), _unseen(job, coped))


def _with_wall(tube: TubePlan | Unplanned, size: Say) -> TubePlan | Unplanned:
    """Add what the bends do to the tube's wall."""
    if isinstance(tube, Unplanned) or not tube.bends:
        return tube
    setup = tube.setup
    found = wall_findings(setup.od, setup.wall, setup.clr, tube.name, size)
    return replace(tube, problems=(*tube.problems, *found))


def _doubts(tubes: Sequence[TubePlan | Unplanned]) -> tuple[Finding, ...]:
    """Doubtful calibrations, each once."""
    return tuple(dict.fromkeys(doubt for tube in _bent(tubes) for doubt in tube.setup.doubts))


def _unseen(job: Job, tubes: Sequence[TubePlan | Unplanned]) -> tuple[str, ...]:
    """What a plan does not look at, of what the job has."""
    if not _bent(tubes):
        return ()
    tables = {ROOM: job.keepouts, "strength": job.loads or job.supports}
    return tuple(what for what, table in tables.items() if table)


def _bent(tubes: Sequence[TubePlan | Unplanned]) -> list[TubePlan]:
    return [tube for tube in tubes if isinstance(tube, TubePlan) and tube.bends]


def wall_json(tube: TubePlan | Unplanned) -> dict[str, Any] | None:
    """Give the wall and roundness to expect of a tube's bends, in mm and per cent."""
    if isinstance(tube, Unplanned) or not tube.bends or tube.setup.clr <= tube.setup.od / 2:
        return None
    return asdict(wall_change(tube.setup.od, tube.setup.wall, tube.setup.clr))


def distances_json(tube: TubePlan | Unplanned) -> list[dict[str, Any]]:
    """Give the distances to tape on a finished tube, in mm."""
    if isinstance(tube, Unplanned):
        return []
    return [
        {"from": d.start, "to": d.end, "length": d.length, "spans": list(d.spans)}
        for d in check_distances(tube)
    ]
