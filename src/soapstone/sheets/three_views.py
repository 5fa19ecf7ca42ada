"""The finished tube from front, top and right, at one scale, with its overall sizes."""

import math
from collections.abc import Sequence

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.measure import bounds
from soapstone.geometry.vectors import Array
from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame, ring_letter
from soapstone.sheets.lettering import CAP_HEIGHT, text_width
from soapstone.sheets.projection import FRONT, RIGHT, TOP, View
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    arrow_head,
    line,
    moved,
    scaled,
)
from soapstone.sheets.tube_view import Tube
from soapstone.sheets.words import Numbers

ROOM = Box(18.0, 14.0, 4.0, 3.0)
"""Page mm kept free round each view: left and below for sizes, right and above for air."""

VIEWS = (FRONT, TOP, RIGHT)

_FIGURES = 3.6

_TAG = 1.8
"""Radius of an end's tag in page mm."""


def three_views(
    plan: TubePlan, numbers: Numbers, width: float, heights: Sequence[float]
) -> list[tuple[list[Sketch], Box]]:
    """Draw front, top and right side at several sizes, to choose from.

    For each of `heights`, the greatest first: the three drawings and the rectangle each of them
    fills, `width` mm wide and as tall as need be, at most that height.
    """
    setup = plan.setup
    low, high = (np.array(corner) for corner in bounds(plan.shape, setup.od))
    middle, size = (low + high) / 2, high - low
    scales = [min(_scale(view, size, width, height) for view in VIEWS) for height in heights]
    tubes = []
    for view in VIEWS:
        x, y, _ = view.project(middle) * scales[0]
        frame = Frame(view, scales[0], -float(x), -float(y))
        tubes.append(frame.tubes([Tube(plan.shape, setup.od, setup.wall)], 0.25))
    choices = []
    for scale in scales:
        tallest = max(_extent(view, size)[1] for view in VIEWS) * scale
        page = Box(0.0, 0.0, width, ROOM.bottom + tallest + ROOM.top)
        views = [
            _view(
                scaled(tube, scale / scales[0]),
                view,
                size,
                scale,
                numbers,
                page,
                _ends(plan, view, middle, scale),
            )
            for tube, view in zip(tubes, VIEWS, strict=True)
        ]
        choices.append((views, page))
    return choices


def _ends(plan: TubePlan, view: View, middle: Array, scale: float) -> Sketch:
    """Tag the ends A and B of a tube drawn about its middle, each inside the tube's last straight.

    An end that is seen end on, or that the other end hides, has no tag.
    """
    way = walk(plan.shape)
    marks: list[Mark] = []
    taken: list[Point] = []
    for letter, end, inward in (("A", 0, 1), ("B", -1, -2)):
        tip, before = (
            tuple(float(v) * scale for v in view.project(way.nodes[i] - middle)[:2])
            for i in (end, inward)
        )
        long = math.dist(tip, before)
        if long < 2 * _TAG:
            continue
        share = min((_TAG + 1.0) / long, 0.5)
        at = (tip[0] + share * (before[0] - tip[0]), tip[1] + share * (before[1] - tip[1]))
        if all(math.dist(at, other) > 2 * _TAG for other in taken):
            marks += ring_letter(letter, at, _TAG)
            taken.append(at)
    return tuple(marks)


def _scale(view: View, size: Array, width: float, height: float) -> float:
    across, up = _extent(view, size)
    room_x, room_y = width - ROOM.left - ROOM.right, height - ROOM.bottom - ROOM.top
    return min(room_x / across, room_y / up)


def _extent(view: View, size: Array) -> tuple[float, float]:
    """Size of a box of edges `size` as seen in a view along an axis."""
    return float(abs(np.array(view.right)) @ size), float(abs(np.array(view.up)) @ size)


def _view(
    tube: Sketch,
    view: View,
    size: Array,
    scale: float,
    numbers: Numbers,
    page: Box,
    tags: Sketch,
) -> Sketch:
    """Put a tube drawn about its middle on its page, with its sizes and its view's name."""
    across, up = _extent(view, size)
    x = ROOM.left + (page.width - ROOM.left - ROOM.right) / 2
    y = ROOM.bottom + up * scale / 2
    half_x, half_y = across * scale / 2, up * scale / 2
    box = Box(x - half_x, y - half_y, x + half_x, y + half_y)
    return (
        *moved(tube, x, y),
        *_size_across(box, numbers.length(across)),
        *_size_up(box, numbers.length(up)),
        *moved(tags, x, y),
        Label(view.name, (x, 1.2), 3.2, palette.STONE, 500),
    )


def _size_across(box: Box, text: str) -> Sketch:
    """Dimension line under a view."""
    y, pen = box.bottom - 3.0, Pen(0.2, palette.STONE)
    marks: list[Mark] = [
        line(((box.left, y - 1), (box.left, box.bottom - 1)), pen),
        line(((box.right, y - 1), (box.right, box.bottom - 1)), pen),
        line(((box.left, y), (box.right, y)), pen),
        Label(text, (box.middle[0], y - 1.6 - CAP_HEIGHT * _FIGURES), _FIGURES, weight=500),
    ]
    if box.width > 5:
        marks.append(arrow_head((box.left, y), 180, 1.6, palette.STONE))
        marks.append(arrow_head((box.right, y), 0, 1.6, palette.STONE))
    return tuple(marks)


def _size_up(box: Box, text: str) -> Sketch:
    """Dimension line left of a view."""
    x, pen = box.left - 3.0, Pen(0.2, palette.STONE)
    size = min(_FIGURES, _FIGURES * 13.0 / max(text_width(text, _FIGURES, 500), 1.0))
    marks: list[Mark] = [
        line(((x - 1, box.bottom), (box.left - 1, box.bottom)), pen),
        line(((x - 1, box.top), (box.left - 1, box.top)), pen),
        line(((x, box.bottom), (x, box.top)), pen),
        Label(
            text, (x - 1.2, box.middle[1] - CAP_HEIGHT * size / 2), size, weight=500, anchor="right"
        ),
    ]
    if box.height > 5:
        marks.append(arrow_head((x, box.bottom), -90, 1.6, palette.STONE))
        marks.append(arrow_head((x, box.top), 90, 1.6, palette.STONE))
    return tuple(marks)
