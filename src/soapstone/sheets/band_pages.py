"""Pages of wrap bands, one band for each bend."""

from collections.abc import Sequence
from typing import Any

from soapstone.sheets.contents import PackContents
from soapstone.sheets.hands import Hands
from soapstone.sheets.sketch import Box, bounds
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.words import shortened
from soapstone.sheets.wrap_band import HEIGHT, Band, Top, check_line, strips, top_degrees

BAND_WIDTH = 170.0
"""What a strip may measure, in mm: the check line stands beside it."""

CHECK = 100.0
"""Length of the check lines in mm."""

WORDS = (
    "Measure both check lines first: each must be 100 mm. If not, print again at 100 %, not "
    "fitted to the page. Draw one straight line along the top of the stick as it is loaded for "
    "its first bend. Wrap a band round the stick with its upper edge on the bend's mark, its arrow "
    "toward the die and 0 on that line; trace the upper edge all round. The head under the degrees "
    "shows what must be on top for that bend. Take the band off before bending."
)


def band_page(contents: PackContents, pairs: Sequence[Hands]) -> dict[str, Any]:
    """Give the data of the band pages."""
    bands = [
        [_strip_data(strip) for strip in strips(_band(contents, hands, place), BAND_WIDTH)]
        for hands in pairs
        for place in range(len(hands.first.bends))
    ]
    level = check_line(CHECK, "100 mm")
    upright = check_line(CHECK, "100 mm", upright=True)
    return {
        "kind": "bands",
        "words": WORDS,
        "line": to_data(level, bounds(level).grown(0.5)),
        "upright": to_data(upright, bounds(upright).grown(0.5)),
        "bands": bands,
        "foot": f"{shortened(contents.job, 60)}  ·  print at 100 %",
    }


def _strip_data(strip: Any) -> dict[str, Any]:
    box = bounds(strip)
    return to_data(strip, Box(-0.2, -0.2, max(box.right, 1.0) + 0.2, HEIGHT + 0.4))


def _band(contents: PackContents, hands: Hands, place: int) -> Band:
    step = hands.first.bends[place]
    mark = contents.numbers.length(step.stock_mark)
    names = [shortened(plan.name, 40) for plan in hands.plans]
    tops = tuple(
        Top(top_degrees(plan, place), name, filled=i == 0)
        for i, (plan, name) in enumerate(zip(hands.plans, names, strict=True))
    )
    if hands.second is None:
        lines = (names[0], f"head: on top for bend {step.n}")
    elif abs(tops[0].degrees - tops[1].degrees) < 1e-6:
        lines = (" / ".join(names), f"head: on top for bend {step.n}, both hands")
        tops = tops[:1]
    else:
        lines = (f"filled head: {names[0]} on top", f"open head: {names[1]} on top")
    return Band(
        od=hands.first.setup.od,
        title=f"bend {step.n}, mark {mark}",
        lines=lines,
        lead=step.lead,
        tops=tops,
    )
