"""Pages of wrap bands, one band for each bend."""

from collections.abc import Sequence
from typing import Any

from soapstone.sheets.contents import PackContents
from soapstone.sheets.hands import Hands
from soapstone.sheets.sketch import Box, bounds
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.words import breakable, shortened
from soapstone.sheets.wrap_band import HEIGHT, THINNEST, Band, Top, check_line, strips, top_degrees

BAND_WIDTH = 170.0
"""What a strip may measure, in mm: the check line stands beside it."""

BESIDE = 6.0
"""Gap in mm between narrow bands side by side."""

CHECKS = {"mm": (100.0, "100 mm"), "in": (101.6, "4 in")}
"""Length of the check lines in mm, and in words."""


def words(check: str) -> str:
    """Say how to use the bands."""
    return (
        f"Measure both check lines first: each must be {check}. If not, print again at 100 %, not "
        "fitted to the page. Draw one straight line along the top of the stick as it is loaded "
        "for its first bend. Wrap a band round the stick with its upper edge on the bend's mark, "
        "its arrow toward the end it names, 0 on that line and its flap under the 0 edge; trace "
        "the upper edge all round. Tick the tube at the triangle, just on the lead side of the "
        "traced line, and write the bend's number beside it; at the die turn that tick to the top. "
        "Take the band off before bending."
    )


def band_page(contents: PackContents, pairs: Sequence[Hands]) -> dict[str, Any]:
    """Give the data of the band pages."""
    thick = [hands for hands in pairs if hands.first.setup.od >= THINNEST]
    bands = [
        [_strip_data(strip) for strip in strips(_band(contents, hands, place), BAND_WIDTH)]
        for hands in thick
        for place in range(len(hands.first.bends))
    ]
    length, said = CHECKS[contents.units]
    level = check_line(length, said)
    upright = check_line(length, said, upright=True)
    return {
        "kind": "bands",
        "words": words(said) if thick else "",
        "without": _without([hands for hands in pairs if hands not in thick], contents.units),
        "line": to_data(level, bounds(level).grown(0.5)),
        "upright": to_data(upright, bounds(upright).grown(0.5)),
        "rows": _rows(bands),
        "foot": f"{shortened(contents.job, 60)}  ·  print at 100 %",
    }


def _without(thin: Sequence[Hands], units: str) -> str:
    """Say which tubes are too thin for a band, and what to do instead."""
    if not thin:
        return ""
    names = ", ".join(shortened(plan.name, 40) for hands in thin for plan in hands.plans)
    least = f"{THINNEST:g} mm" if units == "mm" else "0.4 in"
    return breakable(
        f"No bands for {names}: under {least} of outside diameter degrees on paper cannot be read. "
        "Where the sheet or a card says wrap band, clamp a straight piece to the tail and set the "
        "roll with a protractor."
    )


def _rows(bands: list[list[dict[str, Any]]]) -> list[list[list[dict[str, Any]]]]:
    """Put narrow bands side by side."""
    rows: list[list[list[dict[str, Any]]]] = []
    used = 0.0
    for band in bands:
        wide = max(strip["w"] for strip in band) + BESIDE
        if rows and used + wide <= BAND_WIDTH + BESIDE:
            rows[-1].append(band)
            used += wide
        else:
            rows.append([band])
            used = wide
    return rows


def _strip_data(strip: Any) -> dict[str, Any]:
    box = bounds(strip)
    low = min(box.bottom, 0.0) - 0.2
    return to_data(strip, Box(-0.2, low, max(box.right, 1.0) + 0.2, HEIGHT + 0.4))


def _band(contents: PackContents, hands: Hands, place: int) -> Band:
    step = hands.first.bends[place]
    mark = contents.numbers.length(step.stock_mark)
    names = [shortened(plan.name, 40) for plan in hands.plans]
    tops = tuple(
        Top(top_degrees(plan, place), name, filled=i == 0)
        for i, (plan, name) in enumerate(zip(hands.plans, names, strict=True))
    )
    if hands.second is None:
        lines = (names[0], f"triangle: on top for bend {step.n}")
    elif abs(tops[0].degrees - tops[1].degrees) < 1e-6:
        lines = (" / ".join(names), f"triangle: on top for bend {step.n}, both hands")
        tops = tops[:1]
    else:
        lines = (f"filled triangle: {names[0]} on top", f"open triangle: {names[1]} on top")
    return Band(
        od=hands.first.setup.od,
        title=f"bend {step.n}, mark {mark}",
        lines=lines,
        lead=step.lead,
        tops=tops,
    )
