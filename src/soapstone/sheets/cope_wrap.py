"""A cope's template at true size: cut it out, wrap it round the tube, scribe along its edge."""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from soapstone.check.cope.joint import Cope
from soapstone.quantities import Units, format_fine
from soapstone.sheets import palette
from soapstone.sheets.lettering import size_to_fit
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Sketch, line, polygon, rectangle
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
    """Draw the template of a coped end, its cut up the page, as an SVG document at true size."""
    marks = wrap_strips(cope, od, units, math.inf)[0]
    scale = CHECK if units == "mm" else 4 * 25.4
    words = f"{format_fine(scale, units)} when printed right"
    marks = (
        *marks,
        line(((0.0, -10.0), (scale, -10.0)), Pen(0.4)),
        Label(words, (scale + 3.0, -11.0), 3.0, palette.INK, 400, "left"),
    )
    top = max(depth for _, depth in cope.clear) - cope.tip + BEHIND
    box = Box(-MARGIN, -16.0, max(math.pi * od, scale + 60.0) + MARGIN, top + MARGIN)
    name = f"{shortened(cope.tube, 40)}, {cope.end} end onto {shortened(cope.onto, 40)}"
    return to_svg((rectangle(box, palette.PAPER), *marks), box, f"Cope template: {name}")


def wrap_strips(cope: Cope, od: float, units: Units, width: float) -> list[Sketch]:
    """Draw the template of a coped end at true size, in strips no wider than `width` mm.

    The lower edge is square to the tube; the tip, the place that reaches farthest, is where the
    tube was sawn square. Left and right edge meet on the line at 0 degrees. It goes round the tube
    with the print outside. The filled triangle goes on the line along the stick.
    """
    count = max(1, math.ceil(math.pi * od / width - 1e-9))
    steps = [360.0 * i / count for i in range(count + 1)]
    return [
        _strip(cope, od, units, steps[i], steps[i + 1], f"{count - i} of {count}")
        for i in reversed(range(count))
    ]


def _strip(cope: Cope, od: float, units: Units, start: float, end: float, number: str) -> Sketch:
    places = [*cope.clear, (360.0, cope.clear[0][1])]
    tall = max(depth for _, depth in places) - cope.tip + BEHIND
    shift = on_paper(end, 0.0, od, tall)[0]

    def at(degrees: float, deep: float) -> tuple[float, float]:
        x, y = on_paper(degrees, deep, od, tall)
        return x - shift, y

    inner = [(angle, depth) for angle, depth in places if start < angle < end]
    rows = [(start, _deep(places, start)), *inner, (end, _deep(places, end))]
    edge = [at(angle, depth - cope.tip) for angle, depth in rows]
    right = at(start, 0.0)[0]
    marks: list[Mark] = [
        polygon([(0.0, 0.0), *reversed(edge), (right, 0.0)], palette.SAND, Pen(0.35)),
        line(edge, Pen(0.6, palette.EMBER)),
    ]
    for angle in range(0, 361, 10):
        if start - 1e-6 <= angle <= end + 1e-6:
            quarter = angle % 90 == 0
            x = at(angle, 0.0)[0]
            upto = tall if quarter else 2.0
            pen = Pen(0.15, palette.STONE, (2.0, 1.5)) if quarter else Pen(0.15, palette.STONE)
            marks.append(line(((x, 0.0), (x, upto)), pen))
            if quarter:
                marks.append(Label(f"{angle}°", (x, -4.5), 3.0, palette.STONE))
    marks += _top_line(cope, start, end, at, tall)
    name = f"{shortened(cope.tube, 40)}, {cope.end} end onto {shortened(cope.onto, 40)}"
    fit = f"{cope.angle:.1f}°, axes {format_fine(cope.offset, units)} apart"
    if number != "1 of 1":
        fit = f"strip {number}; {fit}"
    size = min(size_to_fit(name, right - 6.0, 3.6, 600), 3.6)
    marks.append(Label(name, (3.0, 5.0), size, palette.INK, 600, "left"))
    small = min(size_to_fit(fit, right - 6.0, 3.0, 400), 3.0)
    marks.append(Label(fit, (3.0, 10.0), small, palette.STONE, 400, "left"))
    return tuple(marks)


def _deep(places: Sequence[tuple[float, float]], degrees: float) -> float:
    """Depth of the cut at an angle, between the places of the table."""
    for (a, low), (b, high) in pairwise(places):
        if a <= degrees <= b:
            return low + (high - low) * (degrees - a) / (b - a)
    return places[0][1]


def _top_line(
    cope: Cope,
    start: float,
    end: float,
    at: Callable[[float, float], tuple[float, float]],
    tall: float,
) -> list[Mark]:
    """Show where the line along the stick goes."""
    where = cope.line % 360.0
    if not start <= where <= end:
        return []
    x = at(where, 0.0)[0]
    tip = [(x, 4.5), (x - 1.8, 0.0), (x + 1.8, 0.0)]
    return [line(((x, 0.0), (x, tall - BEHIND / 2)), Pen(0.35)), polygon(tip, palette.INK)]
