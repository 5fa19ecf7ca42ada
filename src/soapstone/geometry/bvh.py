"""A tree of boxes round triangles, and the nearest triangle to a point.

The tree is two arrays. `boxes` (n, 6): least and greatest corner of all that is below a node.
`links` (n, 2): of an inner node its two children; of a leaf -1 - (its first triangle) and how many
it has. Node 0 is the root. Triangles lie in leaf order, as rows of 10: see `distance_kernels` for
the first 9; the last says what surface it is part of (see `mesh_shells`).
"""

from dataclasses import dataclass
from math import inf
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import bounds_distance, triangle_distance
from soapstone.geometry.mesh_shells import OPEN, Shells
from soapstone.geometry.vectors import Array, cross, norm

Links: TypeAlias = npt.NDArray[np.int32]
Order: TypeAlias = npt.NDArray[np.int64]

LEAF = 4
BINS = 16
STACK = 128
MEDIAN_BELOW = 40
"""Levels of the tree below which nodes are halved by count, so that its depth stays bounded."""

SLIVER = 1e-12
"""A triangle whose area is less than this part of its longest edge's square is a segment."""


@dataclass(frozen=True, slots=True, eq=False)
class Tree:
    """Triangles (n, 10) in leaf order and the boxes round them."""

    triangles: Array
    boxes: Array
    links: Links


def tree_of(corners: Array, kinds: Shells | None = None) -> Tree:
    """Build the tree of triangles given by their corners (n, 3, 3) in mm.

    `kinds` (n,) are those of `mesh_shells`; left out, all is open. Of a triangle without area its
    longest edge is kept, which covers the same points.
    """
    rows = np.zeros((len(corners), 10))
    rows[:, :9] = _rows(np.ascontiguousarray(corners, dtype=np.float64))
    rows[:, 9] = OPEN if kinds is None else kinds
    ends = np.stack([rows[:, 0:3], rows[:, 0:3] + rows[:, 3:6], rows[:, 0:3] + rows[:, 6:9]])
    order, boxes, links = build(ends.min(axis=0), ends.max(axis=0))
    return Tree(np.ascontiguousarray(rows[order]), boxes, links)


def _rows(corners: Array) -> Array:
    edges = np.roll(corners, -1, axis=1) - corners
    lengths = norm(edges)
    longest = lengths.argmax(axis=1)
    area = norm(cross(edges[:, 0], edges[:, 1]))
    index = np.arange(len(corners))
    first = corners[index, longest]
    along = edges[index, longest]
    third = corners[index, (longest + 2) % 3] - first
    third[area <= SLIVER * lengths[index, longest] ** 2] = 0.0
    return np.concatenate([first, along, third], axis=1)


@compiled
def build(low: Array, high: Array) -> tuple[Order, Array, Links]:
    """Order of the elements, boxes and links of a tree over boxes (n, 3), (n, 3)."""
    count = len(low)
    order = np.arange(count)
    middle = (low + high) / 2
    boxes = np.empty((2 * count, 6))
    links = np.zeros((2 * count, 2), np.int32)
    todo = np.empty((4 * MEDIAN_BELOW + STACK, 4), np.int64)
    todo[0, 0], todo[0, 1], todo[0, 2], todo[0, 3] = 0, 0, count, 0
    waiting, nodes = 1, 1
    while waiting > 0:
        waiting -= 1
        node, start, end, depth = todo[waiting]
        _enclose(boxes, node, order, start, end, low, high)
        if end - start <= LEAF:
            links[node, 0], links[node, 1] = -1 - start, end - start
            continue
        split = start
        if depth < MEDIAN_BELOW:
            split = _partition(order, start, end, low, high, middle)
        if split in (start, end):
            split = _halve(order, start, end, middle)
        links[node, 0], links[node, 1] = nodes, nodes + 1
        todo[waiting, 0], todo[waiting, 1], todo[waiting, 2] = nodes, start, split
        todo[waiting + 1, 0], todo[waiting + 1, 1], todo[waiting + 1, 2] = nodes + 1, split, end
        todo[waiting, 3], todo[waiting + 1, 3] = depth + 1, depth + 1
        waiting += 2
        nodes += 2
    return order, boxes[:nodes].copy(), links[:nodes].copy()


@compiled
def _enclose(
    boxes: Array, node: int, order: Order, start: int, end: int, low: Array, high: Array
) -> None:
    for axis in range(3):
        least, greatest = inf, -inf
        for i in range(start, end):
            least = min(least, low[order[i], axis])
            greatest = max(greatest, high[order[i], axis])
        boxes[node, axis], boxes[node, 3 + axis] = least, greatest


@compiled
def _widest(order: Order, start: int, end: int, middle: Array) -> tuple[int, float, float]:
    """Axis along which the middles spread most, their least value and their spread there."""
    best, origin, spread = 0, 0.0, -1.0
    for axis in range(3):
        least, greatest = inf, -inf
        for i in range(start, end):
            least = min(least, middle[order[i], axis])
            greatest = max(greatest, middle[order[i], axis])
        if greatest - least > spread:
            best, origin, spread = axis, least, greatest - least
    return best, origin, spread


@compiled
def _partition(order: Order, start: int, end: int, low: Array, high: Array, middle: Array) -> int:
    """Bring elements to the two sides of the cut with the least surface; give where it falls."""
    axis, origin, spread = _widest(order, start, end, middle)
    if spread <= 0:
        return start
    scale = BINS * (1 - 1e-9) / spread
    counts = np.zeros(BINS, np.int64)
    bounds = np.empty((BINS, 6))
    bounds[:, :3], bounds[:, 3:] = inf, -inf
    for i in range(start, end):
        e = order[i]
        b = int((middle[e, axis] - origin) * scale)
        counts[b] += 1
        for k in range(3):
            bounds[b, k] = min(bounds[b, k], low[e, k])
            bounds[b, 3 + k] = max(bounds[b, 3 + k], high[e, k])
    cut = _best_cut(counts, bounds)
    i, j = start, end - 1
    while i <= j:
        if int((middle[order[i], axis] - origin) * scale) < cut:
            i += 1
        else:
            order[i], order[j] = order[j], order[i]
            j -= 1
    return i


@compiled
def _best_cut(counts: Order, bounds: Array) -> int:
    """Bin before which to cut: least sum over both sides of surface times number of elements."""
    above = np.zeros(BINS)
    total, grown = 0, np.array([inf, inf, inf, -inf, -inf, -inf])
    for b in range(BINS - 1, 0, -1):
        total += counts[b]
        _grow(grown, bounds[b])
        above[b] = total * _surface(grown) if total > 0 else 0.0
    best, cut = inf, 1
    total, grown = 0, np.array([inf, inf, inf, -inf, -inf, -inf])
    for b in range(1, BINS):
        total += counts[b - 1]
        _grow(grown, bounds[b - 1])
        cost = above[b] + (total * _surface(grown) if total > 0 else 0.0)
        if cost < best:
            best, cut = cost, b
    return cut


@compiled
def _grow(box: Array, other: Array) -> None:
    for k in range(3):
        box[k] = min(box[k], other[k])
        box[3 + k] = max(box[3 + k], other[3 + k])


@compiled
def _surface(box: Array) -> float:
    a, b, c = box[3] - box[0], box[4] - box[1], box[5] - box[2]
    return float(a * b + b * c + c * a)


@compiled
def _halve(order: Order, start: int, end: int, middle: Array) -> int:
    axis = _widest(order, start, end, middle)[0]
    part = order[start:end].copy()
    order[start:end] = part[np.argsort(middle[part, axis])]
    return (start + end) // 2


@compiled
def nearest(
    triangles: Array, boxes: Array, links: Links, x: float, y: float, z: float, within: float
) -> tuple[float, int]:
    """Distance to the nearest triangle and its index; (`within`, -1) when none is nearer."""
    stack = np.empty(STACK, np.int32)
    reach = np.empty(STACK)
    stack[0], reach[0] = 0, bounds_distance(boxes, 0, x, y, z)[0]
    waiting, best, found = 1, within, -1
    while waiting > 0:
        waiting -= 1
        if reach[waiting] >= best:
            continue
        left, right = links[stack[waiting]]
        if left < 0:
            for i in range(-1 - left, -1 - left + right):
                d = triangle_distance(triangles, i, x, y, z)[0]
                if d < best:
                    best, found = d, i
            continue
        near = bounds_distance(boxes, left, x, y, z)[0]
        far = bounds_distance(boxes, right, x, y, z)[0]
        if near > far:
            left, right, near, far = right, left, far, near
        stack[waiting], reach[waiting] = right, far
        stack[waiting + 1], reach[waiting + 1] = left, near
        waiting += 2
    return best, found
