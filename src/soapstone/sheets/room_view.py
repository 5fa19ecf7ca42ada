"""Three views of a job's tubes with what they keep clear of, and their tightest places."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import swung
from soapstone.geometry.measure import bounds
from soapstone.geometry.solids import HalfSpace
from soapstone.geometry.vectors import Array, unit
from soapstone.plan.model import TubePlan
from soapstone.sheets import palette
from soapstone.sheets.bodies import reach_of
from soapstone.sheets.frame import Frame, covered
from soapstone.sheets.projection import View
from soapstone.sheets.room_labels import arc_boxes, arcs_of, write_degrees, write_names
from soapstone.sheets.room_marks import Note, draw_notes, gap_in, gap_length
from soapstone.sheets.room_places import Ground, Speckles, beads
from soapstone.sheets.room_words import Place
from soapstone.sheets.sketch import Box, Label, Sketch, label_box, moved, scaled
from soapstone.sheets.standing import VIEWS, Scene, scene_of, show
from soapstone.sheets.swing_view import on_the_way
from soapstone.sheets.tube_view import Tube

AIR = 4.0
"""Page mm kept free round what a view shows."""

TITLE = 5.5
"""Page mm under a view for its name."""

BETWEEN = 6.0
"""Page mm between views."""

AROUND = 0.6
"""How far round the tubes keep-outs are shown, as a part of the tubes' greatest extent."""

LEAST_ACROSS, LEAST_UP = 58.0, 44.0
"""Page mm that the narrower column and the lower row have at least: words stand there too."""

LARGEST = 0.5
"""Page mm for one mm, at most."""


@dataclass(frozen=True, slots=True)
class Room:
    """Front, top and right side at one scale, and the page rectangle (from 0, 0) of each."""

    sketches: tuple[Sketch, ...]
    pages: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class _Layers:
    """A view about the middle of its scene: paths alone, to be scaled and moved."""

    behind: Sketch
    before: Sketch
    loops: tuple[tuple[Array, ...], ...]


def draw_room(
    plans: Sequence[TubePlan],
    keepouts: Sequence[KeepOut],
    marked: Sequence[Note],
    width: float,
    heights: Sequence[float],
) -> list[Room]:
    """Draw the three views at several sizes, to choose from.

    One room for each of `heights`, the greatest first: front and right side beside each other,
    the top below the front, `width` mm wide in all.
    """
    low, high = _extent(plans, keepouts)
    scales = [_scale(high - low, width, height) for height in heights]
    scene = scene_of(keepouts, low, high, scales[0])
    pages = [_pages(high - low, scale, width) for scale in scales]
    layers = [
        _layers(plans, scene, _frame(view, scene, scales[0], 0.0, 0.0), page)
        for view, page in zip(VIEWS, pages[0], strict=True)
    ]
    told = [_told_in(note.place, scene) for note in marked]
    rooms = []
    for scale, sizes in zip(scales, pages, strict=True):
        sketches: list[Sketch] = []
        untold: set[int] = set()
        for i, (view, page) in enumerate(zip(VIEWS, sizes, strict=True)):
            x, y = page.middle[0], page.middle[1] + TITLE / 2
            frame = _frame(view, scene, scale, x, y)
            notes = [
                note if told[k] == i or note.place.number in untold else replace(note, words="")
                for k, note in enumerate(marked)
            ]
            tubes = [box for p in plans for box in covered(p.shape, p.setup.od, frame)]
            by = scale / scales[0]
            sketch, missed = _finished(layers[i], by, tubes, scene, frame, page, notes)
            sketches.append(sketch)
            untold = (untold - {n.place.number for n in notes if n.words}) | missed
        rooms.append(Room(tuple(sketches), sizes))
    return rooms


def _extent(plans: Sequence[TubePlan], keepouts: Sequence[KeepOut]) -> tuple[Array, Array]:
    """Corners of the box that the views show: the tubes, and what is near them."""
    boxes = np.array([bounds(plan.shape, plan.setup.od) for plan in plans])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    around = AROUND * float((high - low).max())
    least, most = low - around, high + around
    found = [low, high]
    for keepout in keepouts:
        for reach in _reaches(keepout, (low + high) / 2, 0.03 * around):
            near, far = np.maximum(reach[0], least), np.minimum(reach[1], most)
            if (near <= far).all():
                found += [near, far]
    return np.min(found, axis=0), np.max(found, axis=0)


def _reaches(keepout: KeepOut, middle: Array, thick: float) -> list[tuple[Array, Array]]:
    """Boxes that hold a keep-out on its way; of a half-space, a bit below the scene's middle."""
    if isinstance(keepout.solid, HalfSpace):
        normal = unit(np.array(keepout.solid.normal, dtype=float))
        foot = middle - float((middle - np.array(keepout.solid.at)) @ normal) * normal
        ends = np.stack([foot, foot - thick * normal])
        return [(ends.min(axis=0), ends.max(axis=0))]
    body = reach_of(keepout.solid)
    if body is None:
        return []
    places = [swung(body.points, keepout.hinges, at) for at in on_the_way(keepout.hinges, 16)]
    return [(p.min(axis=0) - body.radius, p.max(axis=0) + body.radius) for p in places]


def _scale(size: Array, width: float, height: float) -> float:
    """Page mm for one mm at which the views fill a width and at most a height."""
    x, y, z = (float(max(extent, 1e-6)) for extent in size)
    up = height - BETWEEN - 2 * (2 * AIR + TITLE)
    across = width - BETWEEN - 4 * AIR
    scale = min(LARGEST, across / (x + y), up / (z + y))
    if y * scale + 2 * AIR < LEAST_ACROSS:
        scale = min(LARGEST, up / (z + y), (width - BETWEEN - LEAST_ACROSS - 2 * AIR) / x)
    if y * scale + 2 * AIR + TITLE < LEAST_UP:
        scale = min(scale, (height - BETWEEN - LEAST_UP - 2 * AIR - TITLE) / z)
    return scale


def _pages(size: Array, scale: float, width: float) -> tuple[Box, Box, Box]:
    """Page rectangles of front, top and right side."""
    _, y, z = (float(extent) * scale for extent in size)
    right = max(LEAST_ACROSS, y + 2 * AIR)
    left = width - BETWEEN - right
    upper, lower = z + 2 * AIR + TITLE, max(LEAST_UP, y + 2 * AIR + TITLE)
    return Box(0, 0, left, upper), Box(0, 0, left, lower), Box(0, 0, right, upper)


def _frame(view: View, scene: Scene, scale: float, x: float, y: float) -> Frame:
    """Put the middle of the scene at a place of the page."""
    seen = view.project((scene.low + scene.high) / 2) * scale
    return Frame(view, scale, x - float(seen[0]), y - float(seen[1]))


def _layers(plans: Sequence[TubePlan], scene: Scene, frame: Frame, page: Box) -> _Layers:
    half_x, half_y = page.width / 2, page.height / 2
    around = Box(-half_x, -half_y, half_x, half_y)
    boxes = np.array([bounds(plan.shape, plan.setup.od) for plan in plans])
    nearness = float(boxes.mean(axis=(0, 1)) @ frame.view.toward)
    shown = [show(scene, i, frame, around, nearness) for i in range(len(scene.keepouts))]
    tubes = frame.tubes([Tube(p.shape, p.setup.od, p.setup.wall) for p in plans], 0.3)
    swept = [mark for one in shown for mark in one.swept]
    still = [mark for one in shown for mark in one.still]
    over = [mark for one in shown for mark in one.over]
    arcs = [mark for arc in arcs_of(scene, frame) for mark in arc.marks]
    return _Layers((*swept, *still), (*tubes, *over, *arcs), tuple(one.loops for one in shown))


def _told_in(place: Place, scene: Scene) -> int:
    """Which view a gap is written in: where it is seen longest."""
    frames = [_frame(view, scene, 1.0, 0.0, 0.0) for view in VIEWS]
    lengths = [gap_length(place, frame) for frame in frames]
    return max(range(len(VIEWS)), key=lambda i: round(lengths[i], 3))


def _finished(
    layers: _Layers,
    by: float,
    tubes: Sequence[Box],
    scene: Scene,
    frame: Frame,
    page: Box,
    notes: Sequence[Note],
) -> tuple[Sketch, set[int]]:
    """Put a view on its page and write on it; give the numbers whose words found no room.

    `tubes` are what text keeps off.
    """
    x, y = page.middle[0], page.middle[1] + TITLE / 2
    title = Label(frame.view.name, (x, 1.2), 3.2, palette.STONE, 500)
    room = Box(page.left, page.bottom + TITLE, page.right, page.top)
    loops = [[loop * by + np.array([x, y]) for loop in one] for one in layers.loops]
    edges = [box for one in loops for loop in one for box in beads(loop, room, closed=True)]
    arcs = arcs_of(scene, frame)
    taken = [label_box(title), *(box for arc in arcs for box in arc_boxes(arc, room))]
    gaps = [gap_in(note.place, frame) for note in notes]
    solid = [*tubes, *(box for gap in gaps for box in gap.boxes)]
    ground = Ground(room, taken, Speckles.of(room, solid), Speckles.of(room, edges))
    marks, untold = draw_notes(notes, gaps, ground)
    degrees = write_degrees(arcs, ground)
    names = write_names(scene.keepouts, loops, ground)
    behind = moved(scaled(layers.behind, by), x, y)
    before = moved(scaled(layers.before, by), x, y)
    return (*behind, *before, *names, *degrees, *marks, title), untold
