"""All tubes of a job in one picture, with their names."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.frame import fit, outline_points
from soapstone.sheets.placing import backed, beside, free_place, inside, is_clear
from soapstone.sheets.projection import CORNER
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    label_box,
    line,
    moved,
    scaled,
)
from soapstone.sheets.tube_view import Tube, draw_tubes
from soapstone.sheets.words import shortened

_ALONG = (0.5, 0.3, 0.7, 0.1, 0.9, 0.2, 0.8, 0.4, 0.6)
_HEADINGS = (45.0, 135.0, -45.0, -135.0, 90.0, 0.0, 180.0, -90.0)


def draw_together(
    plans: Sequence[TubePlan], width: float, heights: Sequence[float]
) -> list[Sketch]:
    """Draw tubes from the front right at several sizes, each with its name where it finds room.

    One drawing, `width` mm wide, for each of `heights`, the greatest first.
    """
    if not plans:
        return [() for _ in heights]
    od = max(plan.setup.od for plan in plans)
    points = [outline_points(plan.shape, plan.setup.od) for plan in plans]
    pages = [Box(0.0, 0.0, width, height) for height in heights]
    frames = [
        fit(CORNER, np.concatenate(points), od / 2, page.grown(-9.0), largest=0.5) for page in pages
    ]
    tubes = draw_tubes(
        [Tube(p.shape, p.setup.od, p.setup.wall) for p in plans], CORNER, frames[0].scale, 0.35
    )
    drawings = []
    for frame, page in zip(frames, pages, strict=True):
        drawn = moved(scaled(tubes, frame.scale / frames[0].scale), frame.dx, frame.dy)
        seen = [[frame.at(p) for p in tube] for tube in points]
        drawings.append((*drawn, *_names(plans, seen, od / 2 * frame.scale + 0.4, page)))
    return drawings


def _names(plans: Sequence[TubePlan], seen: list[list[Point]], half: float, page: Box) -> Sketch:
    """Write each tube's name off all tubes, `half` mm wide to each side, with a line to its own."""
    taken = [Box(x - half, y - half, x + half, y + half) for tube in seen for x, y in tube]
    marks: list[Mark] = []
    for plan, places in zip(plans, seen, strict=True):
        named = _name(shortened(plan.name, 28), places, half + 3.0, page, taken)
        if named is not None:
            label, point = named
            box = label_box(label).grown(0.5)
            near = (_within(point[0], box.left, box.right), _within(point[1], box.bottom, box.top))
            marks += [line((point, near), Pen(0.2, palette.STONE)), *backed(label)]
            taken.append(box)
    return tuple(marks)


def _name(
    text: str, places: list[Point], gap: float, page: Box, taken: list[Box]
) -> tuple[Label, Point] | None:
    """Find a free place for a name near a tube, and the point of the tube it belongs to."""
    label = Label(text, (0.0, 0.0), 3.8, palette.INK, 600)
    if not text:
        return None
    for part in _ALONG:
        point = places[int(part * (len(places) - 1))]
        for heading in _HEADINGS:
            choice = replace(label, at=beside(label, point, heading, gap))
            if inside(page, choice) and is_clear(choice, taken):
                return choice, point
    point = places[len(places) // 2]
    return free_place(label, [beside(label, point, 45.0, gap)], page, taken), point


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
