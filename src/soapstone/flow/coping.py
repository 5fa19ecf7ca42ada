"""The coped ends of a job's tubes, and templates to wrap round them."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soapstone.check.cope.joint import Cope
from soapstone.errors import InputError
from soapstone.findings import stops
from soapstone.flow.cope_ends import copes_of
from soapstone.flow.planning import JobPlan, plan_job
from soapstone.plan.as_json import problems_json
from soapstone.sheets.contents import Paper
from soapstone.sheets.cope_pages import wraps_pdf
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


def cope_job(
    path: Path, svg: Path | None = None, out: Path | None = None, paper: Paper | None = None
) -> CopedJob:
    """Find the cuts of every `[[cope]]` of a job.

    With `svg`, a template of each is written beside that name; with `out`, a PDF of them all at
    true size, on `paper`.

    Raises
    ------
    InputError
        One line naming what is wrong; a tube of a cope has no shape; a file cannot be written.
    """
    planned = plan_job(path)
    if not planned.job.copes:
        raise InputError(one_line(f"{path}: cope: expected one at least, such as [[cope]]"))
    copes = copes_of(planned.job, planned.tubes)
    units = planned.job.units
    good = [one for one in copes if not stops(one.problems)]
    ods = {tube.name: tube.setup.od for tube in planned.planned}
    files = []
    for number, one in enumerate(copes, 1) if svg else ():
        if one in good:
            assert svg is not None
            file = svg.with_name(f"{svg.stem}-{number}{svg.suffix or '.svg'}")
            write_whole(file, wrap_svg(one, ods[one.tube], units).encode())
            files.append(file.absolute())
    if out and good:
        sheet = paper or ("Letter" if units == "in" else "A4")
        write_whole(out, wraps_pdf(good, ods, units, sheet, planned.job.name))
        files.append(out.absolute())
    return CopedJob(planned, copes, tuple(files))
