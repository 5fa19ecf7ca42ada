"""Tubes as a pencil draws them: outlined, shaded, bends in the accent, the near over the far."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.sheets import palette
from soapstone.sheets.hiding import Stretch, painting_order, to_repaint
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import Mark, Pen, Sketch, circle
from soapstone.sheets.strand import Strand, strand
from soapstone.sheets.trace import inked, rim, stretched, trace

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


def centre_line(line_: Centreline, view: View, scale: float, pen: Pen) -> Sketch:
    """Draw only a centreline."""
    s = strand(line_, 20.0, view, scale)
    return tuple(inked(path, pen) for path in trace(s, 0, len(s.seen) - 1))


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
    marks += [inked(rim(s, n, s.radius, half=True), Pen(0.6 * edge, look.outline)) for n in joints]
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
    paths = trace(s, nodes.start, nodes.stop - 1)
    if not paths:
        middle = s.seen[nodes.start]
        return (circle((float(middle[0]), float(middle[1])), width / 2, fill=colour),)
    return tuple(inked(stretched(path, *spill), Pen(width, colour)) for path in paths)


def _joint(s: Strand, node: int, before: str, after: str, edge: float) -> Sketch:
    """Round off the change of colour at a bend's end: a section seen aslant is an oval."""
    facing = rim(s, node, s.radius - edge / 2, half=True)
    bulge = np.array(facing.knots[1]) - s.seen[node, :2]
    onward = float(bulge @ s.going[node, :2]) > 0
    return (replace(facing, closed=True, fill=before if onward else after),)


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
        marks.append(replace(rim(s, node, s.radius), fill=tube.look.straight, pen=pen))
        inner = s.radius * (1 - 2 * tube.wall / tube.od)
        if near and facing > 0.1 and inner > edge:
            marks.append(replace(rim(s, node, inner), fill=tube.look.bore))
    return tuple(marks)
