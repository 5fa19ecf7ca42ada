"""Tubes as DXF: centrelines in space, and each straight stick developed with its marks."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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


def to_dxf(tubes: Sequence[SolidTube], sticks: Sequence[Stick], units: Units) -> bytes:
    """Give a drawing: layer CENTRELINE in space, layers STICK, BENDS, MARKS and CUTS in the plane.

    Sticks lie under each other below the x axis; lengths are in `units`.
    """
    from ezdxf import units as drawing_units
    from ezdxf.filemanagement import new

    drawing = new("R2010")
    drawing.units = drawing_units.MM if units == "mm" else drawing_units.IN
    scale = 1.0 if units == "mm" else 1 / 25.4
    for name, colour in (
        ("CENTRELINE", 7),
        ("STICK", 7),
        ("BENDS", 8),
        ("MARKS", 1),
        ("CUTS", 3),
        ("TEXT", 7),
    ):
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    for tube in tubes:
        points = sample(tube.line, ARC_STEP * 5) * scale
        space.add_polyline3d(points.tolist(), dxfattribs={"layer": "CENTRELINE"})
    below = -200.0
    for stick in sticks:
        _draw(space, stick, below, scale)
        below -= stick.od + 12 * TEXT
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue().encode()


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
