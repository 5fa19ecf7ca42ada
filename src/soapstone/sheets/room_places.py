"""Where words find room in a drawing that is full: near what they belong to, and over nothing."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapstone.geometry.vectors import Array
from soapstone.sheets.placing import GAP
from soapstone.sheets.sketch import Box, Point

_DISTANCES = (2.5, 4.0, 6.0, 8.5, 12.0, 16.0, 21.0, 27.0, 34.0)
_HEADINGS = tuple(range(0, 360, 15))

_OVER_EDGES, _ACROSS, _OVER_TUBES = 6.0, 12.0, 24.0
"""Page mm farther off that words would rather be than over edges, than have their line go across
other words, and than be over tubes."""

_BEAD = 1.5
"""Page mm from one box along a line to the next."""

_CELL = 0.5
"""Page mm: how exactly words keep off tubes and edges."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What words keep off on a page: always `taken`, which grows, and the others if they can."""

    page: Box
    taken: list[Box]
    tubes: "Speckles"
    edges: "Speckles"

    def holds(self, box: Box) -> bool:
        """Tell whether a box lies on the page and covers nothing at all."""
        blocks = _array([box.grown(GAP)])
        return bool(
            _inside(_array([box]), self.page)[0]
            and not any(box.grown(GAP).overlaps(other) for other in self.taken)
            and not self.tubes.under(blocks)[0]
            and not self.edges.under(blocks)[0]
        )

    def place(
        self, anchor: Point, width: float, height: float, *, on_tubes: bool = False
    ) -> tuple[Box, bool] | None:
        """Find the box of words of a size that belong to a point; tell if it covers nothing.

        None when there is no room anywhere near, if need be `on_tubes`. The box and the line to
        it become taken.
        """
        distances, blocks = _blocks(anchor, width, height)
        page = self.page
        inside = _inside(blocks, page)
        blocks, distances = blocks[inside], distances[inside]
        free = ~_over(blocks + np.array([-GAP, -GAP, GAP, GAP]), self.taken)
        if not on_tubes:
            free &= ~self.tubes.under(blocks)
        blocks, distances = blocks[free], distances[free]
        if not len(blocks):
            return None
        tubes, edges = self.tubes.under(blocks), self.edges.under(blocks)
        across = _crossed(anchor, blocks, self.taken)
        costs = distances + _OVER_EDGES * edges + _OVER_TUBES * tubes + _ACROSS * across
        best = int(np.argmin(costs))
        left, bottom, right, top = blocks[best].tolist()
        block = Box(left, bottom, right, top)
        self.taken.append(block)
        self.taken.extend(beads(np.array([nearest(anchor, block), anchor]), page, closed=False))
        return block, not (tubes[best] or edges[best])


@dataclass(frozen=True, slots=True)
class Speckles:
    """Many small boxes on a page, as the number of covered cells left of and below each cell."""

    page: Box
    sums: npt.NDArray[np.int64]

    @classmethod
    def of(cls, page: Box, boxes: Iterable[Box]) -> "Speckles":
        """Put boxes on a page."""
        rows, columns = (int(size / _CELL) + 2 for size in (page.height, page.width))
        covered = np.zeros((rows, columns), dtype=bool)
        for box in boxes:
            left, right = (max(0, int((x - page.left) / _CELL)) for x in (box.left, box.right))
            low, high = (max(0, int((y - page.bottom) / _CELL)) for y in (box.bottom, box.top))
            covered[low : high + 1, left : right + 1] = True
        sums = np.zeros((rows + 1, columns + 1), dtype=np.int64)
        sums[1:, 1:] = covered.cumsum(axis=0).cumsum(axis=1)
        return cls(page, sums)

    def under(self, blocks: Array) -> npt.NDArray[np.bool_]:
        """Tell which of blocks (k, 4) lie over any of the boxes."""
        rows, columns = self.sums.shape
        corner = [self.page.left, self.page.bottom] * 2
        x0, y0, x1, y1 = np.floor((blocks - corner) / _CELL).astype(np.int64).T
        x0, x1 = np.clip(x0, 0, columns - 1), np.clip(x1 + 1, 0, columns - 1)
        y0, y1 = np.clip(y0, 0, rows - 1), np.clip(y1 + 1, 0, rows - 1)
        count = self.sums[y1, x1] - self.sums[y0, x1] - self.sums[y1, x0] + self.sums[y0, x0]
        return np.asarray(count > 0)


def nearest(point: Point, box: Box) -> Point:
    """Give the point of a box that is nearest to a point."""
    x, y = point
    return min(max(x, box.left), box.right), min(max(y, box.bottom), box.top)


def beads(line: Array, page: Box, *, closed: bool) -> list[Box]:
    """Small boxes along a line (m, 2), or a closed loop, on a page, for words to keep off."""
    ahead = np.roll(line, -1, axis=0) if closed else line[1:]
    parts = []
    for here, there in zip(line, ahead, strict=False):
        count = max(1, int(np.hypot(*(there - here)) / _BEAD))
        parts.append(here + (there - here) * (np.arange(count) / count)[:, None])
    boxes = (Box(x - 0.4, y - 0.4, x + 0.4, y + 0.4) for x, y in np.concatenate(parts).tolist())
    return [box for box in boxes if page.overlaps(box)]


def _blocks(anchor: Point, width: float, height: float) -> tuple[Array, Array]:
    """Boxes (k, 4) round a point: left, bottom, right, top; and how far off each is."""
    found = [
        (distance, math.cos(math.radians(heading)), math.sin(math.radians(heading)))
        for distance in _DISTANCES
        for heading in _HEADINGS
    ]
    distances, dx, dy = np.array(found).T
    x = anchor[0] + dx * (distances + width / 2)
    y = anchor[1] + dy * (distances + height / 2)
    half = np.array([width, height]) / 2
    middles = np.stack([x, y], axis=1)
    return distances, np.concatenate([middles - half, middles + half], axis=1)


def _array(boxes: Sequence[Box]) -> Array:
    rows = [(box.left, box.bottom, box.right, box.top) for box in boxes]
    return np.array(rows, dtype=float).reshape(-1, 4)


def _inside(blocks: Array, page: Box) -> npt.NDArray[np.bool_]:
    low = blocks[:, :2] >= [page.left, page.bottom]
    high = blocks[:, 2:] <= [page.right, page.top]
    return np.asarray(np.all(low & high, axis=1))


def _over(blocks: Array, boxes: Sequence[Box]) -> npt.NDArray[np.bool_]:
    """Tell which of blocks (k, 4) share an area with any of some boxes."""
    a, b = blocks[:, None], _array(boxes)[None]
    common: npt.NDArray[np.bool_] = (a[..., :2] < b[..., 2:]) & (b[..., :2] < a[..., 2:])
    result: npt.NDArray[np.bool_] = np.any(np.all(common, axis=-1), axis=1)
    return result


def _crossed(anchor: Point, blocks: Array, boxes: Sequence[Box]) -> npt.NDArray[np.bool_]:
    """Tell which of blocks (k, 4) have a line to their anchor that goes across a box."""
    ends = np.clip(np.array(anchor), blocks[:, :2], blocks[:, 2:])
    parts = np.linspace(0.0, 0.9, 10)[:, None, None]
    points = ends + (np.array(anchor) - ends) * parts
    b = _array(boxes)
    over = (points[..., None, :] > b[:, :2]) & (points[..., None, :] < b[:, 2:])
    result: npt.NDArray[np.bool_] = np.any(np.all(over, axis=-1), axis=(0, 2))
    return result
