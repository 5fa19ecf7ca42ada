"""Paper bands at 1:1 to wrap round a tube: a bend's line all round, and degrees of roll.

The band lies on the tail side of the mark, printed side out, the arrow toward the die. Its upper
edge is the bend's line. Degrees run clockwise seen from the tail; 0 goes on a line drawn along the
top of the stick when it is loaded for its first bend, and the arrow head shows what is on top for
the band's own bend.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.lettering import CAP_HEIGHT, size_to_fit, text_width
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
"""Width of the flap that is taped over the band's start, in mm."""

LAP = 8.0
"""How far one strip of a long band reaches under the next, in mm."""

ROOMY = 74.0
"""Width in mm from which a band holds its own text; a narrower one has it on a longer flap."""

SIGN = 46.0
"""Width in mm of that longer flap."""


@dataclass(frozen=True, slots=True)
class Top:
    """What is on top: degrees on the band, whose it is, and whether its head is filled."""

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

    Rolling clockwise by r brings up what lay r anticlockwise of the top.
    """
    rolled = sum(step.roll for step in plan.bends[: place + 1])
    return round(-rolled, 6) % 360.0


def strips(band: Band, width: float) -> list[Sketch]:
    """Draw a band as one strip, or as several that follow each other when wider than `width`."""
    tail = _flap(band)
    if band.around + tail <= width:
        return [_strip(band, 0.0, band.around, first=True, last=True)]
    step = width - LAP
    count = math.ceil((band.around + tail - LAP) / step)
    sketches = []
    for i in range(count):
        start, end = i * step, min((i + 1) * step, band.around)
        if start >= band.around:
            break
        last = end >= band.around and end - start + tail <= width
        sketches.append(_strip(band, start, end, first=i == 0, last=last))
        if end >= band.around and not last:
            sketches.append(_strip(band, end, end, first=False, last=True))
    return sketches


def _flap(band: Band) -> float:
    return TAB if band.around >= ROOMY else SIGN


def _strip(band: Band, start: float, end: float, *, first: bool, last: bool) -> Sketch:
    """Draw the part of a band from `start` to `end` mm round, with its flap or lap."""
    right = end - start
    more = _flap(band) if last else LAP
    marks: list[Mark] = [rectangle(Box(right, 0.0, right + more, HEIGHT), palette.HAZE)]
    marks += _ticks(band, start, end, last=last)
    marks += _edges(right, more, first=first, last=last)
    marks += _tops(band, start, end, last=last)
    if band.around >= ROOMY and first:
        marks += _inner_text(band, right)
    if band.around >= ROOMY and last:
        marks.append(_on_end("tape over 0", right + more / 2, HEIGHT / 2, 2.6))
    if band.around < ROOMY:
        marks += _flap_text(band, right, more)
    if not last:
        marks.append(_on_end("goes under the next strip", right + more / 2, HEIGHT / 2, 2.3))
    return tuple(marks)


def _edges(right: float, more: float, *, first: bool, last: bool) -> Sketch:
    """Draw the bend's line on top, cutting lines elsewhere, and the lines that meet."""
    cutting = Pen(0.15, palette.STONE, (1.5, 1.0))
    meeting = Pen(0.3, palette.INK)
    whole = right + more
    return (
        line(((0, HEIGHT), (right, HEIGHT)), Pen(0.6, palette.EMBER)),
        line(((right, HEIGHT), (whole, HEIGHT), (whole, 0), (0, 0)), cutting),
        line(((0, 0), (0, HEIGHT)), meeting if first else Pen(0.3, palette.INK, (1.2, 0.8))),
        line(((right, 0), (right, HEIGHT)), meeting if last else Pen(0.3, dash=(1.2, 0.8))),
    )


def _ticks(band: Band, start: float, end: float, *, last: bool) -> Sketch:
    """Ticks each 10 degrees from the bend's line down, and as many figures as find room."""
    pitch = band.around / 36
    every = 10 if pitch >= 2.5 else 20 if pitch >= 1.25 else 30
    size = min(2.8, pitch * every / 10 * 0.8)
    marks: list[Mark] = []
    for degree in range(0, 360 + 10 * last, 10):
        x = degree / 360 * band.around - start
        if not -1e-6 <= x <= end - start + 1e-6 or (x >= end - start - 1e-6 and not last):
            continue
        long = degree % 30 == 0
        pen = Pen(0.3 if long else 0.18)
        marks.append(line(((x, HEIGHT), (x, HEIGHT - (4.6 if long else 3.0))), pen))
        closing = degree == 360 or x > end - start - size
        if degree % every == 0 and not closing:
            shift = CAP_HEIGHT * size / 2 if x > size else CAP_HEIGHT * size + 0.35
            at = (x + shift, HEIGHT - 5.2)
            marks.append(
                Label(f"{degree}", at, size, palette.INK, 600 if long else 400, "right", 90)
            )
    return tuple(marks)


def _tops(band: Band, start: float, end: float, *, last: bool) -> Sketch:
    """Draw a head where the tube's top is; filled for the first hand, open for the second."""
    marks: list[Mark] = []
    for top in band.tops:
        x = top.degrees / 360 * band.around - start
        if not -1e-6 <= x < end - start - 1e-6:
            continue
        fill = palette.EMBER if top.filled else palette.PAPER
        pen = Pen(0.35, palette.EMBER)
        tip, low = HEIGHT - 11.4, HEIGHT - 14.8
        left, right = (0.0 if x < 0.1 else -1.7), 1.7
        marks.append(polygon(((x, tip), (x + right, low), (x + left, low)), fill, pen))
        if x < 0.1 and last:
            x = end - start
            marks.append(polygon(((x, tip), (x, low), (x - right, low)), fill, pen))
    return tuple(marks)


def _inner_text(band: Band, right: float) -> Sketch:
    """Write what the band is for along its lower part, and point its arrow at the die."""
    room = right - 11.0
    marks: list[Mark] = [*_die_arrow(band, 5.0, 2.0)]
    y = 9.6
    for i, text in enumerate((band.title, *band.lines)):
        weight = 700 if i == 0 else 400
        size = size_to_fit(text, room, 3.6 if i == 0 else 2.7, weight)
        marks.append(Label(text, (9.5, y), size, palette.INK, weight, "left"))
        y -= 3.6
    return tuple(marks)


def _flap_text(band: Band, right: float, more: float) -> Sketch:
    """Write what the band is for on its flap."""
    marks: list[Mark] = [*_die_arrow(band, right + 5.0, 5.0)]
    y = HEIGHT - 6.0
    for i, text in enumerate((band.title, *band.lines, "tape this flap over 0")):
        weight = 700 if i == 0 else 400
        size = size_to_fit(text, more - 12.0, 3.4 if i == 0 else 2.6, weight)
        marks.append(Label(text, (right + 10.0, y), size, palette.INK, weight, "left"))
        y -= 4.6
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


def fits_on_band(texts: Sequence[str], od: float) -> bool:
    """Tell whether lines of text can be read on a band for this diameter."""
    room = math.pi * od - 11.0 if math.pi * od >= ROOMY else SIGN - 12.0
    return all(text_width(text, 1.8) <= room for text in texts)
