"""Tubes as DXF: centrelines in space, flat views, each straight stick with its marks."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from soapstone.exchange.flat_views import APART, Side, flat_views
from soapstone.exchange.solid_tube import SolidTube
from soapstone.geometry.chain import sample
from soapstone.quantities import Units

ARC_STEP = 1.0
"""mm between the points of a bend at most."""

TEXT = 8.0
"""mm high letters."""


@dataclass(frozen=True, slots=True)
class Stick:
    """A straight stick to draw, in mm: marks by bend number, cuts by end, where arcs lie."""

    name: str
    od: float
    stock: float
    marks: tuple[tuple[str, float], ...]
    cuts: tuple[tuple[str, float], ...]
    arcs: tuple[tuple[float, float], ...]


LAYERS = (
    ("CENTRELINE", 7),
    ("TUBE", 7),
    ("MIDDLE LINE", 8),
    ("STICK", 7),
    ("BENDS", 8),
    ("MARKS", 1),
    ("CUTS", 3),
    ("TEXT", 7),
)
"""What a drawing's layers are called, and their colours by their numbers in DXF."""


def to_dxf(
    tubes: Sequence[SolidTube],
    sticks: Sequence[Stick],
    units: Units,
    sides: tuple[Side, Side, Side, Side],
) -> bytes:
    """Give a drawing, true to scale, lengths in `units`.

    Layer CENTRELINE holds the tubes in space, where the job has them. Flat on the plane, right of
    them, TUBE and MIDDLE LINE hold the views; STICK, BENDS, MARKS and CUTS the straight sticks,
    under each other below all that, with marks at what the tape reads from the A end.
    """
    from ezdxf import units as drawing_units
    from ezdxf.filemanagement import new

    drawing = new("R2010")
    drawing.units = drawing_units.MM if units == "mm" else drawing_units.IN
    scale = 1.0 if units == "mm" else 1 / 25.4
    drawing.header["$MEASUREMENT"] = 1 if units == "mm" else 0
    for name, colour in LAYERS:
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    for tube in tubes:
        points = sample(tube.line, ARC_STEP * 5) * scale
        space.add_polyline3d(points.tolist(), dxfattribs={"layer": "CENTRELINE"})
    _draw_views(space, tubes, sides, scale)
    low = min(float(sample(tube.line, 50.0)[:, 1].min()) - tube.od for tube in tubes)
    below = min(low, 0.0) - 200.0
    for stick in sticks:
        _draw(space, stick, below, scale)
        below -= stick.od + 12 * TEXT
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue().encode()


def _draw_views(
    space: Any,
    tubes: Sequence[SolidTube],
    sides: tuple[Side, Side, Side, Side],
    scale: float,
) -> None:
    reach = max(float(sample(tube.line, 50.0)[:, 0].max()) + tube.od for tube in tubes)
    for view in flat_views(tubes, sides, (max(reach, 0.0) + 2 * APART, 0.0)):
        for layer, lines in (("TUBE", view.outlines), ("MIDDLE LINE", view.middles)):
            for line in lines:
                points = (line * scale).tolist()
                space.add_lwpolyline(points, dxfattribs={"layer": layer})
        x, y = view.corner
        name = space.add_text(view.name, height=TEXT * scale, dxfattribs={"layer": "TEXT"})
        name.set_placement((x * scale, (y - 2.5 * TEXT) * scale))


def _draw(space: Any, stick: Stick, below: float, scale: float) -> None:
    top, bottom = below, below - stick.od

    def box(left: float, right: float, layer: str) -> None:
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        placed = [(x * scale, y * scale) for x, y in corners]
        space.add_lwpolyline(placed, close=True, dxfattribs={"layer": layer})

    def across(at: float, layer: str, words: str) -> None:
        start, end = (at * scale, (bottom - TEXT) * scale), (at * scale, (top + TEXT) * scale)
        space.add_line(start, end, dxfattribs={"layer": layer})
        lettering = space.add_text(words, height=TEXT * scale, dxfattribs={"layer": "TEXT"})
        lettering.set_placement((at * scale, (top + 1.6 * TEXT) * scale))

    box(0.0, stick.stock, "STICK")
    for start, end in stick.arcs:
        box(start, end, "BENDS")
    for number, at in stick.marks:
        across(at, "MARKS", f"{number}: {at * scale:.3f}".rstrip("0").rstrip("."))
    for letter, at in stick.cuts:
        across(at, "CUTS", f"cut {letter}: {at * scale:.3f}".rstrip("0").rstrip("."))
    name = space.add_text(stick.name, height=TEXT * scale, dxfattribs={"layer": "TEXT"})
    name.set_placement((0.0, (bottom - 3 * TEXT) * scale))
