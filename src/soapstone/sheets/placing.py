"""Finding places for labels where they cover nothing that must be read."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import chain

from soapstone.sheets import palette
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Point, Sketch, label_box, line, rectangle

GAP = 0.6
"""Page mm that a label keeps from what it must not cover."""

FAR = 3.5
"""Page mm between a label and what it is about, from which a line leads from one to the other."""


def free_place(
    label: Label,
    places: Iterable[Point],
    page: Box,
    texts: Sequence[Box],
    others: Sequence[Box] = (),
) -> Label:
    """Put a label where it stays on the page and covers nothing.

    Parameters
    ----------
    places
        Where it would like to be, best first.
    page
        What it must stay in.
    texts
        What it must not cover.
    others
        What it would rather not cover: these are given up only when no place of the page is clear
        of them.

    Notes
    -----
    When no wish is clear it goes to the free place of the page nearest to the first wish.
    """
    home, first_free = None, None
    at_origin = label_box(replace(label, at=(0.0, 0.0)))
    wished = list(places)
    near = next((p for p in wished if _holds(page, at_origin.moved(p))), (*wished, label.at)[0])
    for place in chain(wished, _all_over_from(page, near)):
        box = at_origin.moved(place)
        if not _holds(page, box):
            continue
        home = home or place
        own = box.grown(GAP)
        if any(own.overlaps(other) for other in texts):
            continue
        if not any(own.overlaps(other) for other in others):
            return replace(label, at=place)
        first_free = first_free or place
    return replace(label, at=first_free or home or near)


def _all_over_from(page: Box, near: Point) -> Iterator[Point]:
    """Places all over the page, nearest first."""
    yield from sorted(_all_over(page), key=lambda p: math.dist(p, near))


def _holds(page: Box, box: Box) -> bool:
    return (
        page.left <= box.left
        and box.right <= page.right
        and page.bottom <= box.bottom
        and box.top <= page.top
    )


def is_clear(label: Label, boxes: Iterable[Box]) -> bool:
    """Tell whether a label covers none of some boxes."""
    own = label_box(label).grown(GAP)
    return not any(own.overlaps(box) for box in boxes)


def inside(page: Box, label: Label) -> bool:
    """Tell whether a label stays on the page."""
    return _holds(page, label_box(label))


def beside(label: Label, point: Point, heading: float, gap: float) -> Point:
    """Give where a label goes so that its box lies `gap` mm from a point, `heading` degrees on."""
    box = label_box(replace(label, at=(0.0, 0.0)))
    dx, dy = math.cos(math.radians(heading)), math.sin(math.radians(heading))
    reach = gap + abs(dx) * box.width / 2 + abs(dy) * box.height / 2
    middle = box.middle
    return (point[0] + dx * reach - middle[0], point[1] + dy * reach - middle[1])


def backed(label: Label) -> Sketch:
    """Give a label on a patch of paper, so that lines behind it do not disturb."""
    return (rectangle(label_box(label).grown(0.3), palette.PAPER), label)


def led(label: Label, point: Point, colour: str) -> Sketch:
    """Give a label on its patch, with a line from the point that it is about when that is far."""
    box = label_box(label)
    near = (
        min(max(point[0], box.left), box.right),
        min(max(point[1], box.bottom), box.top),
    )
    if math.dist(near, point) < FAR:
        return backed(label)
    return (line((point, near), Pen(0.25, colour)), *backed(label))


def text_boxes(marks: Iterable[Mark]) -> list[Box]:
    """Boxes of all labels of a sketch."""
    return [label_box(m) for m in marks if isinstance(m, Label)]


def _all_over(page: Box) -> list[Point]:
    """Points in rows over a page, from the top."""
    parts = [i / 20 for i in range(21)]
    return [(page.left + x * page.width, page.top - y * page.height) for y in parts for x in parts]
