"""Words in the views of the room: how far things swing, and what the keep-outs are called."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.geometry.solids import HalfSpace
from soapstone.geometry.vectors import Array
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame
from soapstone.sheets.lettering import CAP_HEIGHT
from soapstone.sheets.placing import beside, is_clear
from soapstone.sheets.room_places import Ground, beads, nearest
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Point, Sketch, circle, label_box, line
from soapstone.sheets.standing import Scene
from soapstone.sheets.swing_view import Arc, swing_arcs
from soapstone.sheets.words import shortened

_PEN = Pen(0.2, palette.STONE)


def arcs_of(scene: Scene, frame: Frame) -> list[Arc]:
    """Give the arcs of all hinges that are seen turning."""
    return [
        arc
        for keepout, points in zip(scene.keepouts, scene.at_rest, strict=True)
        if len(points)
        for arc in swing_arcs(keepout.hinges, points, frame)
    ]


def arc_boxes(arc: Arc, page: Box) -> list[Box]:
    """What an arc covers, for words to keep off: its pivot, and the arrow."""
    x, y = arc.pivot
    return [Box(x - 1, y - 1, x + 1, y + 1), *beads(np.array(arc.way), page, closed=False)]


def write_degrees(arcs: Sequence[Arc], ground: Ground) -> Sketch:
    """Write how far things swing, beside their arcs."""
    marks: list[Mark] = []
    for arc in arcs:
        label = Label(arc.words, (0.0, 0.0), 3.2, palette.INK, 500)
        middle = len(arc.way) // 2
        order = sorted(range(len(arc.way)), key=lambda i: abs(i - middle))
        places = []
        for i in order:
            x, y = (a - b for a, b in zip(arc.way[i], arc.pivot, strict=True))
            heading = float(np.degrees(np.arctan2(y, x)))
            places += [beside(label, arc.way[i], heading + turn, 1.3) for turn in (0, 180)]
        found = _first(label, places, ground)
        marks += [found] if found else []
    return tuple(marks)


def write_names(
    keepouts: Sequence[KeepOut], loops: Sequence[Sequence[Array]], ground: Ground
) -> Sketch:
    """Write the keep-outs' names in their first outlines, beside them, or near with a line.

    Where there is no room for a name it is left out.
    """
    marks: list[Mark] = []
    shown = [(k, own[0]) for k, own in zip(keepouts, loops, strict=True) if own]
    sizes = [_size(keepout, loop) for keepout, loop in shown]
    for (keepout, loop), size in zip(shown, sizes, strict=True):
        label = Label(shortened(keepout.name, 24), (0.0, 0.0), 3.4, palette.STONE, 500)
        page = ground.page
        low = np.maximum(loop.min(axis=0), [page.left, page.bottom])
        high = np.minimum(loop.max(axis=0), [page.right, page.top])
        if not label.text or (low > high).any():
            continue
        # a name within something smaller would seem to be the smaller thing's
        smaller = [_around(other) for (_, other), s in zip(shown, sizes, strict=True) if s < size]
        found = _first(label, _in_and_beside(label, low, high), ground, smaller)
        marks += [found] if found else _with_a_line(label, loop, ground)
    return tuple(marks)


def _size(keepout: KeepOut, loop: Array) -> float:
    """Page mm2 that a keep-out takes up, about; a half-space has no end."""
    if isinstance(keepout.solid, HalfSpace):
        return math.inf
    across, up = np.ptp(loop, axis=0)
    return float(across * up)


def _around(loop: Array) -> Box:
    (left, bottom), (right, top) = loop.min(axis=0).tolist(), loop.max(axis=0).tolist()
    return Box(left, bottom, right, top)


def _in_and_beside(label: Label, low: Array, high: Array) -> list[Point]:
    """Places in the box from `low` to `high`, and close to it."""
    x, y = ((low + high) / 2).tolist()
    across, up = ((high - low) / 2).tolist()
    spots = [(dx, dy) for dy in (0.0, 0.4, -0.4, 0.75, -0.75) for dx in (0.0, 0.5, -0.5)]
    places = [beside(label, (x + a * across, y + b * up), 90, -1.2) for a, b in spots]
    for part in (0.0, 0.4, -0.4, 0.8, -0.8):
        places.append(beside(label, (x + part * across, y + up), 90, 1.2))
        places.append(beside(label, (x + part * across, y - up), -90, 3.2))
        places.append(beside(label, (x + across, y + part * up), 0, 1.2))
        places.append(beside(label, (x - across, y + part * up), 180, 1.2))
    return places


def _first(
    label: Label, places: Iterable[Point], ground: Ground, off: Sequence[Box] = ()
) -> Label | None:
    """Put a label at the first place where it covers nothing, nor any of `off`; else None."""
    for place in places:
        choice = replace(label, at=place)
        if ground.holds(label_box(choice)) and is_clear(choice, off):
            ground.taken.append(label_box(choice))
            return choice
    return None


def _with_a_line(label: Label, loop: Array, ground: Ground) -> list[Mark]:
    """Put a label off an outline, with a line that ends in it."""
    middle = loop.mean(axis=0)
    edge = loop[int(np.argmin(np.hypot(*(loop - middle).T)))]
    x, y = (edge + 0.2 * (middle - edge)).tolist()
    box = label_box(label)
    found = ground.place((x, y), box.width, box.height)
    if found is None or not found[1]:
        return []
    block = found[0]
    baseline = (block.middle[0], block.middle[1] - CAP_HEIGHT * label.size / 2 + 0.3)
    return [
        line(((x, y), nearest((x, y), block)), _PEN),
        circle((x, y), 0.45, palette.STONE),
        replace(label, at=baseline),
    ]
