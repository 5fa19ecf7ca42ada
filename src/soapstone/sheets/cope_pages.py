"""Pages of cope templates at true size, each with its depths."""

from collections.abc import Mapping, Sequence
from typing import Any

from soapstone.check.cope.joint import Cope
from soapstone.quantities import Units, format_fine
from soapstone.sheets.contents import Paper
from soapstone.sheets.cope_wrap import wrap_strips
from soapstone.sheets.figures import Figure, figure_page
from soapstone.sheets.typesetting import to_pdf
from soapstone.sheets.words import shortened
from soapstone.sheets.wrap_band import check_line

WIDTH = 178.0
"""mm that a template may be wide before it is printed in strips."""

EVERY = 30
"""Degrees between the columns of the depth table."""

CHECKS: dict[Units, tuple[float, str]] = {"mm": (100.0, "100 mm"), "in": (101.6, "4 in")}


def words(check: str) -> str:
    """Say how to use the templates."""
    return (
        f"Measure the check line first: it must be {check}. If not, print again at 100 %, not "
        "fitted to the page. Cut the template out along its red edge. Draw one straight line along "
        "the top of the stick as it is loaded for its first bend; on a straight tube anywhere, the "
        "same for both ends. Saw the tube square where the line over the template says, wrap the "
        "template round it with its print outside, its black triangle on the line and its highest "
        "place at the sawn edge, and scribe along the red edge."
    )


def wrap_pages(
    copes: Sequence[Cope], ods: Mapping[str, float], units: Units
) -> list[dict[str, Any]]:
    """Give the data of the pages of templates; `ods` by tube name, mm."""
    length, said = CHECKS[units]
    figures = [Figure("Check line", check_line(length, said))]
    # an end that meets two things has one cut, and either template shows it
    ends = {(one.tube, one.end): one for one in reversed(copes)}
    for one in reversed(ends.values()):
        strips = wrap_strips(one, ods[one.tube], units, WIDTH)
        saw = f"saw square at {format_fine(one.saw, units)} on the stick"
        head = f"{shortened(one.tube, 40)}, {one.end} end onto {shortened(one.onto, 40)}: {saw}"
        for number, strip in enumerate(strips, 1):
            last = number == len(strips)
            title = head if number == 1 else f"{shortened(one.tube, 40)}, next strip to the right"
            figures.append(Figure(title, strip, _depths(one, units) if last else ()))
    foot = "cope templates  ·  print at 100 %"
    return [figure_page("Cope templates", "true size", words(said), figures, foot)]


def _depths(one: Cope, units: Units) -> tuple[tuple[str, ...], ...]:
    rows = [(angle, depth - one.tip) for angle, depth in one.clear if angle % EVERY == 0]
    return (
        ("round", *(f"{angle:g}°" for angle, _ in rows)),
        ("deep", *(format_fine(depth, units).replace(" mm", "") for _, depth in rows)),
    )


def wraps_pdf(
    copes: Sequence[Cope], ods: Mapping[str, float], units: Units, paper: Paper, job: str
) -> bytes:
    """Print templates alone."""
    return to_pdf(
        {
            "job": shortened(job, 60),
            "paper": paper,
            "units": units,
            "notice": "",
            "pages": wrap_pages(copes, ods, units),
        }
    )
