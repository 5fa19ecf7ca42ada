"""A tree of boxes round triangles, and what is asked of it: the nearest, and inside or outside.

The tree is two arrays. `boxes` (n, 6): least and greatest corner of all that is below a node.
`links` (n, 2): of an inner node its two children; of a leaf -1 - (its first triangle) and how many
it has. Node 0 is the root. Triangles lie in leaf order, as rows of 9 (see `distance_kernels`).
"""

from dataclasses import dataclass
from math import inf
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import bounds_distance, triangle_distance
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
    """Triangles (n, 9) in leaf order and the boxes round them."""

    triangles: Array
    boxes: Array
    links: Links


def tree_of(corners: Array) -> Tree:
    """Build the tree of triangles given by their corners (n, 3, 3) in mm.

    Of a triangle without area its longest edge is kept, which covers the same points.
    """
    rows = _rows(np.ascontiguousarray(corners, dtype=np.float64))
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


@compiled
def is_inside(triangles: Array, boxes: Array, links: Links, x: float, y: float, z: float) -> bool:
    """Whether a point is inside a closed mesh: a ray from it crosses it an odd number of times.

    When the ray passes so near an edge that it cannot be told which side, another is tried.
    """
    if bounds_distance(boxes, 0, x, y, z)[0] > 0:
        return False
    odd = False
    for turn in range(12):
        # directions spread over the sphere by the golden angle, none along an axis
        dz = 0.917 - 0.151 * turn
        across = np.sqrt(1 - dz * dz)
        dx, dy = across * np.cos(2.399963 * turn + 0.37), across * np.sin(2.399963 * turn + 0.37)
        crossings, doubtful = _cast(triangles, boxes, links, (x, y, z), (dx, dy, dz))
        odd = crossings % 2 == 1
        if not doubtful:
            break
    return odd


Point: TypeAlias = tuple[float, float, float]


@compiled
def _cast(
    triangles: Array, boxes: Array, links: Links, at: Point, along: Point
) -> tuple[int, bool]:
    """How many triangles a ray crosses, and whether it came too near an edge to be sure."""
    stack = np.empty(STACK, np.int32)
    stack[0] = 0
    waiting, crossings = 1, 0
    while waiting > 0:
        waiting -= 1
        node = stack[waiting]
        if not _ray_meets_box(boxes[node], at, along):
            continue
        left, right = links[node]
        if left >= 0:
            stack[waiting], stack[waiting + 1] = left, right
            waiting += 2
            continue
        for i in range(-1 - left, -1 - left + right):
            hit = _ray_meets_triangle(triangles[i], at, along)
            if hit < 0:
                return crossings, True
            crossings += hit
    return crossings, False


@compiled
def _ray_meets_box(box: Array, at: Point, along: Point) -> bool:
    near, far = 0.0, inf
    for k in range(3):
        a, b = (box[k] - at[k]) / along[k], (box[3 + k] - at[k]) / along[k]
        near, far = max(near, min(a, b)), min(far, max(a, b))
    return near <= far * (1 + 1e-12) + 1e-9


@compiled
def _ray_meets_triangle(row: Array, at: Point, along: Point) -> int:
    """1: crossed, 0: missed, -1: too near an edge to say (Moller and Trumbore, 1997)."""
    bx, by, bz, cx, cy, cz = row[3], row[4], row[5], row[6], row[7], row[8]
    px, py = along[1] * cz - along[2] * cy, along[2] * cx - along[0] * cz
    pz = along[0] * cy - along[1] * cx
    det = bx * px + by * py + bz * pz
    sx, sy, sz = at[0] - row[0], at[1] - row[1], at[2] - row[2]
    size = np.sqrt((bx * bx + by * by + bz * bz) * (cx * cx + cy * cy + cz * cz))
    if size == 0:
        return 0
    qx, qy, qz = sy * bz - sz * by, sz * bx - sx * bz, sx * by - sy * bx
    side = 1.0 if det >= 0 else -1.0
    det *= side
    u = side * (sx * px + sy * py + sz * pz)
    v = side * (along[0] * qx + along[1] * qy + along[2] * qz)
    doubt = 1e-10 * (size + np.sqrt(size) * (abs(sx) + abs(sy) + abs(sz)))
    if u < -doubt or v < -doubt or u + v > det + doubt:
        return 0
    t = side * (cx * qx + cy * qy + cz * qz)
    if u > doubt and v > doubt and u + v < det - doubt:
        return 1 if t > 0 else 0
    return -1 if t > -doubt else 0
