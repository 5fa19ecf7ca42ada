"""The tightest places in a view: the gap drawn from tube to keep-out, its number and its words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.sheets import palette
from soapstone.sheets.frame import Frame, polar
from soapstone.sheets.lettering import CAP_HEIGHT, text_width
from soapstone.sheets.placing import GAP
from soapstone.sheets.room_words import Place
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    circle,
    line,
    rectangle,
)

DISC = 2.1
"""Page mm: radius of a place's number."""

_SIZE = 3.3
_CLOSE = 1.6
"""Page mm; a gap drawn shorter is shown by a ring."""

_DISTANCES = (3.0, 5.5, 8.5, 12.0, 17.0, 23.0, 30.0)
_HEADINGS = tuple(range(0, 360, 20))


@dataclass(frozen=True, slots=True)
class Note:
    """A place to mark, and what is written beside its number: nothing in most views."""

    place: Place
    words: str


def gap_length(place: Place, frame: Frame) -> float:
    """Page mm from the tube's centreline to the keep-out, as seen in a view."""
    return math.dist(frame.at(place.gap.point), frame.at(place.gap.nearest))


def draw_notes(
    notes: Sequence[Note],
    frame: Frame,
    page: Box,
    taken: list[Box],
    tubes: Sequence[Box],
    edges: Sequence[Box],
) -> Sketch:
    """Mark places on a page, words and numbers clear of `taken`, which grows, and of each other.

    They keep off the tubes and the gaps where they can, and then off other edges. Places that
    coincide, such as those of both hands seen from the side, share their words.
    """
    gaps = [_gap(note.place, frame) for note in notes]
    covered = [*tubes, *(box for gap in gaps for box in gap.boxes)]
    groups: list[list[int]] = []
    for i, note in enumerate(notes):
        same = (g for g in groups if _together(notes[g[0]], note, gaps[g[0]], gaps[i]))
        group = next(same, None)
        if group is None:
            groups.append([i])
        else:
            group.append(i)
    written: list[Mark] = []
    for group in sorted(groups, key=lambda g: not notes[g[0]].words):
        anchor = gaps[group[0]].middle
        places = [notes[i].place for i in group]
        written += _note(places, notes[group[0]].words, anchor, page, taken, (covered, edges))
    return (*(mark for gap in gaps for mark in gap.marks), *written)


def _together(one: Note, other: Note, gap: "_Gap", other_gap: "_Gap") -> bool:
    alike = one.words == other.words and one.place.short == other.place.short
    return alike and math.dist(gap.middle, other_gap.middle) < 1.0


@dataclass(frozen=True, slots=True)
class _Gap:
    """A gap drawn: its marks, where its number belongs, and what it covers."""

    marks: Sketch
    middle: Point
    boxes: tuple[Box, ...]


def _colour(place: Place) -> str:
    return palette.EMBER if place.short else palette.INK


def _gap(place: Place, frame: Frame) -> _Gap:
    """Draw the gap itself: a bar from the tube to the keep-out, or a ring where that is short."""
    centre, end = np.array(frame.at(place.gap.point)), np.array(frame.at(place.gap.nearest))
    colour, radius = _colour(place), place.tube.setup.od / 2
    apart = math.dist(place.gap.point, place.gap.nearest)
    start = centre + (end - centre) * (min(1.0, radius / apart) if apart else 0.0)
    (ax, ay), (bx, by) = start.tolist(), end.tolist()
    middle = ((ax + bx) / 2, (ay + by) / 2)
    if math.dist((ax, ay), (bx, by)) < _CLOSE:
        size = max(radius * frame.scale, 0.6) + 0.8
        box = Box(middle[0] - size, middle[1] - size, middle[0] + size, middle[1] + size)
        return _Gap((circle(middle, size, None, Pen(0.5, colour)),), middle, (box,))
    ends = [circle(at, 0.65, colour) for at in ((ax, ay), (bx, by))]
    steps = np.linspace(start, end, max(2, int(math.dist((ax, ay), (bx, by)) / 1.5)))
    boxes = tuple(Box(x - 0.6, y - 0.6, x + 0.6, y + 0.6) for x, y in steps.tolist())
    return _Gap((line(((ax, ay), (bx, by)), Pen(0.55, colour)), *ends), middle, boxes)


def _note(
    places: Sequence[Place],
    words: str,
    anchor: Point,
    page: Box,
    taken: list[Box],
    others: tuple[Sequence[Box], Sequence[Box]],
) -> Sketch:
    """Write the numbers of places at one point, with their words if these find room."""
    for said in dict.fromkeys((words, "")):
        width = _width(len(places), said)
        at, clear = _free(anchor, width, page, taken, others)
        if at is not None:
            block = _block(at, width)
            taken.append(block)
            return _written(places, said, anchor, block, patch=not clear)
    return ()


def _width(discs: int, words: str) -> float:
    """Width of discs and words beside them."""
    wide = 2 * DISC * discs + 0.5 * (discs - 1)
    return wide + (1.0 + text_width(words, _SIZE, 600) if words else 0.0)


def _block(at: Point, width: float) -> Box:
    """Give the box of discs and words whose first disc's middle is `at`."""
    return Box(at[0] - DISC, at[1] - DISC, at[0] - DISC + width, at[1] + DISC)


def _free(
    anchor: Point,
    width: float,
    page: Box,
    taken: Sequence[Box],
    others: tuple[Sequence[Box], Sequence[Box]],
) -> tuple[Point | None, bool]:
    """Find the first disc's middle for a block near its anchor, and whether it covers nothing."""
    covered, edges = others
    fallback: Point | None = None
    least: Point | None = None
    for distance in _DISTANCES:
        for heading in _HEADINGS:
            dx, dy = polar((0.0, 0.0), 1.0, heading)
            x = anchor[0] + dx * (distance + width / 2) - width / 2 + DISC
            y = anchor[1] + dy * (distance + DISC)
            box = _block((x, y), width)
            if not _holds(page, box) or any(box.grown(GAP).overlaps(b) for b in taken):
                continue
            if any(box.overlaps(b) for b in covered):
                least = least or (x, y)
            elif any(box.overlaps(b) for b in edges):
                fallback = fallback or (x, y)
            else:
                return (x, y), True
    return fallback or least, False


def _holds(page: Box, box: Box) -> bool:
    return (
        page.left <= box.left
        and box.right <= page.right
        and page.bottom <= box.bottom
        and box.top <= page.top
    )


def _written(
    places: Sequence[Place], words: str, anchor: Point, block: Box, *, patch: bool
) -> Sketch:
    """Draw discs, words and the line to the place they belong to."""
    colour = _colour(places[0])
    near = (
        min(max(anchor[0], block.left), block.right),
        min(max(anchor[1], block.bottom), block.top),
    )
    marks: list[Mark] = [line((anchor, near), Pen(0.2, colour))]
    y = block.middle[1]
    baseline = y - CAP_HEIGHT * _SIZE / 2
    start = block.left + _width(len(places), "") + 1.0
    if words and patch:
        ground = Box(start - 1.0, block.bottom + 0.3, block.right + 0.6, block.top - 0.3)
        marks.append(rectangle(ground, palette.PAPER))
    if words:
        marks.append(Label(words, (start, baseline), _SIZE, colour, 600, "left"))
    for i, place in enumerate(places):
        x = block.left + DISC + i * (2 * DISC + 0.5)
        number = Label(str(place.number), (x, baseline), _SIZE, palette.PAPER, 700)
        marks += [circle((x, y), DISC, colour), number]
    return tuple(marks)
