"""The coped ends of a job's tubes, and templates to wrap round them."""

from collections.abc import Sequence
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
    good = _to_cut(copes)
    ods = {tube.name: tube.setup.od for tube in planned.planned}
    files = []
    for number, one in enumerate(copes, 1) if svg else ():
        if one in good:
            assert svg is not None
            file = svg.with_name(f"{svg.stem}-{number}{svg.suffix or '.svg'}")
            write_whole(file, wrap_svg(one, ods[one.tube], units).encode())
            files.append(file.absolute())
    if out and good:
        write_whole(out, _printed(planned, good, paper))
        files.append(out.absolute())
    return CopedJob(planned, copes, tuple(files))


def templates_of(planned: JobPlan, tube: str, paper: Paper | None = None) -> bytes:
    """Print the templates of a tube's coped ends at true size, with their depths, as a PDF.

    Raises
    ------
    InputError
        A tube of a cope has no shape, or this one has no end that can be coped.
    """
    good = [one for one in _to_cut(copes_of(planned.job, planned.tubes)) if one.tube == tube]
    if not good:
        raise InputError(one_line(f"{tube}: it has no end that can be coped as it is"))
    return _printed(planned, good, paper)


def _to_cut(copes: Sequence[Cope]) -> list[Cope]:
    return [one for one in copes if not stops(one.problems)]


def _printed(planned: JobPlan, copes: Sequence[Cope], paper: Paper | None) -> bytes:
    units = planned.job.units
    ods = {tube.name: tube.setup.od for tube in planned.planned}
    sheet = paper or ("Letter" if units == "in" else "A4")
    return wraps_pdf(copes, ods, units, sheet, planned.job.name)
