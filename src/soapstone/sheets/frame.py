"""Fitting a view of space into a rectangle of the page."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Array, Vec3
from soapstone.sheets import palette
from soapstone.sheets.lettering import CAP_HEIGHT
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import (
    Box,
    Label,
    Pen,
    Point,
    Sketch,
    circle,
    moved,
)
from soapstone.sheets.strand import strand
from soapstone.sheets.tube_view import Tube, draw_tubes


@dataclass(frozen=True, slots=True)
class Frame:
    """A view at a scale (page mm for one mm), shifted by `dx`, `dy` into the page's rectangle."""

    view: View
    scale: float
    dx: float
    dy: float

    def at(self, point: Vec3 | Array) -> Point:
        """Give where a point of space falls on the page."""
        x, y, _ = self.view.project(np.asarray(point, dtype=float)) * self.scale
        return (float(x) + self.dx, float(y) + self.dy)

    def tubes(self, tubes: Iterable[Tube], outline: float = 0.3) -> Sketch:
        """Draw tubes in this frame."""
        return moved(draw_tubes(tuple(tubes), self.view, self.scale, outline), self.dx, self.dy)


def fit(view: View, points: Array, reach: float, into: Box, largest: float = 1.0) -> Frame:
    """Fit points (m, 3), each with `reach` mm round it, into a rectangle, in its middle.

    `largest` bounds the scale.
    """
    flat = view.project(points)[:, :2]
    low, high = flat.min(axis=0) - reach, flat.max(axis=0) + reach
    width, height = (max(float(size), 1e-6) for size in high - low)
    scale = min(into.width / width, into.height / height, largest)
    middle = (low + high) / 2 * scale
    return Frame(view, scale, into.middle[0] - float(middle[0]), into.middle[1] - float(middle[1]))


def outline_points(line: Centreline, od: float) -> Array:
    """Points (m, 3) along a centreline, close enough to fit it into a frame."""
    flat = View("", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    return strand(line, max(od, 20.0), flat, 1.0).seen


def end_tag(letter: str, end: Point, before: Point, away: float, radius: float = 2.3) -> Sketch:
    """Draw the letter of a tube's end in a ring, `away` page mm beyond `end` seen from `before`."""
    step = np.array(end) - np.array(before)
    size = float(np.hypot(*step))
    direction = step / size if size > 0.5 else np.array([-0.71, -0.71])
    x, y = (float(v) for v in np.array(end) + direction * (away + radius))
    return ring_letter(letter, (x, y), radius)


def ring_letter(letter: str, at: Point, radius: float = 2.3) -> Sketch:
    """Draw a letter in a ring."""
    size = 1.35 * radius
    ring = circle(at, radius, palette.PAPER, Pen(0.35))
    return (ring, Label(letter, (at[0], at[1] - CAP_HEIGHT * size / 2), size, palette.INK, 600))


def fit_round(
    view: View, points: Array, reach: float, into: Box, ring: float, largest: float = 1.0
) -> Frame:
    """Fit points and, round the origin of space, a ring of fixed radius `ring` in page mm."""
    flat = view.project(points)[:, :2]
    low, high = flat.min(axis=0) - reach, flat.max(axis=0) + reach

    def extents(scale: float) -> tuple[Array, Array]:
        return np.minimum(low * scale, -ring), np.maximum(high * scale, ring)

    def holds(scale: float) -> bool:
        down, up = extents(scale)
        size = up - down
        return bool(size[0] <= into.width and size[1] <= into.height)

    small, large = 0.0, largest
    if not holds(large):
        for _ in range(40):
            middle = (small + large) / 2
            small, large = (middle, large) if holds(middle) else (small, middle)
        large = small
    down, up = extents(large)
    shift = np.array(into.middle) - (down + up) / 2
    return Frame(view, large, float(shift[0]), float(shift[1]))


def covered(line: Centreline, od: float, frame: Frame) -> list[Box]:
    """Small boxes along a tube on the page, for text to keep off."""
    half = od / 2 * frame.scale
    points = frame.view.project(outline_points(line, od))[:, :2] * frame.scale
    return [
        Box(x - half, y - half, x + half, y + half)
        for x, y in (points + np.array([frame.dx, frame.dy])).tolist()
    ]


def along_arc(centre: Point, radius: float, start: float, end: float) -> list[Box]:
    """Small boxes along an arc arrow on the page, for text to keep off; angles in degrees."""
    count = max(2, math.ceil(abs(end - start) / 6))
    turns = (start + (end - start) * i / count for i in range(count + 1))
    return [Box(x, y, x, y).grown(0.9) for x, y in (polar(centre, radius, t) for t in turns)]


def polar(centre: Point, radius: float, angle: float) -> Point:
    """Give the point at a radius and an angle in degrees, anticlockwise from x."""
    a = math.radians(angle)
    return (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a))
