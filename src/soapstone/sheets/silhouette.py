"""What many shapes cover together on the page, as few outlines: a grid is filled and traced."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from soapstone.geometry.vectors import Array, norm
from soapstone.sheets.sketch import Box

Mask = npt.NDArray[np.bool_]

CELL = 0.4
"""Page mm: about as fine as an outline is drawn."""

DUST = 8
"""Cells; an outline round fewer is left out."""

MOST_LOOPS = 24
MOST_TRIANGLES = 400_000


@dataclass(eq=False, slots=True)
class Cover:
    """Cells of a rectangle of the page, filled shape by shape. `page` is in page mm."""

    page: Box
    cell: float = CELL
    _steps: npt.NDArray[np.int32] = field(init=False, repr=False)
    _dots: Mask = field(init=False, repr=False)

    def __post_init__(self) -> None:
        rows = max(1, int(np.ceil(self.page.height / self.cell)))
        columns = max(1, int(np.ceil(self.page.width / self.cell)))
        self._steps = np.zeros((rows, columns + 1), dtype=np.int32)
        self._dots = np.zeros((rows, columns), dtype=bool)

    def add_convex(self, polygon: Array) -> None:
        """Fill a convex polygon (m, 2) that goes anticlockwise."""
        rows, columns = self._dots.shape
        x, y = (polygon - [self.page.left, self.page.bottom]).T / self.cell
        first, last = int(max(0, np.ceil(y.min() - 0.5))), int(min(rows, np.ceil(y.max() - 0.5)))
        if first >= last:
            return
        row = np.arange(first, last)
        bottom = int(np.argmin(y))
        x, y = np.append(np.roll(x, -bottom), x[bottom]), np.append(np.roll(y, -bottom), y[bottom])
        top = int(np.argmax(y))
        right = np.interp(row + 0.5, y[: top + 1], x[: top + 1])
        left = np.interp(row + 0.5, y[top:][::-1], x[top:][::-1])
        self._steps[row, np.clip(np.ceil(left - 0.5), 0, columns).astype(int)] += 1
        self._steps[row, np.clip(np.ceil(right - 0.5), 0, columns).astype(int)] -= 1

    def add_points(self, points: Array) -> None:
        """Fill the cells of points (n, 2) that lie no farther apart than a cell."""
        rows, columns = self._dots.shape
        at = np.floor((points - [self.page.left, self.page.bottom]) / self.cell).astype(np.int64)
        at = at[((at >= 0) & (at < [columns, rows])).all(axis=1)]
        self._dots[at[:, 1], at[:, 0]] = True

    def loops(self) -> list[Array]:
        """Outlines (m, 2) in page mm of all that is filled, the largest first.

        They go anticlockwise round what is filled and clockwise round what is left free.
        """
        filled = _closed(self._dots) | (np.cumsum(self._steps[:, :-1], axis=1) > 0)
        found = sorted(_traced(filled), key=lambda loop: -abs(area(loop)))
        kept = [_simplified(loop, 0.6) for loop in found if abs(area(loop)) > DUST]
        corner = np.array([self.page.left, self.page.bottom])
        return [loop * self.cell + corner for loop in kept[:MOST_LOOPS] if len(loop) > 2]


def sprinkled(triangles: Array, spacing: float, low: Array, high: Array) -> tuple[Array, float]:
    """Give points (m, 3) of triangles (n, 3, 3), but of none outside the box from `low` to `high`.

    They are at most `spacing` mm apart, or farther when that would be too many: the second value
    given says how far.
    """
    while True:
        inside = (triangles.max(axis=1) >= low) & (triangles.min(axis=1) <= high)
        triangles = triangles[inside.all(axis=1)]
        edges = norm(triangles - np.roll(triangles, 1, axis=1)).max(axis=1)
        large = edges > 2 * spacing  # for the middles of the edges are taken too
        if not large.any() or len(triangles) + 3 * int(large.sum()) > MOST_TRIANGLES:
            break
        triangles = np.concatenate([triangles[~large], _quartered(triangles[large])])
    reached = max(spacing, float(edges.max(initial=0.0)) / 2)
    middles = (triangles + np.roll(triangles, 1, axis=1)) / 2
    points = np.concatenate([triangles.reshape(-1, 3), middles.reshape(-1, 3)])
    return _thinned(points, reached / 3), reached


def _thinned(points: Array, cell: float) -> Array:
    """Keep one of the points (n, 3) in each cube of edge `cell`."""
    cubes = np.floor((points - points.min(axis=0, initial=np.inf)) / cell).astype(np.int64)
    rows, columns = cubes.max(axis=0, initial=0)[1:] + 1
    _, kept = np.unique(
        (cubes[:, 0] * rows + cubes[:, 1]) * columns + cubes[:, 2], return_index=True
    )
    return points[np.sort(kept)]


def area(loop: Array) -> float:
    """Area within a loop (m, 2), negative when it goes clockwise."""
    x, y = loop.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _quartered(triangles: Array) -> Array:
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return np.concatenate([np.stack(part, axis=1) for part in parts])


def _closed(dots: Mask) -> Mask:
    """Fill gaps of one cell between filled ones (a morphological closing)."""
    if not dots.any():
        return dots
    grown = _spread(np.pad(dots, 2))
    return ~_spread(~grown)[2:-2, 2:-2]


def _spread(dots: Mask) -> Mask:
    """Fill the eight neighbours of every filled cell."""
    result = dots.copy()
    result[1:] |= dots[:-1]
    result[:-1] |= dots[1:]
    sideways = result.copy()
    result[:, 1:] |= sideways[:, :-1]
    result[:, :-1] |= sideways[:, 1:]
    return result


def _traced(filled: Mask) -> list[Array]:
    """Loops (m, 2), in cells, through the middles of the cell edges between filled and free."""
    cells = np.pad(filled, 1)
    onward: dict[tuple[int, int], list[tuple[int, int]]] = {}
    # each side of a filled cell that faces a free one runs anticlockwise round the filled one
    sides = (
        (-1, 0, (0, 0), (1, 0)),
        (0, 1, (1, 0), (1, 1)),
        (1, 0, (1, 1), (0, 1)),
        (0, -1, (0, 1), (0, 0)),
    )
    for down, across, (x0, y0), (x1, y1) in sides:
        free = ~np.roll(cells, (-down, -across), axis=(0, 1))
        for row, column in np.argwhere(cells & free).tolist():
            x, y = column - 1, row - 1
            onward.setdefault((x + x0, y + y0), []).append((x + x1, y + y1))
    loops = []
    while onward:
        start = here = next(iter(onward))
        corners = [start]
        while True:
            ways = onward[here]
            ahead = ways.pop()
            if not ways:
                del onward[here]
            here = ahead
            if here == start:
                break
            corners.append(here)
        loop = np.array(corners, dtype=float)
        loops.append((loop + np.roll(loop, -1, axis=0)) / 2)
    return loops


def _simplified(loop: Array, tolerance: float) -> Array:
    """Leave out points of a loop that lie within `tolerance` of the way past them."""
    far = int(np.argmax(norm(loop - loop[0])))
    keep = np.zeros(len(loop) + 1, dtype=bool)
    keep[[0, far, len(loop)]] = True
    closed = np.concatenate([loop, loop[:1]])
    waiting = [(0, far), (far, len(loop))]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        between = closed[first + 1 : last] - closed[first]
        along = closed[last] - closed[first]
        length = float(np.hypot(*along))
        if length > 0:
            off = np.abs(between[:, 0] * along[1] - between[:, 1] * along[0]) / length
        else:
            off = norm(between)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            waiting += [(first, middle), (middle, last)]
    return closed[:-1][keep[:-1]]
