"""How a keep-out that swings is shown: the poses it is drawn in, and an arc with its degrees."""

import math
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from soapstone.fit.motion import Hinge, combinations
from soapstone.geometry.vectors import Array, dot, unit
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame, polar
from soapstone.sheets.sketch import Mark, Pen, Point, Sketch, arc_arrow, circle
from soapstone.sheets.words import short_degrees

Angles = tuple[float, ...]

SEEN_TURNING = 0.8
"""Least cosine between a hinge's axis and the line of sight at which its arc is drawn."""

_PEN = Pen(0.3, palette.INK)
_HEAD = 1.7


def at_rest(hinges: tuple[Hinge, ...]) -> Angles:
    """Degrees of the hinges as drawn, or as near to it as they go."""
    return tuple(
        min(max(0.0, min(one.start, one.stop)), max(one.start, one.stop)) for one in hinges
    )


def at_ends(hinges: tuple[Hinge, ...]) -> list[Angles]:
    """Degrees of the hinges at the ends of their travel, all ways together if they are two."""
    if not hinges:
        return []
    ends = [tuple(sorted({one.start, one.stop})) for one in hinges]
    rest = at_rest(hinges)
    if len(hinges) <= 2:
        found = list(product(*ends))
    else:
        found = [(*rest[:i], end, *rest[i + 1 :]) for i, both in enumerate(ends) for end in both]
    return [angles for angles in found if angles != rest]


def stretches(hinges: tuple[Hinge, ...], most: int) -> list[list[Angles]]:
    """Cut the whole travel into about `most` pieces, or fewer: the poses at each one's corners."""
    rows = [sorted({one[i] for one in on_the_way(hinges, most)}) for i in range(len(hinges))]
    sides = [list(pairwise(row)) if len(row) > 1 else [(row[0],)] for row in rows]
    return [list(product(*piece)) for piece in product(*sides)]


def on_the_way(hinges: tuple[Hinge, ...], most: int) -> list[Angles]:
    """Degrees of about `most` poses, or fewer, evenly over the whole travel."""
    if not hinges:
        return [()]
    spans = [abs(one.stop - one.start) for one in hinges]

    def count(step: float) -> int:
        return math.prod(math.ceil(span / step) + 1 for span in spans)

    step = 2.0
    while count(step) > most and step < 360:
        step *= 1.2
    return [tuple(row) for row in combinations(hinges, step).tolist()]


@dataclass(frozen=True, slots=True)
class Arc:
    """A hinge's travel: its drawing, its pivot, points along its arrow, and its words."""

    marks: Sketch
    pivot: Point
    way: tuple[Point, ...]
    words: str


def swing_arcs(hinges: tuple[Hinge, ...], body: Array, frame: Frame) -> list[Arc]:
    """Draw the arcs of the hinges that are seen turning.

    `body` (n, 3) are points of the keep-out at rest.
    """
    found = []
    for hinge, rest in zip(hinges, at_rest(hinges), strict=True):
        axis = unit(np.array(hinge.along, dtype=float))
        facing = float(axis @ frame.view.toward)
        if abs(facing) >= SEEN_TURNING and hinge.start != hinge.stop:
            found.append(_arc(hinge, rest, body, frame, math.copysign(1.0, facing)))
    return found


def range_words(hinge: Hinge) -> str:
    """Say how far a hinge swings: "62°", "±32°", "10° to 95°"."""
    low, high = sorted((hinge.start, hinge.stop))
    if low == 0 or high == 0:
        return short_degrees(high - low)
    if low == -high:
        return f"±{short_degrees(high)}"
    return f"{signed_degrees(low)} to {signed_degrees(high)}"


def signed_degrees(value: float) -> str:
    """Write an angle to a tenth, with a true minus sign."""
    return short_degrees(value).replace("-", "\u2212")


def _arc(hinge: Hinge, rest: float, body: Array, frame: Frame, sign: float) -> Arc:
    axis, through = unit(np.array(hinge.along, dtype=float)), np.array(hinge.through, dtype=float)
    pivot = frame.at(through + float(dot(body.mean(axis=0) - through, axis)) * axis)
    seen = frame.view.project(body)[:, :2] * frame.scale + np.array([frame.dx, frame.dy]) - pivot
    out = np.hypot(seen[:, 0], seen[:, 1])
    middle = seen.mean(axis=0)
    if np.hypot(*middle) < 0.1 * out.max():
        middle = seen[int(out.argmax())]
    heading = math.degrees(math.atan2(middle[1], middle[0]))
    radius = float(out.max()) + 1.5
    low, high = sorted(heading + sign * (a - rest) for a in (hinge.start, hinge.stop))
    here = min(max(heading, low), high)
    marks: list[Mark] = [circle(pivot, 0.9, palette.PAPER, _PEN), circle(pivot, 0.3, palette.INK)]
    for end in (low, high):
        if abs(end - here) * math.pi / 180 * radius > 1.2 * _HEAD:
            marks += arc_arrow(pivot, radius, here, end, _PEN, _HEAD)
    way = tuple(polar(pivot, radius, float(turn)) for turn in np.linspace(low, high, 24))
    return Arc(tuple(marks), pivot, way, range_words(hinge))
