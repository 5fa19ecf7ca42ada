"""Pages of drawings one below the other, each with a line over it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from soapstone.sheets.sketch import Sketch, bounds
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.words import breakable, shortened


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing at true page mm, the line over it, and a table under it (first row: its heads)."""

    head: str
    sketch: Sketch
    rows: tuple[tuple[str, ...], ...] = ()


def figure_page(
    title: str, aside: str, words: str, figures: Sequence[Figure], foot: str
) -> dict[str, Any]:
    """Give the data of pages of drawings; they are never scaled."""
    return {
        "kind": "figures",
        "title": title,
        "aside": aside,
        "words": words,
        "figures": [
            {
                "head": breakable(shortened(one.head, 200), 40),
                "sketch": to_data(one.sketch, bounds(one.sketch).grown(0.4)),
                "rows": [[breakable(cell) for cell in row] for row in one.rows],
            }
            for one in figures
        ],
        "foot": shortened(foot, 80),
    }
