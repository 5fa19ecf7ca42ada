"""Pages that show how sticks are cut: each stick a ruler with its cuts."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from soapstone.quantities import format_length, usual_tape
from soapstone.sheets import palette
from soapstone.sheets.contents import CutStick, Paper
from soapstone.sheets.figures import Figure, figure_page
from soapstone.sheets.lettering import text_width
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Sketch, line, rectangle
from soapstone.sheets.spread import spread
from soapstone.sheets.stick import MM_IN, graduations, hatched
from soapstone.sheets.typesetting import to_pdf
from soapstone.sheets.words import NO_BREAK, plain, shortened

WIDTH = 186.0
BODY = 9.0
"""Page mm of the page's width, and of the ruler's height."""

WORDS = (
    "Lay the tape along the whole stick and leave it there: all marks are measured from its left "
    "end, so that errors do not add up. Saw on the waste side of each mark; the saw's own width "
    "is allowed for. Mark each piece with its name before it leaves the bench."
)


def cut_page(sticks: Sequence[CutStick], units: str) -> dict[str, Any]:
    """Give the data of the pages of cuts; each stick is drawn as wide as the page."""
    figures = [Figure(_head(one, units), stick_drawing(one, units)) for one in sticks]
    return figure_page("Cuts", "what to saw from which stick", WORDS, figures, "cuts")


def cuts_pdf(sticks: Sequence[CutStick], units: str, paper: Paper, date: str) -> bytes:
    """Print pages of cuts alone."""
    return to_pdf(
        {
            "job": "cuts",
            "paper": paper,
            "units": units,
            "notice": shortened(date, 40),
            "pages": [cut_page(sticks, units)],
        }
    )


def _head(one: CutStick, units: str) -> str:
    parts = [f"{one.times} × {_said(one.length, units)}", one.tubing, one.source]
    cut = Counter(one.pieces)
    parts += [f"{n} × {shortened(name, 40)} {_said(at, units)}" for (name, at), n in cut.items()]
    return "  ·  ".join(plain(part) for part in parts if part)


def _said(length: float, units: str) -> str:
    return format_length(length, units, usual_tape(units)).replace(" ", NO_BREAK)


def stick_drawing(one: CutStick, units: str) -> Sketch:
    """Draw a stick with its pieces, where to mark each cut, and what is left over."""
    scale = WIDTH / one.length
    marks: list[Mark] = [rectangle(Box(0, 0, WIDTH, BODY), palette.PAPER)]
    at, cuts = 0.0, []
    for n, (name, length) in enumerate(one.pieces):
        left, right = at * scale, (at + length) * scale
        body = palette.CLAY if n % 2 else palette.MIST
        marks.append(rectangle(Box(left, 0, right, BODY), body))
        marks += _named(name, length, units, left, right)
        at += length
        if at < one.length - 1e-6:
            cuts.append(at)
        at = min(at + one.kerf, one.length)
    if at < one.length:
        marks += hatched(Box(at * scale, 0, WIDTH, BODY))
        marks += _left_over(one.length - at, units, at * scale)
    marks.append(rectangle(Box(0, 0, WIDTH, BODY), pen=Pen(0.45)))
    marks += _ticks(one.length, units, scale)
    return (*marks, *_cuts(cuts, units, scale))


def _named(name: str, length: float, units: str, left: float, right: float) -> list[Mark]:
    """Write a piece's name and length in it, as far as there is room."""
    room, middle = right - left - 1.5, (left + right) / 2
    words = shortened(name, 60)
    while len(words) > 1 and text_width(words, 3.2, 600) > room:
        words = shortened(words, len(words) - 1)
    marks: list[Mark] = []
    if words != "…":
        marks.append(Label(words, (middle, 5.2), 3.2, palette.INK, 600))
    size = _said(length, units)
    if text_width(size, 2.8) <= room:
        marks.append(Label(size, (middle, 1.6), 2.8, palette.INK))
    return marks


def _left_over(length: float, units: str, left: float) -> list[Mark]:
    words = f"left {_said(length, units)}"
    wide = text_width(words, 2.8, 600) + 2.0
    if wide > WIDTH - left:
        return []
    middle = (left + WIDTH) / 2
    ground = Box(middle - wide / 2, 2.4, middle + wide / 2, 6.6)
    return [rectangle(ground, palette.PAPER), Label(words, (middle, 3.4), 2.8, palette.STONE, 600)]


def _ticks(length: float, units: str, scale: float) -> list[Mark]:
    widest = text_width(f"{round(length / MM_IN[units])}", 2.4) + 3.0
    marks: list[Mark] = []
    for value, named in graduations(length, units, 1.4 / scale, widest / scale):
        x = value * MM_IN[units] * scale
        marks.append(line(((x, 0), (x, -2.0 if named else -1.0)), Pen(0.2, palette.STONE)))
        if named:
            marks.append(Label(f"{value}", (x, -4.6), 2.4, palette.STONE))
    return marks


def _cuts(cuts: Sequence[float], units: str, scale: float) -> list[Mark]:
    """A line across the stick at each cut, and over it where to mark it."""
    said = [_said(at, units) for at in cuts]
    widths = [text_width(words, 3.2, 700) + 2.0 for words in said]
    flat = sum(widths) <= WIDTH
    if not flat:
        widths = [WIDTH / len(cuts)] * len(cuts)
    centres = spread([at * scale for at in cuts], widths, 0.0, WIDTH)
    marks: list[Mark] = []
    for at, words, x in zip(cuts, said, centres, strict=True):
        place = at * scale
        marks.append(line(((place, -0.6), (place, BODY + 0.8)), Pen(0.6, palette.EMBER)))
        marks.append(line(((place, BODY + 0.8), (x, BODY + 2.6)), Pen(0.25, palette.EMBER)))
        if flat:
            marks.append(Label(words, (x, BODY + 3.4), 3.2, palette.EMBER, 700))
        else:
            size = min(2.8, widths[0])
            marks.append(
                Label(words, (x + size / 3, BODY + 3.4), size, palette.EMBER, 700, "left", 90)
            )
    return marks
