"""The finished tube from front, top and right, at one scale, with its overall sizes."""

import numpy as np

from soapstone.geometry.measure import bounds
from soapstone.geometry.vectors import Array
from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame
from soapstone.sheets.lettering import CAP_HEIGHT, text_width
from soapstone.sheets.projection import FRONT, RIGHT, TOP, View
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Sketch, arrow_head, line
from soapstone.sheets.tube_view import Tube
from soapstone.sheets.words import Numbers

ROOM = Box(18.0, 14.0, 4.0, 3.0)
"""Page mm kept free round each view: left and below for sizes, right and above for air."""

_FIGURES = 3.6


def three_views(
    plan: TubePlan, numbers: Numbers, width: float, height: float
) -> tuple[list[Sketch], Box]:
    """Draw front, top and right side, each in its own rectangle, which is given with them.

    The rectangle is `width` mm wide and as tall as need be, at most `height`.
    """
    setup = plan.setup
    low, high = (np.array(corner) for corner in bounds(plan.shape, setup.od))
    views = (FRONT, TOP, RIGHT)
    scale = min(_scale(view, high - low, width, height) for view in views)
    tallest = max(_extent(view, high - low)[1] for view in views) * scale
    page = Box(0.0, 0.0, width, ROOM.bottom + tallest + ROOM.top)
    return [_view(plan, view, (low, high), scale, numbers, page) for view in views], page


def _scale(view: View, size: Array, width: float, height: float) -> float:
    across, up = _extent(view, size)
    room_x, room_y = width - ROOM.left - ROOM.right, height - ROOM.bottom - ROOM.top
    return min(room_x / across, room_y / up)


def _extent(view: View, size: Array) -> tuple[float, float]:
    """Size of a box of edges `size` as seen in a view along an axis."""
    return float(abs(np.array(view.right)) @ size), float(abs(np.array(view.up)) @ size)


def _view(
    plan: TubePlan,
    view: View,
    corners: tuple[Array, Array],
    scale: float,
    numbers: Numbers,
    page: Box,
) -> Sketch:
    low, high = corners
    across, up = _extent(view, high - low)
    middle = view.project((low + high) / 2) * scale
    x = ROOM.left + (page.width - ROOM.left - ROOM.right) / 2
    y = ROOM.bottom + up * scale / 2
    frame = Frame(view, scale, x - float(middle[0]), y - float(middle[1]))
    marks: list[Mark] = [*frame.tubes([Tube(plan.shape, plan.setup.od, plan.setup.wall)], 0.25)]
    box = Box(
        x - across * scale / 2, y - up * scale / 2, x + across * scale / 2, y + up * scale / 2
    )
    marks += _size_across(box, numbers.length(across))
    marks += _size_up(box, numbers.length(up, unit=False))
    marks.append(Label(view.name, (x, 1.2), 3.2, palette.STONE, 500))
    return tuple(marks)


def _size_across(box: Box, text: str) -> Sketch:
    """Dimension line under a view."""
    y, pen = box.bottom - 3.0, Pen(0.2, palette.STONE)
    marks: list[Mark] = [
        line(((box.left, y - 1), (box.left, box.bottom - 1)), pen),
        line(((box.right, y - 1), (box.right, box.bottom - 1)), pen),
        line(((box.left, y), (box.right, y)), pen),
        Label(text, (box.middle[0], y - 1.2 - CAP_HEIGHT * _FIGURES), _FIGURES, weight=500),
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
