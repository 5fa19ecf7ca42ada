"""A cope's template at true size: cut it out, wrap it round the tube, scribe along its edge."""

import math

from soapstone.check.cope.joint import Cope
from soapstone.quantities import Units, format_fine
from soapstone.sheets import palette
from soapstone.sheets.sketch import Box, Label, Mark, Pen, line, polygon, rectangle
from soapstone.sheets.sketch_svg import to_svg
from soapstone.sheets.words import shortened

MARGIN = 12.0
"""mm of paper about the template."""

BEHIND = 25.0
"""mm of template behind the deepest place of the cut."""

CHECK = 100.0
"""mm of the line by which the print is checked; 4 in for a job in inches."""


def on_paper(degrees: float, deep: float, od: float, tall: float) -> tuple[float, float]:
    """Give the place on the paper, x right and y up, of a place on the tube's outside.

    Angles run to the left: they go clockwise seen from the end into the tube, and the end is up,
    so that on the side of the paper that is seen once it is wrapped they go the other way.
    """
    return (1 - degrees / 360) * math.pi * od, tall - deep


def wrap_svg(cope: Cope, od: float, units: Units) -> str:
    """Draw the template of a coped end, its cut up the page, as an SVG document at true size.

    The lower edge is square to the tube; the tip, the place that reaches farthest, is where the
    tube was sawn square. Left and right edge meet on the line at 0 degrees. It goes round the tube
    with the print outside.
    """
    round_ = math.pi * od
    places = [*cope.clear, (360.0, cope.clear[0][1])]
    tall = max(depth for _, depth in places) - cope.tip + BEHIND
    edge = [on_paper(degrees, depth - cope.tip, od, tall) for degrees, depth in places]
    marks: list[Mark] = [
        polygon([(0.0, 0.0), *edge, (round_, 0.0)], palette.SAND, Pen(0.35)),
        line(edge, Pen(0.6, palette.EMBER)),
    ]
    for quarter in range(5):
        x, _ = on_paper(90.0 * quarter, 0.0, od, tall)
        marks.append(line(((x, 0.0), (x, tall)), Pen(0.15, palette.STONE, (2.0, 1.5))))
        marks.append(Label(f"{90 * quarter}°", (x, -4.5), 3.0, palette.STONE))
    name = f"{shortened(cope.tube, 40)}, {cope.end} end onto {shortened(cope.onto, 40)}"
    marks.append(Label(name, (2.0, 4.0), 3.6, palette.INK, 600, "left"))
    fit = f"{cope.angle:.1f}°, axes {format_fine(cope.offset, units)} apart"
    marks.append(Label(fit, (2.0, 9.0), 3.0, palette.STONE, 400, "left"))
    scale = CHECK if units == "mm" else 4 * 25.4
    marks.append(line(((0.0, -10.0), (scale, -10.0)), Pen(0.4)))
    words = f"{format_fine(scale, units)} when printed right"
    marks.append(Label(words, (scale + 3.0, -11.0), 3.0, palette.INK, 400, "left"))
    box = Box(-MARGIN, -16.0, max(round_, scale + 60.0) + MARGIN, tall + MARGIN)
    return to_svg((rectangle(box, palette.PAPER), *marks), box, f"Cope template: {name}")
