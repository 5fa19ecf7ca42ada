"""The line that a tube's centre draws on the page: straights, and exact curves for its bends."""

import math

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.sheets.sketch import KAPPA_FULL, Path, Pen, Point
from soapstone.sheets.strand import Strand

WIDEST = 60.0
"""Degrees of bend in one Bezier piece: it then strays less than 1e-5 of the bend's radius."""

WIDEST_RAD = math.radians(WIDEST) + 1e-9

DOT = 5e-3
"""Page mm; a piece shorter than this is seen end on and left out."""


def trace(s: Strand, first: int, last: int) -> list[Path]:
    """Draw the centre from node `first` to `last`, as one path with curves; seen end on, no path.

    A circular arc looked at from afar stays a Bezier curve, its handles along the tube's own
    direction: projection is linear.
    """
    seen, going = s.seen, s.going
    knots: list[Point] = [(float(seen[first, 0]), float(seen[first, 1]))]
    handles: list[tuple[Point, Point]] = []
    for a, b in _pieces(s, first, last):
        start, end = knots[-1], (float(seen[b, 0]), float(seen[b, 1]))
        reach = _reach(s, a, b)
        one = (start[0] + reach * float(going[a, 0]), start[1] + reach * float(going[a, 1]))
        two = (end[0] - reach * float(going[b, 0]), end[1] - reach * float(going[b, 1]))
        if max(math.dist(start, end), math.dist(start, one), math.dist(two, end)) < DOT:
            continue
        knots.append(end)
        handles.append((one, two))
    return [Path(tuple(knots), tuple(handles))] if handles else []


def stretched(path: Path, start: float, end: float) -> Path:
    """Carry a traced path straight on past its ends, by so many page mm."""
    knots, handles = list(path.knots), list(path.handles)
    if start > 0:
        tip = _beyond(knots[0], handles[0][0], start)
        handles.insert(0, (tip, knots[0]))
        knots.insert(0, tip)
    if end > 0:
        tip = _beyond(knots[-1], handles[-1][1], end)
        handles.append((knots[-1], tip))
        knots.append(tip)
    return Path(tuple(knots), tuple(handles), pen=path.pen)


def inked(path: Path, pen: Pen) -> Path:
    """Give a path with a pen."""
    return Path(path.knots, path.handles, pen=pen)


def rim(s: Strand, node: int, radius: float, *, half: bool = False) -> Path:
    """Draw round a cross-section of the tube, an oval; or along the `half` that faces the viewer.

    The half runs from edge to edge of the tube and is open; the whole is closed.
    """
    across, other = _rim_axes(s.going[node])
    count = 2 if half else 4
    reach = KAPPA_FULL * math.tan(math.pi / 8)
    centre = s.seen[node, :2]
    turns = np.arange(count + 1) * math.pi / 2
    cosine, sine = np.cos(turns)[:, None], np.sin(turns)[:, None]
    at = centre + radius * (cosine * across + sine * other)
    along = reach * radius * (cosine * other - sine * across)
    knots = [(x, y) for x, y in at.tolist()]
    out, back = (at + along).tolist(), (at - along).tolist()
    handles = [((out[i][0], out[i][1]), (back[i + 1][0], back[i + 1][1])) for i in range(count)]
    return Path(tuple(knots), tuple(handles), closed=not half)


def _rim_axes(going: Array) -> tuple[Array, Array]:
    """Half axes, on the page, of a section of radius 1; the second one's front faces the viewer."""
    x, y, z = (float(v) for v in going)
    size = math.hypot(x, y)
    if size < 1e-6:
        return np.array([1.0, 0.0]), np.array([0.0, 1.0])
    # (y, -x, 0) / size is across; going x across = (x z, y z, -size^2) / size, turned to face us
    return np.array([y, -x]) / size, -z / size * np.array([x, y])


def _pieces(s: Strand, first: int, last: int) -> list[tuple[int, int]]:
    """Pairs of nodes: a straight whole, a bend in pieces of at most `WIDEST` degrees.

    Where a bend seen on edge doubles back on the page, a piece of its own keeps the corner round.
    """
    pieces = []
    a = first
    while a < last:
        part = s.parts[a]
        b = a + 1
        if part % 2 and _doubles_back(s, a):
            pieces.append((a, b))
            a = b
            continue
        while b < last and s.parts[b] == part:
            if part % 2 and (_turned(s, a, b + 1) > WIDEST_RAD or _doubles_back(s, b)):
                break
            b += 1
        pieces.append((a, b))
        a = b
    return pieces


def _doubles_back(s: Strand, node: int) -> bool:
    """Tell whether the way on the page turns sharply between a node and the next."""
    here, onward = s.going[node, :2], s.going[node + 1, :2]
    return float(here @ onward) < 0.5 * float(np.linalg.norm(here) * np.linalg.norm(onward))


def _turned(s: Strand, a: int, b: int) -> float:
    """Angle in radians between the directions at two nodes of one bend."""
    return float(np.arccos(np.clip(s.going[a] @ s.going[b], -1.0, 1.0)))


def _reach(s: Strand, a: int, b: int) -> float:
    """Length of a piece's handles in page mm: a third of a straight, 4/3 tan(t/4) R of an arc."""
    run = float(s.along[b] - s.along[a])
    angle_rad = _turned(s, a, b)
    if s.parts[a] % 2 == 0 or angle_rad < 1e-6:
        return run / 3
    chord = float(np.linalg.norm(s.seen[b] - s.seen[a]))
    radius = chord / (2 * math.sin(angle_rad / 2))
    return KAPPA_FULL * math.tan(angle_rad / 4) * radius


def _beyond(end: Point, handle: Point, by: float) -> Point:
    """Give the point `by` past an end, away from its handle."""
    dx, dy = end[0] - handle[0], end[1] - handle[1]
    size = math.hypot(dx, dy)
    if size < 1e-9:
        return end
    return (end[0] + dx / size * by, end[1] + dy / size * by)
