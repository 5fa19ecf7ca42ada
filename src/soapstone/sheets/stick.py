"""The straight stick as a ruler: its marks, the metal each bend uses, and what is cut off.

It is drawn along its whole length to scale; its height on the page is no measure.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from soapstone.plan.model import BendStep, TubePlan
from soapstone.sheets import palette
from soapstone.sheets.lettering import CAP_HEIGHT, text_width
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Sketch,
    arrow_head,
    bounds,
    circle,
    line,
    rectangle,
)
from soapstone.sheets.spread import spread
from soapstone.sheets.words import Numbers

MARGIN = 9.0
"""Page mm left free at both ends of the stick for the tags of its ends."""

MM_IN = {"mm": 1.0, "in": 25.4}

SIZES = {
    "mm": (10, 20, 50, 100, 200, 500, 1000, 2000, 5000),
    "in": (1, 2, 6, 12, 24, 48, 96),
}
"""How far apart a ruler's graduations may be, in its units."""

BODY = 11.0
"""Height of the ruler on the page in mm."""

STRIP_HEIGHT = 12.6
"""Height of the small stick on the page in mm, its numbers included."""


@dataclass(frozen=True, slots=True)
class _Flag:
    """What is written over one place of the stick: a bend's mark or a cut."""

    at: float
    title: str
    value: str
    colour: str
    bend: bool


def stick_ruler(plan: TubePlan, numbers: Numbers, width: float) -> Sketch:
    """Draw the stick with graduations, marks, cuts and lengths, `width` mm wide."""
    scale = _scale(plan, width)
    flags = sorted(_flags(plan, numbers), key=lambda f: f.at)
    marks: list[Mark] = [*_body(plan, scale), *_graduations(plan, numbers, scale)]
    marks += _marks_on(plan, scale)
    marks += _flag_labels(flags, scale, width)
    marks += _end_tags(plan, scale)
    marks += _overall(plan, numbers, scale)
    return tuple(marks)


def stick_strip(plan: TubePlan, width: float, now: int) -> Sketch:
    """Draw the stick small, with bend `now` in the accent and the bends made before it filled."""
    scale = _scale(plan, width)
    top, bottom = 5.0, 0.0
    marks: list[Mark] = []
    order = [b.n for b in plan.bends]
    made = set(order[: order.index(now)])
    box = Box(MARGIN, bottom, MARGIN + plan.stock * scale, top)
    marks.append(rectangle(box, palette.PAPER))
    for cut in _offcut_boxes(plan, scale, bottom, top):
        marks += hatched(cut)
    for bend in plan.bends:
        fill = palette.EMBER if bend.n == now else palette.STONE if bend.n in made else palette.MIST
        marks.append(rectangle(_arc_box(bend, scale, bottom, top), fill))
    marks.append(rectangle(box, pen=Pen(0.35)))
    places = sorted(((MARGIN + b.mark * scale, b) for b in plan.bends), key=lambda p: p[0])
    centres = spread([x for x, _ in places], [5.6] * len(places), 0.0, width)
    for (x, bend), centre in zip(places, centres, strict=True):
        here = bend.n == now
        colour = palette.EMBER if here else palette.STONE
        marks.append(line(((x, top), (x, top + 1.2), (centre, top + 2.4)), Pen(0.3, colour)))
        marks += _numbered(bend.n, centre, top + 4.8, colour, filled=here)
    return (*marks, *_tag("A", MARGIN - 4.5, 2.5), *_tag("B", box.right + 4.5, 2.5))


def _scale(plan: TubePlan, width: float) -> float:
    return (width - 2 * MARGIN) / plan.stock


def _flags(plan: TubePlan, numbers: Numbers) -> list[_Flag]:
    flags = [
        _Flag(b.mark, str(b.n), numbers.length(b.stock_mark, unit=False), palette.EMBER, bend=True)
        for b in plan.bends
    ]
    flags += [
        _Flag(c.mark, "cut", numbers.length(c.stock_mark, unit=False), palette.INK, bend=False)
        for c in plan.cuts
        if c.offcut > 0
    ]
    return flags


def _arc_box(bend: BendStep, scale: float, bottom: float, top: float) -> Box:
    return Box(MARGIN + bend.arc_from * scale, bottom, MARGIN + bend.arc_to * scale, top)


def _offcut_boxes(plan: TubePlan, scale: float, bottom: float, top: float) -> list[Box]:
    """Boxes of the stick that are cut off after bending."""
    boxes = []
    for cut in plan.cuts:
        if cut.offcut > 0:
            edges = sorted((cut.mark, 0.0 if cut.end == "A" else plan.stock))
            boxes.append(Box(MARGIN + edges[0] * scale, bottom, MARGIN + edges[1] * scale, top))
    return boxes


def hatched(box: Box) -> Sketch:
    """Fill a box with slanting lines."""
    pen, step = Pen(0.18, palette.STONE), 1.6
    marks: list[Mark] = [rectangle(box, palette.HAZE)]
    start = box.left - box.height
    for i in range(math.ceil((box.right - start) / step)):
        x = start + i * step
        low, high = max(x, box.left), min(x + box.height, box.right)
        if high > low:
            marks.append(line(((low, box.bottom + low - x), (high, box.bottom + high - x)), pen))
    return tuple(marks)


def _body(plan: TubePlan, scale: float) -> Sketch:
    box = Box(MARGIN, 0.0, MARGIN + plan.stock * scale, BODY)
    marks: list[Mark] = [rectangle(box, palette.PAPER)]
    marks += [rectangle(_arc_box(b, scale, 0.0, BODY), palette.CLAY) for b in plan.bends]
    for cut in _offcut_boxes(plan, scale, 0.0, BODY):
        marks += hatched(cut)
    return (*marks, rectangle(box, pen=Pen(0.45)))


def graduations(stock: float, units: str, fine: float, bold: float) -> Iterator[tuple[int, bool]]:
    """Give a ruler's graduations over the stock, in its units, and whether each has a number.

    They are at least `fine` mm apart, and those with a number `bold` mm.
    """
    unit, sizes = MM_IN[units], SIZES[units]
    small = next((s for s in sizes if s * unit >= fine), sizes[-1])
    large = next((s for s in sizes if s >= 2 * small and s * unit >= bold), sizes[-1])
    for i in range(math.floor(stock / (small * unit) + 1e-9) + 1):
        yield i * small, i * small % large == 0


def _graduations(plan: TubePlan, numbers: Numbers, scale: float) -> Sketch:
    """Ticks from the lower edge, and numbers under it that keep apart."""
    unit = MM_IN[numbers.units]
    widest = text_width(f"{round(plan.stock / unit)}", 2.9) + 3.0
    marks: list[Mark] = []
    for value, named in graduations(plan.stock, numbers.units, 1.4 / scale, widest / scale):
        x = MARGIN + value * unit * scale
        marks.append(line(((x, 0), (x, 4.2 if named else 2.0)), Pen(0.25 if named else 0.15)))
        if named:
            marks.append(Label(f"{value}", (x, -3.3), 2.9, palette.STONE))
    return tuple(marks)


def _marks_on(plan: TubePlan, scale: float) -> Sketch:
    """Lines across the stick: marks whole, cuts dashed."""
    marks: list[Mark] = [
        line(
            ((MARGIN + b.mark * scale, 0), (MARGIN + b.mark * scale, BODY)), Pen(0.7, palette.EMBER)
        )
        for b in plan.bends
    ]
    for cut in plan.cuts:
        if cut.offcut > 0:
            x = MARGIN + cut.mark * scale
            marks.append(line(((x, -0.8), (x, BODY + 0.8)), Pen(0.5, dash=(1.6, 0.8))))
    return tuple(marks)


def _flag_labels(flags: list[_Flag], scale: float, width: float) -> Sketch:
    """Write the flags over the stick, upright when they find room and on end when not."""
    size = 4.6
    widths = [max(text_width(f.value, size, 600), 6.0) + 2.4 for f in flags]
    level = sum(widths) <= width
    if not level:
        widths = [min(6.2, width / len(flags))] * len(flags)
        size = min(4.0, widths[0] * 0.75)
    centres = spread([MARGIN + f.at * scale for f in flags], widths, 0.0, width)
    marks: list[Mark] = []
    for flag, centre in zip(flags, centres, strict=True):
        x, pen = MARGIN + flag.at * scale, Pen(0.3, flag.colour)
        marks.append(line(((x, BODY), (x, BODY + 1.5), (centre, BODY + 5.0)), pen))
        marks += _flag(flag, centre, size, level=level)
    return tuple(marks)


def _flag(flag: _Flag, x: float, size: float, *, level: bool) -> Sketch:
    base = BODY + 6.0
    if level:
        value = Label(flag.value, (x, base), size, flag.colour, 600)
        top = base + CAP_HEIGHT * size + 4.0
    else:
        value = Label(
            flag.value, (x + CAP_HEIGHT * size / 2, base), size, flag.colour, 600, "left", 90
        )
        top = base + text_width(flag.value, size, 600) + 3.6
    if flag.bend:
        return (value, *_numbered(int(flag.title), x, top, flag.colour, filled=True))
    return (value, Label(flag.title, (x, top - 1.0), 3.0, flag.colour, 500))


def _numbered(
    n: int, x: float, y: float, colour: str, *, filled: bool, radius: float = 2.5
) -> Sketch:
    """Draw a bend's number in a disc."""
    disc = circle((x, y), radius, colour if filled else palette.PAPER, Pen(0.3, colour))
    ink = palette.PAPER if filled else colour
    size = 1.42 * radius if n < 10 else 1.1 * radius
    return (disc, Label(str(n), (x, y - CAP_HEIGHT * size / 2), size, ink, 700))


def _tag(letter: str, x: float, y: float) -> Sketch:
    """Draw the letter of a tube's end in a ring."""
    size = 3.4
    ring = circle((x, y), 2.6, palette.PAPER, Pen(0.35))
    return (ring, Label(letter, (x, y - CAP_HEIGHT * size / 2), size, palette.INK, 600))


def _end_tags(plan: TubePlan, scale: float) -> Sketch:
    """Tag the stick's ends, and point at the one that goes through the die first."""
    right = MARGIN + plan.stock * scale
    marks: list[Mark] = [
        *_tag("A", MARGIN - 4.5, BODY / 2),
        *_tag("B", right + 4.5, BODY / 2),
    ]
    return tuple(marks)


def _overall(plan: TubePlan, numbers: Numbers, scale: float) -> Sketch:
    """Draw the length to cut the stick to, under it, as a dimension line."""
    y, left, right = -8.6, MARGIN, MARGIN + plan.stock * scale
    text = f"cut the stick to {numbers.length(plan.stock_tape)}"
    half = text_width(text, 4.0, 600) / 2 + 2.0
    middle = (left + right) / 2
    pen = Pen(0.25, palette.STONE)
    marks: list[Mark] = [
        line(((left, y - 1.6), (left, y + 1.6)), pen),
        line(((right, y - 1.6), (right, y + 1.6)), pen),
        line(((left, y), (middle - half, y)), pen),
        line(((middle + half, y), (right, y)), pen),
        arrow_head((left, y), 180, 2.0, palette.STONE),
        arrow_head((right, y), 0, 2.0, palette.STONE),
        Label(text, (middle, y - CAP_HEIGHT * 2.0), 4.0, palette.INK, 600),
    ]
    return tuple(marks)


def stick_box(ruler: Sketch, width: float) -> Box:
    """Give the rectangle that holds a ruler, of full width."""
    box = bounds(ruler)
    return Box(0.0, box.bottom - 0.5, width, box.top + 0.5)
