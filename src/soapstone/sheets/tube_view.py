"""Tubes as a pencil draws them: outlined, shaded, bends in the accent, the near over the far."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Array, cross
from soapstone.sheets import palette
from soapstone.sheets.hiding import Stretch, painting_order, to_repaint
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import Mark, Path, Pen, Point, Sketch, circle, line, polygon
from soapstone.sheets.strand import Strand, strand

SPILL = 0.12
"""Page mm that a body is painted into its neighbour."""


@dataclass(frozen=True, slots=True)
class Look:
    """Colours of a tube's straights, bends, lit middle ("" for none), outline and bore."""

    straight: str = palette.MIST
    bend: str = palette.CLAY
    shine: str = palette.PAPER
    outline: str = palette.INK
    bore: str = palette.STONE


PLAIN = Look()

GHOST = Look(
    straight=palette.HAZE,
    bend=palette.HAZE,
    shine="",
    outline=palette.PALE,
    bore=palette.PALE,
)
"""Where a tube was, or will be."""


@dataclass(frozen=True, slots=True)
class Tube:
    """A tube to draw: its centreline, outside diameter and wall in mm, and its look."""

    line: Centreline
    od: float
    wall: float
    look: Look = PLAIN


def draw_tubes(tubes: Sequence[Tube], view: View, scale: float, outline: float = 0.3) -> Sketch:
    """Draw tubes together, the near over the far.

    Parameters
    ----------
    tubes
        What to draw.
    view
        Where it is seen from; the page's origin is the world's.
    scale
        Page mm for one mm.
    outline
        Width of the outline in page mm.
    """
    strands = [strand(t.line, t.od, view, scale) for t in tubes]
    order = painting_order(strands)
    whole = [Stretch(i, 0, len(strands[i].parts)) for i in order]
    marks: list[Mark] = []
    for stretch in (*whole, *to_repaint(strands, order)):
        tube = tubes[stretch.tube]
        pen_width = min(outline, strands[stretch.tube].radius * 0.5)
        marks += _paint(strands[stretch.tube], stretch, tube, pen_width)
    return tuple(marks)


def draw_tube(tube: Tube, view: View, scale: float, outline: float = 0.3) -> Sketch:
    """Draw one tube; see `draw_tubes`."""
    return draw_tubes((tube,), view, scale, outline)


def centre_path(line_: Centreline, view: View, scale: float, pen: Pen) -> Path:
    """Draw only a centreline, as one line."""
    seen = strand(line_, 20.0, view, scale).seen
    return line(plain_points(seen), pen)


def _paint(s: Strand, stretch: Stretch, tube: Tube, edge: float) -> Sketch:
    """Paint one stretch of a tube: far end, outline, body, ends of bends, light, near end."""
    look = tube.look
    marks: list[Mark] = list(_end_faces(s, stretch, tube, edge, near=False))
    nodes = range(stretch.first, stretch.last + 1)
    marks += _stroke(s, nodes, 2 * s.radius + edge, look.outline)
    runs = _runs(s, stretch)
    for part, run in runs:
        colour = look.bend if part % 2 else look.straight
        marks += _stroke(s, run, 2 * s.radius - edge, colour, _spill(s, run, stretch))
    joints = [run.start for _, run in runs[1:]]
    for node in joints:
        before, after = (look.bend, look.straight)[:: 1 if s.parts[node] % 2 == 0 else -1]
        marks += _joint(s, node, before, after, edge)
    if s.radius > 2 * edge and look.shine:
        start, end = _spill(s, nodes, stretch)
        marks += _stroke(s, nodes, 0.7 * s.radius, look.shine, (2 * start, 2 * end))
    marks += [_rim_line(s, node, Pen(0.6 * edge, look.outline)) for node in joints]
    marks += _end_faces(s, stretch, tube, edge, near=True)
    return tuple(marks)


def _runs(s: Strand, stretch: Stretch) -> list[tuple[int, range]]:
    """Legs and bends within a stretch, each with its nodes."""
    runs: list[tuple[int, range]] = []
    first = stretch.first
    for i in range(stretch.first + 1, stretch.last + 1):
        if i == stretch.last or s.parts[i] != s.parts[first]:
            runs.append((int(s.parts[first]), range(first, i + 1)))
            first = i
    return runs


def _spill(s: Strand, run: range, stretch: Stretch) -> tuple[float, float]:
    """How far a body is painted beyond its first and last node, so that no hairline shows.

    Nothing at the tube's own ends; the later of two runs goes over the earlier one's end.
    """
    start = SPILL if run.start == stretch.first and run.start > 0 else 0.0
    return start, SPILL if run.stop < len(s.seen) else 0.0


def _stroke(
    s: Strand, nodes: range, width: float, colour: str, spill: tuple[float, float] = (0.0, 0.0)
) -> Sketch:
    """Draw a band along nodes; seen end on it is a disc."""
    points = plain_points(s.seen[nodes.start : nodes.stop])
    if len(points) == 1:
        return (circle(points[0], width / 2, fill=colour),)
    points[0] = _beyond(points[1], points[0], spill[0])
    points[-1] = _beyond(points[-2], points[-1], spill[1])
    return (line(points, Pen(width, colour)),)


def _beyond(before: Point, end: Point, by: float) -> Point:
    """Carry a line on past its end."""
    dx, dy = end[0] - before[0], end[1] - before[1]
    size = math.hypot(dx, dy)
    return (end[0] + dx / size * by, end[1] + dy / size * by)


def _joint(s: Strand, node: int, before: str, after: str, edge: float) -> Sketch:
    """Round off the change of colour at a bend's end: a section seen aslant is an oval."""
    facing = _facing_half(s, node, s.radius - edge / 2)
    middle = facing.mean(axis=0) - s.seen[node]
    onward = float(middle[:2] @ s.going[node, :2]) > 0
    return (polygon(_points(facing), before if onward else after),)


def _rim_line(s: Strand, node: int, pen: Pen) -> Path:
    return line(_points(_facing_half(s, node, s.radius)), pen)


def _facing_half(s: Strand, node: int, radius: float) -> Array:
    """Points along the half of a cross-section's rim that faces the viewer, edge to edge."""
    rim = _rim(s, node, radius, 25)
    return rim[:13]


def _end_faces(s: Strand, stretch: Stretch, tube: Tube, edge: float, *, near: bool) -> Sketch:
    """Draw the flat ends: those that face away before the body, those that face us after it."""
    marks: list[Mark] = []
    ends = [(0, -1.0)] if stretch.first == 0 else []
    ends += [(len(s.seen) - 1, 1.0)] if stretch.last == len(s.seen) - 1 else []
    for node, outward in ends:
        facing = outward * float(s.going[node, 2])
        if (facing > -0.02) != near:
            continue
        pen = Pen(edge, tube.look.outline)
        rim = _points(_rim(s, node, s.radius, 36))
        marks.append(polygon(rim, tube.look.straight, pen))
        inner = s.radius * (1 - 2 * tube.wall / tube.od)
        if near and facing > 0.1 and inner > edge:
            marks.append(polygon(_points(_rim(s, node, inner, 36)), tube.look.bore))
    return tuple(marks)


def _rim(s: Strand, node: int, radius: float, count: int) -> Array:
    """Points (count, 3) once round a cross-section; the first half of them faces the viewer."""
    going = s.going[node]
    across = np.array([going[1], -going[0], 0.0])
    size = float(np.hypot(going[0], going[1]))
    across = across / size if size > 1e-6 else np.array([1.0, 0.0, 0.0])
    other = cross(going, across)
    if other[2] < 0:
        other = -other
    a = np.linspace(0, 2 * math.pi, count)[:, None]
    result: Array = s.seen[node] + radius * (np.cos(a) * across + np.sin(a) * other)
    return result


def plain_points(seen: Array) -> list[Point]:
    """Give page points without those that fall on the one before or on a straight between two."""
    kept: list[Point] = []
    for x, y in seen[:, :2].tolist():
        if kept and math.hypot(x - kept[-1][0], y - kept[-1][1]) < 5e-3:
            continue
        if len(kept) > 1:
            ax, ay = kept[-1][0] - kept[-2][0], kept[-1][1] - kept[-2][1]
            bx, by = x - kept[-1][0], y - kept[-1][1]
            size = math.hypot(ax, ay) * math.hypot(bx, by)
            if abs(ax * by - ay * bx) < 1e-6 * size and ax * bx + ay * by > 0:
                kept.pop()
        kept.append((x, y))
    return kept


def _points(array: Array) -> list[Point]:
    return [(p[0], p[1]) for p in array.tolist()]
