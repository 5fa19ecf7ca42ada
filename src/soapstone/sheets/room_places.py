"""Where words find room in a drawing that is full: near what they belong to, and over nothing."""

import math
from collections.abc import Sequence
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


@dataclass(frozen=True, slots=True)
class Ground:
    """What words keep off on a page: always `taken`, which grows, and the others if they can.

    `tubes` and `edges` are boxes as `box_rows` gives them.
    """

    page: Box
    taken: list[Box]
    tubes: Array
    edges: Array

    def is_free(self, box: Box) -> bool:
        """Tell whether a box with a margin covers nothing at all."""
        own = box_rows([box.grown(GAP)])
        grounds = (box_rows(self.taken), self.tubes, self.edges)
        return not any(bool(_over(own, rows)[0]) for rows in grounds)

    def place(
        self, anchor: Point, width: float, height: float, *, on_tubes: bool = False
    ) -> tuple[Box, bool] | None:
        """Find the box of words of a size that belong to a point; tell if it covers nothing.

        None when there is no room anywhere near, if need be `on_tubes`. The box and the line to
        it become taken.
        """
        distances, blocks = _blocks(anchor, width, height)
        page = self.page
        inside = (blocks[:, :2] >= [page.left, page.bottom]).all(axis=1)
        inside &= (blocks[:, 2:] <= [page.right, page.top]).all(axis=1)
        blocks, distances = blocks[inside], distances[inside]
        taken = box_rows(self.taken)
        free = ~_over(blocks + np.array([-GAP, -GAP, GAP, GAP]), taken)
        if not on_tubes:
            free &= ~_over(blocks, self.tubes)
        blocks, distances = blocks[free], distances[free]
        if not len(blocks):
            return None
        tubes, edges = _over(blocks, self.tubes), _over(blocks, self.edges)
        across = _crossed(anchor, blocks, taken)
        costs = distances + _OVER_EDGES * edges + _OVER_TUBES * tubes + _ACROSS * across
        best = int(np.argmin(costs))
        left, bottom, right, top = blocks[best].tolist()
        block = Box(left, bottom, right, top)
        self.taken.append(block)
        self.taken.extend(beads(np.array([nearest(anchor, block), anchor]), page, closed=False))
        return block, not (tubes[best] or edges[best])


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


def box_rows(boxes: Sequence[Box]) -> Array:
    """Boxes as rows (k, 4): left, bottom, right, top."""
    rows = [(box.left, box.bottom, box.right, box.top) for box in boxes]
    return np.array(rows, dtype=float).reshape(-1, 4)


def _over(blocks: Array, boxes: Array) -> npt.NDArray[np.bool_]:
    """Tell which of blocks (k, 4) share an area with any of some boxes (m, 4)."""
    left, bottom, right, top = blocks.T[:, :, None]
    common = left < boxes[:, 2]
    common &= boxes[:, 0] < right
    common &= bottom < boxes[:, 3]
    common &= boxes[:, 1] < top
    result: npt.NDArray[np.bool_] = common.any(axis=1)
    return result


def _crossed(anchor: Point, blocks: Array, boxes: Array) -> npt.NDArray[np.bool_]:
    """Tell which of blocks (k, 4) have a line to their anchor that goes across a box (m, 4)."""
    ends = np.clip(np.array(anchor), blocks[:, :2], blocks[:, 2:])
    parts = np.linspace(0.0, 0.9, 16)[:, None, None]
    points = ends + (np.array(anchor) - ends) * parts
    over = (points[..., None, :] > boxes[:, :2]) & (points[..., None, :] < boxes[:, 2:])
    result: npt.NDArray[np.bool_] = np.any(np.all(over, axis=-1), axis=(0, 2))
    return result
