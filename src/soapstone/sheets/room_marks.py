"""The tightest places in a view: the gap drawn from tube to keep-out, its number and its words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.sheets import palette
from soapstone.sheets.frame import Frame
from soapstone.sheets.lettering import CAP_HEIGHT, text_width
from soapstone.sheets.room_places import Ground, nearest
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


@dataclass(frozen=True, slots=True)
class Note:
    """A place to mark, and what is written beside its number: nothing in most views."""

    place: Place
    words: str


def gap_length(place: Place, frame: Frame) -> float:
    """Page mm from the tube's centreline to the keep-out, as seen in a view."""
    return math.dist(frame.at(place.gap.point), frame.at(place.gap.nearest))


def draw_notes(
    notes: Sequence[Note], gaps: Sequence["Gap"], ground: Ground
) -> tuple[Sketch, set[int]]:
    """Mark places on a page, with their numbers and words.

    The second thing given are the numbers whose words found no room.

    Places that coincide, such as those of both hands seen from the side, share their words.
    """
    groups: list[list[int]] = []
    for i, note in enumerate(notes):
        same = (g for g in groups if _together(notes[g[0]], note, gaps[g[0]], gaps[i]))
        group = next(same, None)
        if group is None:
            groups.append([i])
        else:
            group.append(i)
    written: list[Mark] = []
    untold: set[int] = set()
    for group in sorted(groups, key=lambda g: not notes[g[0]].words):
        places = [notes[i].place for i in group]
        marks, told = _note(places, notes[group[0]].words, gaps[group[0]].middle, ground)
        written += marks
        untold |= set() if told else {place.number for place in places}
    return (*(mark for gap in gaps for mark in gap.marks), *written), untold


def _together(one: Note, other: Note, gap: "Gap", other_gap: "Gap") -> bool:
    alike = one.words == other.words and one.place.short == other.place.short
    return alike and math.dist(gap.middle, other_gap.middle) < 1.0


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap drawn: its marks, where its number belongs, and what it covers."""

    marks: Sketch
    middle: Point
    boxes: tuple[Box, ...]


def _colour(place: Place) -> str:
    return palette.EMBER if place.short else palette.INK


def gap_in(place: Place, frame: Frame) -> Gap:
    """Draw the gap itself: a bar from the tube to the keep-out.

    A ring where that would be short, and round the place where they overlap.
    """
    centre, end = np.array(frame.at(place.gap.point)), np.array(frame.at(place.gap.nearest))
    colour, radius = _colour(place), place.tube.setup.od / 2
    apart = math.dist(place.gap.point, place.gap.nearest)
    if place.gap.gap < 0:
        end = centre
    start = centre + (end - centre) * (min(1.0, radius / apart) if apart else 0.0)
    (ax, ay), (bx, by) = start.tolist(), end.tolist()
    middle = ((ax + bx) / 2, (ay + by) / 2)
    if math.dist((ax, ay), (bx, by)) < _CLOSE:
        size = max(radius * frame.scale, 0.6) + 0.8
        box = Box(middle[0] - size, middle[1] - size, middle[0] + size, middle[1] + size)
        return Gap((circle(middle, size, None, Pen(0.5, colour)),), middle, (box,))
    ends = [circle(at, 0.65, colour) for at in ((ax, ay), (bx, by))]
    steps = np.linspace(start, end, max(2, int(math.dist((ax, ay), (bx, by)) / 1.5)))
    boxes = tuple(Box(x - 0.6, y - 0.6, x + 0.6, y + 0.6) for x, y in steps.tolist())
    return Gap((line(((ax, ay), (bx, by)), Pen(0.55, colour)), *ends), middle, boxes)


def _note(
    places: Sequence[Place], words: str, anchor: Point, ground: Ground
) -> tuple[Sketch, bool]:
    """Write the numbers of places at one point, with their words if these find room."""
    for said in dict.fromkeys((words, "")):
        width = _width(len(places), said)
        found = ground.place(anchor, width, 2 * DISC, on_tubes=not said)
        if found is not None:
            return _written(places, said, anchor, found[0], patch=not found[1]), said == words
    return (), not words


def _width(discs: int, words: str) -> float:
    """Width of discs and words beside them."""
    wide = 2 * DISC * discs + 0.5 * (discs - 1)
    return wide + (1.0 + text_width(words, _SIZE, 600) if words else 0.0)


def _written(
    places: Sequence[Place], words: str, anchor: Point, block: Box, *, patch: bool
) -> Sketch:
    """Draw discs, words and the line to the place they belong to."""
    colour = _colour(places[0])
    marks: list[Mark] = [line((anchor, nearest(anchor, block)), Pen(0.2, colour))]
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
