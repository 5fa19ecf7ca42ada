"""Words in the views of the room: how far things swing, and what the keep-outs are called."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import swung
from soapstone.geometry.vectors import Array
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame
from soapstone.sheets.placing import beside, inside, is_clear
from soapstone.sheets.sketch import Box, Label, Mark, Sketch, label_box
from soapstone.sheets.standing import Scene
from soapstone.sheets.swing_view import Arc, at_rest, swing_arcs
from soapstone.sheets.words import shortened

_BEAD = 1.5
"""Page mm from one box along a line to the next."""


def arcs_of(scene: Scene, frame: Frame) -> list[Arc]:
    """Give the arcs of all hinges that are seen turning."""
    found = []
    for keepout, body in zip(scene.keepouts, scene.bodies, strict=True):
        if body is not None and len(body.points):
            at = swung(body.points, keepout.hinges, at_rest(keepout.hinges))
            found += swing_arcs(keepout.hinges, at, frame)
    return found


def arc_boxes(arc: Arc) -> list[Box]:
    """What an arc covers, for words to keep off: its pivot, and the arrow."""
    x, y = arc.pivot
    return [Box(x - 1.0, y - 1.0, x + 1.0, y + 1.0), *beads(np.array(arc.way), None, closed=False)]


def beads(loop: Array, page: Box | None, *, closed: bool = True) -> list[Box]:
    """Small boxes along a loop or a line (m, 2), those on a page, for words to keep off."""
    ahead = np.roll(loop, -1, axis=0) if closed else loop[1:]
    boxes = []
    for here, there in zip(loop, ahead, strict=False):
        count = max(1, int(np.hypot(*(there - here)) / _BEAD))
        for part in range(count):
            x, y = (here + (there - here) * (part / count)).tolist()
            box = Box(x - 0.4, y - 0.4, x + 0.4, y + 0.4)
            if page is None or page.overlaps(box):
                boxes.append(box)
    return boxes


def write_degrees(
    arcs: Sequence[Arc], page: Box, taken: list[Box], others: Sequence[Box]
) -> Sketch:
    """Write how far things swing at their arcs, clear of `taken`, which grows."""
    marks: list[Mark] = []
    for arc in arcs:
        label = Label(arc.words, (0.0, 0.0), 3.2, palette.INK, 500)
        headings = (0, 45, -45, 80, -80, 180)
        places = [beside(label, arc.at, arc.heading + turn, 0.3) for turn in headings]
        _write(label, places, page, taken, others, marks)
    return tuple(marks)


def write_names(
    keepouts: Sequence[KeepOut],
    loops: Sequence[Sequence[Array]],
    page: Box,
    taken: list[Box],
    tubes: Sequence[Box],
) -> Sketch:
    """Write the keep-outs' names in their first outlines, or beside them, where there is room."""
    marks: list[Mark] = []
    for keepout, own in zip(keepouts, loops, strict=True):
        label = Label(shortened(keepout.name, 24), (0.0, 0.0), 3.4, palette.STONE, 500)
        if not own or not label.text:
            continue
        low = np.maximum(own[0].min(axis=0), [page.left, page.bottom])
        high = np.minimum(own[0].max(axis=0), [page.right, page.top])
        x, y = (low + high) / 2
        across, up = (high - low) / 2
        spots = [(dx, dy) for dy in (0, 0.4, -0.4, 0.75, -0.75) for dx in (0, 0.5, -0.5)]
        places = [beside(label, (x + a * across, y + b * up), 90, -1.2) for a, b in spots]
        places += [
            beside(label, (float(x + dx * across), float(y + dy * up)), turn, 1.2)
            for turn, dx, dy in ((90, 0, 1), (90, 0.8, 1), (90, -0.8, 1), (0, 1, 0), (180, -1, 0))
        ]
        places += [
            beside(label, (float(x + part * across), float(y - up)), -90, 3.0)
            for part in (0, 0.4, -0.4, 0.8, -0.8)
        ]
        _write(label, places, page, taken, tubes, marks)
    return tuple(marks)


def _write(
    label: Label,
    places: Sequence[tuple[float, float]],
    page: Box,
    taken: list[Box],
    others: Sequence[Box],
    marks: list[Mark],
) -> None:
    """Write a label at the first place that is clear of all; nowhere, when none is."""
    for place in places:
        choice = replace(label, at=place)
        if inside(page, choice) and is_clear(choice, taken) and is_clear(choice, others):
            marks.append(choice)
            taken.append(label_box(choice))
            return
