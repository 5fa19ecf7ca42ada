"""Paper bands at 1:1 to wrap round a tube: a bend's line all round, and degrees of roll.

The band lies on the tail side of the mark, printed side out, the arrow toward the lead end. Its
upper edge is the bend's line, and its flap goes under its start. Degrees run clockwise seen from
the tail; 0 goes on a line drawn along the top of the stick when it is loaded for its first bend,
and the triangle shows what is on top for the band's own bend.
"""

import math
from dataclasses import dataclass

from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.lettering import CAP_HEIGHT, size_to_fit
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Sketch,
    arrow_head,
    line,
    polygon,
    rectangle,
)

HEIGHT = 29.0
"""Height of a band in mm."""

TAB = 9.0
"""Width of the flap that goes under the band's start, in mm."""

LAP = 8.0
"""How far one strip of a long band reaches under the next, in mm."""

ROOMY = 100.0
"""Mm round from which a band holds its own text; a narrower one has it on a tag."""

TAG = (18.0, 46.0)
"""Width round the tube, and length along it toward the tail, of that tag in mm."""

FEW = 60.0
"""Mm round below which a band has figures at the quarters alone."""

THINNEST = 10.0
"""OD in mm of the thinnest tube that a band with degrees is of use on."""


@dataclass(frozen=True, slots=True)
class Top:
    """What is on top: degrees on the band, whose it is, and whether its triangle is filled."""

    degrees: float
    name: str
    filled: bool


@dataclass(frozen=True, slots=True)
class Band:
    """One band: outside diameter in mm, lines of text, which end the arrow points to, the tops."""

    od: float
    title: str
    lines: tuple[str, ...]
    lead: str
    tops: tuple[Top, ...]

    @property
    def around(self) -> float:
        """Width of paper that goes once round, in mm; the paper's own thickness is left out."""
        return math.pi * self.od


def top_degrees(plan: TubePlan, place: int) -> float:
    """Which degree of the band is on top for the bend made at `place` (from 0), 0 to 360.

    The band of a bend that the other end leads lies the other way about on the same line, so its
    degrees run the other way. In a flat bender the lead end swings to the same side whichever end
    it is, and what was on top then comes below.
    """
    first, step = plan.bends[0], plan.bends[place]
    around = [math.fsum(plan.shape.rotations[: bend.n]) for bend in (first, step)]
    onward = around[1] - around[0]
    if step.lead != first.lead and plan.setup.plane == "horizontal":
        onward += 180.0
    return round(-onward if step.lead == "A" else onward, 6) % 360.0


def strips(band: Band, width: float) -> list[Sketch]:
    """Draw a band as one strip, or as several of one length when it is wider than `width`."""
    count = math.ceil(band.around / (width - TAB) - 1e-9)
    ends = [i / count * band.around for i in range(count + 1)]
    return [_strip(band, ends[i], ends[i + 1], (i + 1, count)) for i in range(count)]


def _strip(band: Band, start: float, end: float, number: tuple[int, int]) -> Sketch:
    """Draw the part of a band from `start` to `end` mm round, with its flap or lap."""
    right = end - start
    first, last = number[0] == 1, number[0] == number[1]
    more = TAB if last else LAP
    marks: list[Mark] = [rectangle(Box(right, 0.0, right + more, HEIGHT), palette.HAZE)]
    marks += _ticks(band, start, end, last=last)
    marks += _edges(right, more, first=first, last=last, tag=_tag_sides(band))
    marks += _tops(band, start, end)
    marks += _die_arrow(band, right / 2, 2.0)
    said = "flap goes under 0" if last else "goes under the next strip"
    marks.append(_on_end(said, right + more / 2, HEIGHT / 2, 2.5))
    if _tag_sides(band) is None:
        marks += _inner_text(band, right, number)
    else:
        marks += _tag_text(band)
    return tuple(marks)


def _tag_sides(band: Band) -> tuple[float, float] | None:
    """Give where the tag of a band without room for text begins and ends, in its middle."""
    if band.around >= ROOMY:
        return None
    half = min(TAG[0], band.around) / 2
    return (band.around / 2 - half, band.around / 2 + half)


def _edges(
    right: float, more: float, *, first: bool, last: bool, tag: tuple[float, float] | None
) -> Sketch:
    """Draw the bend's line on top, cutting lines elsewhere, and the lines that meet."""
    cutting = Pen(0.15, palette.STONE, (1.5, 1.0))
    meeting = Pen(0.3, palette.INK)
    whole = right + more
    low: list[tuple[float, float]] = []
    if tag is not None:
        low = [(tag[1], 0), (tag[1], -TAG[1]), (tag[0], -TAG[1]), (tag[0], 0)]
    return (
        line(((0, HEIGHT), (right, HEIGHT)), Pen(0.6, palette.EMBER)),
        line(((right, HEIGHT), (whole, HEIGHT), (whole, 0), *low, (0, 0)), cutting),
        line(((0, 0), (0, HEIGHT)), meeting if first else Pen(0.3, palette.INK, (1.2, 0.8))),
        line(((right, 0), (right, HEIGHT)), meeting if last else Pen(0.3, dash=(1.2, 0.8))),
    )


def _ticks(band: Band, start: float, end: float, *, last: bool) -> Sketch:
    """Ticks each 10 degrees from the bend's line down, and as many figures as find room."""
    every, size = _figures(band)
    gap = 0.35 if band.around / 36 < 4.5 else 0.7
    marks: list[Mark] = []
    for degree in range(0, 360 + 10 * last, 10):
        x = degree / 360 * band.around - start
        if not -1e-6 <= x <= end - start + 1e-6 or (x >= end - start - 1e-6 and not last):
            continue
        long = degree % 30 == 0
        pen = Pen(0.3 if long else 0.18)
        marks.append(line(((x, HEIGHT), (x, HEIGHT - (4.6 if long else 3.0))), pen))
        if degree % every == 0 and degree < 360:
            marks.append(_figure(degree, x, end - start, size, gap))
    return tuple(marks)


def _figures(band: Band) -> tuple[int, float]:
    """Give every how many degrees a band has a figure, and how large: thin ones few but legible."""
    pitch = band.around / 36
    every = 10 if pitch >= 3.0 else 20 if band.around >= FEW else 90
    return every, min(2.9, pitch * every / 10 * 0.8)


def _figure(degree: int, x: float, right: float, size: float, gap: float) -> Label:
    """Write a tick's degrees on end under it, on the strip even where the tick is at its edge."""
    cap = CAP_HEIGHT * size
    shift = min(max(x + cap / 2, cap + gap), right - gap) - x
    weight = 600 if degree % 30 == 0 else 400
    return Label(f"{degree}", (x + shift, HEIGHT - 5.2), size, palette.INK, weight, "right", 90)


def _tops(band: Band, start: float, end: float) -> Sketch:
    """Draw a triangle where the tube's top is; filled for the first hand, open for the second.

    One at a strip's edge has its other half at the edge that meets it.
    """
    marks: list[Mark] = []
    right = end - start
    tip, low = HEIGHT - 12.4, HEIGHT - 15.8
    for top in band.tops:
        fill = palette.EMBER if top.filled else palette.PAPER
        for turn in (0.0, band.around):
            x = top.degrees / 360 * band.around + turn - start
            if not -1e-6 <= x <= right + 1e-6:
                continue
            corners = ((x, tip), (min(x + 1.9, right), low), (max(x - 1.9, 0.0), low))
            marks.append(polygon(corners, fill, Pen(0.35, palette.EMBER)))
    return tuple(marks)


def _inner_text(band: Band, right: float, number: tuple[int, int]) -> Sketch:
    """Write what the strip is left of its arrow, and whose it is to the right."""
    title = [band.title]
    if number[1] > 1:
        title.append(f"strip {number[0]} of {number[1]}")
    marks: list[Mark] = []
    for texts, left in ((title, 3.0), (list(band.lines), right / 2 + 4.0)):
        for i, text in enumerate(texts):
            weight = 700 if text is band.title else 500
            size = size_to_fit(text, right / 2 - 8.0, 3.6 if weight == 700 else 2.8, weight)
            marks.append(Label(text, (left, 7.6 - 4.4 * i), size, palette.INK, weight, "left"))
    return tuple(marks)


def _tag_text(band: Band) -> Sketch:
    """Write what a thin band is on its tag, along the tube."""
    sides = _tag_sides(band)
    if sides is None:
        return ()
    texts = (band.title, *band.lines)
    pitch = (sides[1] - sides[0]) / (len(texts) + 0.4)
    marks: list[Mark] = []
    for i, text in enumerate(texts):
        weight = 700 if i == 0 else 500
        size = size_to_fit(text, TAG[1] - 4.0, min(3.4, 0.8 * pitch), weight)
        at = (sides[0] + (i + 0.95) * pitch, 2.0 - TAG[1])
        marks.append(Label(text, at, size, palette.INK, weight, "left", 90))
    return tuple(marks)


def _die_arrow(band: Band, x: float, y: float) -> Sketch:
    """Draw an arrow that points to the lead end, its letter beside the shaft."""
    return (
        line(((x, y), (x, y + 6.0)), Pen(0.5)),
        arrow_head((x, y + 8.0), 90, 3.0, palette.INK),
        Label(band.lead, (x - 1.0, y + 1.2), 3.0, palette.INK, 700, "right"),
    )


def _on_end(text: str, x: float, y: float, size: float) -> Label:
    return Label(text, (x + CAP_HEIGHT * size / 2, y), size, palette.STONE, turn=90)


def check_line(length: float, text: str, *, upright: bool = False) -> Sketch:
    """Draw a line of exactly `length` mm, the outer edges of its end ticks included."""
    pen, half = Pen(0.3), 0.15
    size = 3.4
    if upright:
        return (
            line(((0, 0), (0, length)), pen),
            line(((-1.6, half), (1.6, half)), pen),
            line(((-1.6, length - half), (1.6, length - half)), pen),
            Label(text, (-2.2, length / 2), size, palette.INK, 500, turn=90),
        )
    return (
        line(((0, 0), (length, 0)), pen),
        line(((half, -1.6), (half, 1.6)), pen),
        line(((length - half, -1.6), (length - half, 1.6)), pen),
        Label(text, (length / 2, 2.0), size, palette.INK, 500),
    )
