"""The coped ends of a job's tubes, and templates to wrap round them."""

import math
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.check.cope.joint import Cope, Plate, cope_onto_plate, cope_onto_tube
from soapstone.errors import InputError
from soapstone.findings import stops
from soapstone.flow.asked import needs_plan
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.plan.as_json import problems_json
from soapstone.plan.model import TubePlan
from soapstone.quantities import format_fine
from soapstone.sheets.cope_wrap import wrap_svg
from soapstone.textfiles import one_line, write_whole


@dataclass(frozen=True, slots=True)
class CopedJob:
    """A job's coped ends, and the templates that were written."""

    plan: JobPlan
    copes: tuple[Cope, ...]
    files: tuple[Path, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether every cope can be cut."""
        return not any(stops(one.problems) for one in self.copes)

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm and degrees."""
        return {
            "job": self.plan.job.name,
            "copes": [
                {
                    **asdict(one),
                    "profile": [list(place) for place in one.profile],
                    "clear": [list(place) for place in one.clear],
                    "problems": problems_json(one.problems),
                }
                for one in self.copes
            ],
            "files": [str(file) for file in self.files],
            "sound": self.sound,
        }


def cope_job(path: Path, svg: Path | None = None) -> CopedJob:
    """Find the cuts of every `[[cope]]` of a job; with `svg`, write a template of each there.

    Raises
    ------
    InputError
        One line naming what is wrong; a tube of a cope has no shape; a file cannot be written.
    """
    planned = plan_job(path)
    if not planned.job.copes:
        raise InputError(one_line(f"{path}: cope: expected one at least, such as [[cope]]"))
    copes = tuple(_cope(planned, number) for number in range(len(planned.job.copes)))
    if svg is None:
        return CopedJob(planned, copes)
    files = []
    tubes = {tube.name: tube for tube in planned.planned}
    for number, one in enumerate(copes, 1):
        if not stops(one.problems):
            file = svg.with_name(f"{svg.stem}-{number}{svg.suffix or '.svg'}")
            text = wrap_svg(one, tubes[one.tube].setup.od, planned.job.units)
            write_whole(file, text.encode())
            files.append(file.absolute())
    return CopedJob(planned, copes, tuple(files))


def _cope(planned: JobPlan, number: int) -> Cope:
    job, wish = planned.job, planned.job.copes[number]
    where = f"{job.where}: cope[{number + 1}].onto"
    tube = _shaped(planned, wish.tube, number)
    say = partial(format_fine, units=job.units)
    if isinstance(wish.onto, str):
        if wish.onto == wish.tube:
            raise InputError(one_line(f"{where}: expected another tube"))
        other = _shaped(planned, wish.onto, number)
        return cope_onto_tube(tube, wish.end, wish.onto, other.shape, other.setup.od, say)
    plate = Plate(wish.onto.at, wish.onto.normal)
    if not any(math.fabs(value) > 0 for value in plate.normal):
        raise InputError(one_line(f"{where}.normal: expected a direction"))
    return cope_onto_plate(tube, wish.end, plate, say)


def _shaped(planned: JobPlan, name: str, number: int) -> TubePlan:
    tube = next(tube for tube in planned.tubes if tube.name == name)
    return needs_plan(tube, f"{planned.job.where}: cope[{number + 1}]")
