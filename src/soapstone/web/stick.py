"""The straight stick as a ruler across the page, its marks tied to the bends in the room.

Places along the stick are per cent of the drawing's width and letters keep their size, so that one
drawing fits a desk and, made for a narrower page, a phone.
"""

from collections.abc import Callable
from html import escape
from typing import TypeAlias

from soapstone.plan.model import BendStep, Cut, TubePlan
from soapstone.sheets.spread import spread
from soapstone.sheets.stick import MM_IN, graduations
from soapstone.sheets.words import Numbers

At: TypeAlias = Callable[[float], str]
"""Place on the drawing, in per cent, of a place on the stick in mm."""

WIDE, NARROW = 1150.0, 350.0
"""Widths in pixels that a drawing is made for: the least that its letters have room on."""

TOP, BODY = 62, 34
"""Pixels above the ruler for what is written over it, and the ruler's height."""

ROW = 40
"""Pixels that every other number is raised by where all of them have no room beside each other."""

FINE, BOLD = 6, 52
"""Pixels between graduations at least, and between those with a number."""

SLANTS = (
    'width="7" height="7" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="7" height="7" fill="var(--sunk)"/>'
    '<rect width="2" height="7" fill="var(--dust)"/></pattern></defs>'
)
"""What is cut off is drawn with slanting lines."""

EDGE = 3.4
"""Per cent of the width left free at both ends."""


def hatch(width: float) -> str:
    """Give the slanting lines; a drawing that is hidden lends none, so each width has its own."""
    return f'<defs><pattern id="hatch{"" if width > 600 else "-narrow"}" {SLANTS}'


def stick_svg(plan: TubePlan, numbers: Numbers, width: float = WIDE, lit: int = 0) -> str:
    """Draw the stick of a tube for a page at least `width` pixels wide; bend `lit` stands out."""
    edge = EDGE if width > 600 else 7.5
    scale = (100 - 2 * edge) / plan.stock

    def at(mm: float) -> str:
        return f"{edge + mm * scale:.3f}%"

    flags, lift = _flags(plan, numbers, at, width, lit)
    parts = [
        hatch(width),
        _bar("metal", 0, plan.stock, at, plan.stock),
        *(_offcut(cut, plan, at) for cut in plan.cuts if cut.offcut > 0),
        *_ticks(plan, numbers, at, width * scale / 100),
        *flags,
        _end("A", at(0), -16),
        _end("B", at(plan.stock), 16),
    ]
    name = f"{plan.name}: the straight stick, {numbers.length(plan.stock_tape)}, with its marks"
    height = lift + TOP + BODY + 24
    return (
        f'<svg class="stick" height="{height}" role="group" aria-label="{escape(name)}">'
        f'<g transform="translate(0 {lift})">{"".join(parts)}</g></svg>'
    )


def _bar(kind: str, start: float, end: float, at: At, stock: float) -> str:
    low, high = max(start, 0.0), min(end, stock)
    left, right = float(at(low)[:-1]), float(at(high)[:-1])
    size = f'width="{right - left:.3f}%" height="{BODY}"'
    return f'<rect class="{kind}" x="{at(low)}" y="{TOP}" {size}/>'


def _offcut(cut: Cut, plan: TubePlan, at: At) -> str:
    start, end = sorted((cut.mark, 0.0 if cut.end == "A" else plan.stock))
    return _bar("offcut", start, end, at, plan.stock)


def _ticks(plan: TubePlan, numbers: Numbers, at: At, pixels_per_mm: float) -> list[str]:
    unit = MM_IN[numbers.units]
    foot = TOP + BODY
    parts = []
    apart = (FINE / pixels_per_mm, BOLD / pixels_per_mm)
    for value, named in graduations(plan.stock, numbers.units, *apart):
        x, high = at(value * unit), 14 if named else 7
        parts.append(f'<line class="tick" x1="{x}" x2="{x}" y1="{foot - high}" y2="{foot}"/>')
        if named:
            parts.append(f'<text class="scale" x="{x}" y="{foot + 17}">{value}</text>')
    return parts


def _flags(
    plan: TubePlan, numbers: Numbers, at: At, width: float, lit: int
) -> tuple[list[str], int]:
    """Write over every mark and cut what the tape must read there; give how high that goes too."""
    places: list[tuple[float, BendStep | Cut, str]] = [
        (bend.mark, bend, numbers.length(bend.stock_mark, unit=False)) for bend in plan.bends
    ]
    places += [
        (cut.mark, cut, numbers.length(cut.stock_mark, unit=False))
        for cut in plan.cuts
        if cut.offcut > 0
    ]
    places.sort(key=lambda place: place[0])
    here = [float(at(mm)[:-1]) * width / 100 for mm, _, _ in places]
    room = [max(9.5 * len(text), 30.0) + 10 for _, _, text in places]
    rows = 1 if sum(room) <= width else 2
    parts = []
    for row in range(rows):
        mine = room[row::rows]
        if sum(mine) > width:
            mine = [width / len(mine)] * len(mine)
        centres = spread(here[row::rows], mine, 0.0, width)
        for (_, what, text), centre in zip(places[row::rows], centres, strict=True):
            over = (centre / width * 100, TOP - row * ROW)
            parts.append(
                _bend(what, text, at, over, plan, lit == what.n)
                if isinstance(what, BendStep)
                else _cut(what, text, at, over)
            )
    return parts, (rows - 1) * ROW


def _bend(
    bend: BendStep, text: str, at: At, over: tuple[float, int], plan: TubePlan, lit: bool
) -> str:
    x, middle, foot = at(bend.mark), f"{over[0]:.3f}%", over[1]
    label = f"Bend {bend.n}, mark at {text}, {bend.angle:.1f} degrees"
    kind = "bend lit" if lit else "bend"
    return (
        f'<g class="{kind}" tabindex="0" role="button" data-tube="{escape(plan.name)}" '
        f'data-bend="{bend.n}" aria-label="{escape(label)}">'
        + _bar("arc", bend.arc_from, bend.arc_to, at, plan.stock)
        + f'<line class="mark" x1="{x}" x2="{x}" y1="{TOP}" y2="{TOP + BODY}"/>'
        f'<line class="lead" x1="{x}" x2="{middle}" y1="{TOP}" y2="{foot - 14}"/>'
        f'<text class="value" x="{middle}" y="{foot - 20}">{escape(text)}</text>'
        f'<circle class="disc" cx="{middle}" cy="{foot - 48}" r="12"/>'
        f'<text class="no" x="{middle}" y="{foot - 43}">{bend.n}</text></g>'
    )


def _cut(cut: Cut, text: str, at: At, over: tuple[float, int]) -> str:
    x, middle, foot = at(cut.mark), f"{over[0]:.3f}%", over[1]
    return (
        f'<line class="cut" x1="{x}" x2="{x}" y1="{TOP - 4}" y2="{TOP + BODY + 4}"/>'
        f'<line class="lead c" x1="{x}" x2="{middle}" y1="{TOP}" y2="{foot - 14}"/>'
        f'<text class="value" x="{middle}" y="{foot - 20}">{escape(text)}</text>'
        f'<text class="scale" x="{middle}" y="{foot - 43}">cut</text>'
    )


def _end(letter: str, x: str, shift: int) -> str:
    y = TOP + BODY / 2
    return (
        f'<g transform="translate({shift} 0)"><circle class="end" cx="{x}" cy="{y}" r="11"/>'
        f'<text x="{x}" y="{y + 5}">{letter}</text></g>'
    )
