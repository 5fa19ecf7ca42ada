"""A stick to be sawn as a ruler across the page: its pieces, where to saw, and what is left."""

from collections import Counter
from html import escape

from soapstone.flow.sawing import SawnStick, TubingCut
from soapstone.sheets.lettering import text_width
from soapstone.sheets.spread import spread
from soapstone.sheets.stick import MM_IN, graduations
from soapstone.sheets.words import Numbers
from soapstone.web.stick import BOLD, FINE, WIDE, At, hatch

TOP, BODY = 40, 40
"""Pixels above the ruler for what the tape reads, and the ruler's height."""


def sawn_svg(stick: SawnStick, cut: TubingCut, longest: float, width: float = WIDE) -> str:
    """Draw a stick on a page at least `width` pixels wide; the `longest` stick fills it."""
    edge = 2.0 if width > 600 else 5.0
    scale = (100 - 2 * edge) / longest
    numbers = Numbers(cut.units, cut.tape, 1.0)

    def at(mm: float) -> str:
        return f"{edge + mm * scale:.3f}%"

    left = [hatch(width)] if stick.offcut > 0 else []
    if stick.offcut > 0:
        left.append(_bar("offcut", stick.length - stick.offcut, stick.length, at))
    starts = _starts(stick, cut)
    pieces = [
        _piece(name, start, end, at, scale * width / 100)
        for (name, _), start, end in zip(stick.pieces, starts, stick.marks, strict=True)
    ]
    parts = [*left, *pieces, *_ticks(stick, cut, at, width * scale / 100)]
    parts += _flags(stick, numbers, at, width)
    said = f"A stick of {numbers.length(stick.length)}: {pieces_words(stick, numbers)}"
    return (
        f'<svg class="stick" height="{TOP + BODY + 24}" role="img" aria-label="{escape(said)}">'
        f"{''.join(parts)}</svg>"
    )


def pieces_words(stick: SawnStick, numbers: Numbers) -> str:
    """Say what a stick gives."""
    given = [
        f"{f'{times} × ' if times > 1 else ''}{name} {numbers.length(length)}"
        for (name, length), times in Counter(stick.pieces).items()
    ]
    return " · ".join([*given, f"left over {numbers.length(stick.offcut)}"])


def _starts(stick: SawnStick, cut: TubingCut) -> list[float]:
    kerf = cut.cut.asked.kerf if cut.cut else 0.0
    return [0.0, *(mark + kerf for mark in stick.marks[:-1])]


def _bar(kind: str, start: float, end: float, at: At) -> str:
    size = f'width="{float(at(end)[:-1]) - float(at(start)[:-1]):.3f}%" height="{BODY}"'
    return f'<rect class="{kind}" x="{at(start)}" y="{TOP}" {size}/>'


def _piece(name: str, start: float, end: float, at: At, pixels_per_mm: float) -> str:
    short = name
    room = (end - start) * pixels_per_mm - 14
    while short and text_width(short + "…", 15) > room:
        short = short[:-1]
    text = name if text_width(name, 15) <= room else (f"{short.strip()}…" if len(short) > 2 else "")
    middle = at((start + end) / 2)
    return (
        f"<g><title>{escape(name)}</title>{_bar('metal', start, end, at)}"
        f'<text class="on" x="{middle}" y="{TOP + 19}">{escape(text)}</text></g>'
    )


def _ticks(stick: SawnStick, cut: TubingCut, at: At, pixels_per_mm: float) -> list[str]:
    unit, foot = MM_IN[cut.units], TOP + BODY
    parts = []
    for value, named in graduations(
        stick.length, cut.units, FINE / pixels_per_mm, BOLD / pixels_per_mm
    ):
        x, high = at(value * unit), 12 if named else 6
        parts.append(f'<line class="tick" x1="{x}" x2="{x}" y1="{foot - high}" y2="{foot}"/>')
        if named:
            parts.append(f'<text class="scale" x="{x}" y="{foot + 17}">{value}</text>')
    return parts


def _flags(stick: SawnStick, numbers: Numbers, at: At, width: float) -> list[str]:
    """Write over every cut what the tape reads there."""
    cuts = [mark for mark in stick.marks if mark < stick.length - 1e-6]
    texts = [numbers.length(mark, unit=False) for mark in cuts]
    here = [float(at(mark)[:-1]) * width / 100 for mark in cuts]
    room = [max(9.5 * len(text), 30.0) + 10 for text in texts]
    if sum(room) > width:
        room = [width / len(room)] * len(room)
    centres = spread(here, room, 0.0, width)
    parts = []
    for mark, text, centre in zip(cuts, texts, centres, strict=True):
        x, middle = at(mark), f"{centre / width * 100:.3f}%"
        parts.append(
            f'<line class="mark" x1="{x}" x2="{x}" y1="{TOP - 2}" y2="{TOP + BODY}"/>'
            f'<line class="lead" x1="{x}" x2="{middle}" y1="{TOP}" y2="{TOP - 14}"/>'
            f'<text class="value" x="{middle}" y="{TOP - 20}">{escape(text)}</text>'
        )
    return parts
