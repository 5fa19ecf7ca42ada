"""Drawings as plain data: paths and labels in mm, x to the right and y up the page.

A sketch is a tuple of marks painted in order. The same sketch is set into the printed sheets and
into the pages, by one renderer each.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from soapstone.sheets.lettering import CAP_HEIGHT, DESCENT, text_width
from soapstone.sheets.palette import INK

Point: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["left", "middle", "right"]

KAPPA_FULL = 4 / 3
"""A circular arc of angle t has Bezier handles of length 4/3 tan(t/4) R (elementary)."""


@dataclass(frozen=True, slots=True)
class Pen:
    """A line's width in mm, colour, dash lengths in mm, and whether its ends are round."""

    width: float
    colour: str = INK
    dash: tuple[float, ...] = ()
    round: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """A line or an area.

    `knots` are the points it goes through; `handles`, when given, two control points for each
    piece between knots, so that the piece is a cubic Bezier curve. `pen` None: no outline.
    """

    knots: tuple[Point, ...]
    handles: tuple[tuple[Point, Point], ...] = ()
    closed: bool = False
    pen: Pen | None = None
    fill: str | None = None


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text whose baseline begins, has its middle or ends at `at`.

    `size` is the font size in mm, `turn` degrees anticlockwise about `at`.
    """

    text: str
    at: Point
    size: float
    colour: str = INK
    weight: int = 400
    anchor: Anchor = "middle"
    turn: float = 0.0


Mark: TypeAlias = Path | Label
Sketch: TypeAlias = tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its least and greatest x and y, in mm."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Extent in x."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Extent in y."""
        return self.top - self.bottom

    @property
    def middle(self) -> Point:
        """Its centre."""
        return ((self.left + self.right) / 2, (self.bottom + self.top) / 2)

    def moved(self, by: Point) -> "Box":
        """Give the box elsewhere."""
        x, y = by
        return Box(self.left + x, self.bottom + y, self.right + x, self.top + y)

    def grown(self, by: float) -> "Box":
        """Give the box with a margin on every side."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def overlaps(self, other: "Box") -> bool:
        """Tell whether two boxes share an area."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.bottom < other.top
            and other.bottom < self.top
        )


def line(points: Iterable[Point], pen: Pen) -> Path:
    """Draw straight from point to point."""
    return Path(tuple(points), pen=pen)


def polygon(points: Iterable[Point], fill: str | None = None, pen: Pen | None = None) -> Path:
    """Draw a closed area with straight sides."""
    return Path(tuple(points), closed=True, pen=pen, fill=fill)


def rectangle(box: Box, fill: str | None = None, pen: Pen | None = None) -> Path:
    """Draw a rectangle."""
    corners = (
        (box.left, box.bottom),
        (box.right, box.bottom),
        (box.right, box.top),
        (box.left, box.top),
    )
    return polygon(corners, fill, pen)


def arc(
    centre: Point, radius: float, start: float, end: float, pen: Pen | None, fill: str | None = None
) -> Path:
    """Draw a circular arc from angle `start` to `end`, degrees anticlockwise from x."""
    count = max(1, math.ceil(abs(end - start) / 90))
    step_rad = math.radians(end - start) / count
    reach = KAPPA_FULL * math.tan(step_rad / 4) * radius
    knots, tangents = [], []
    for i in range(count + 1):
        a = math.radians(start) + i * step_rad
        knots.append((centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)))
        tangents.append((-math.sin(a) * reach, math.cos(a) * reach))
    handles = tuple(
        (
            (knots[i][0] + tangents[i][0], knots[i][1] + tangents[i][1]),
            (knots[i + 1][0] - tangents[i + 1][0], knots[i + 1][1] - tangents[i + 1][1]),
        )
        for i in range(count)
    )
    return Path(tuple(knots), handles, pen=pen, fill=fill)


def circle(centre: Point, radius: float, fill: str | None = None, pen: Pen | None = None) -> Path:
    """Draw a circle."""
    return replace(arc(centre, radius, 0, 360, pen, fill), closed=True)


def arrow_head(tip: Point, heading: float, size: float, colour: str) -> Path:
    """Draw a filled head of length `size` whose tip points along `heading` degrees."""
    a, spread = math.radians(heading), math.radians(158)
    wings = [
        (tip[0] + size * math.cos(a + s), tip[1] + size * math.sin(a + s))
        for s in (spread, -spread)
    ]
    notch = (tip[0] - 0.72 * size * math.cos(a), tip[1] - 0.72 * size * math.sin(a))
    return polygon((tip, wings[0], notch, wings[1]), fill=colour)


def arc_arrow(
    centre: Point, radius: float, start: float, end: float, pen: Pen, head: float
) -> Sketch:
    """Draw an arc that ends in an arrow head, from angle `start` to `end` in degrees."""
    sign = 1.0 if end >= start else -1.0
    back = min(math.degrees(0.7 * head / radius), abs(end - start) * 0.8)
    a = math.radians(end)
    tip = (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a))
    heading = end + sign * (90 - back / 2)
    return (
        arc(centre, radius, start, end - sign * back, pen),
        arrow_head(tip, heading, head, pen.colour),
    )


def label_box(label: Label) -> Box:
    """Give the box that holds a label's text, turned labels included."""
    width = text_width(label.text, label.size, label.weight)
    shift = {"left": 0.0, "middle": -width / 2, "right": -width}[label.anchor]
    low, high = -DESCENT * label.size, CAP_HEIGHT * label.size
    a = math.radians(label.turn)
    corners = [
        (
            label.at[0] + x * math.cos(a) - y * math.sin(a),
            label.at[1] + x * math.sin(a) + y * math.cos(a),
        )
        for x in (shift, shift + width)
        for y in (low, high)
    ]
    return _around(corners)


def bounds(marks: Sequence[Mark]) -> Box:
    """Give the box that holds all marks, half a pen's width and text included."""
    if not marks:
        return Box(0, 0, 0, 0)
    boxes = [label_box(m) if isinstance(m, Label) else _path_box(m) for m in marks]
    return Box(
        min(b.left for b in boxes),
        min(b.bottom for b in boxes),
        max(b.right for b in boxes),
        max(b.top for b in boxes),
    )


def moved(marks: Iterable[Mark], dx: float, dy: float) -> Sketch:
    """Shift a sketch."""

    def at(p: Point) -> Point:
        return (p[0] + dx, p[1] + dy)

    return tuple(
        replace(m, at=at(m.at))
        if isinstance(m, Label)
        else replace(
            m,
            knots=tuple(at(p) for p in m.knots),
            handles=tuple((at(p), at(q)) for p, q in m.handles),
        )
        for m in marks
    )


def scaled(paths: Iterable[Mark], by: float) -> Sketch:
    """Enlarge a drawing about the origin, its lines' widths with it. For paths alone."""

    def at(p: Point) -> Point:
        return (p[0] * by, p[1] * by)

    def pen(p: Pen | None) -> Pen | None:
        return None if p is None else replace(p, width=p.width * by)

    return tuple(
        Path(
            tuple(at(p) for p in m.knots),
            tuple((at(p), at(q)) for p, q in m.handles),
            m.closed,
            pen(m.pen),
            m.fill,
        )
        for m in paths
        if isinstance(m, Path)
    )


def _path_box(path: Path) -> Box:
    """Box round knots and handles, which always holds the curve."""
    points = list(path.knots) + [p for pair in path.handles for p in pair]
    return _around(points).grown(path.pen.width / 2 if path.pen else 0.0)


def _around(points: Sequence[Point]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return Box(min(xs), min(ys), max(xs), max(ys))
