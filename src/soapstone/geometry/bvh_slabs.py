"""Slabs round what is below each node of a tree (see `bvh`), along its mean normal; compiled.

A wall that stands askew fills little of its box: where a point is as far from many parts of a wall
as deep inside a hose, a slab tells far better than a box how near they can be.
"""

from math import inf, sqrt

import numpy as np

from soapstone.geometry.bvh import Links
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

ROUNDING = 1e-9
"""mm by which every slab is thicker than worked out."""


@compiled
def slabs_of(triangles: Array, links: Links) -> Array:
    """Slabs (n, 5) of a tree's nodes: unit normal, and the least and greatest height along it."""
    slabs = np.zeros((len(links), 5))
    spans = np.empty((len(links), 2), np.int64)
    # children come after their parents
    for node in range(len(links) - 1, -1, -1):
        left, right = links[node]
        if left < 0:
            spans[node, 0], spans[node, 1] = -1 - left, -1 - left + right
            for i in range(spans[node, 0], spans[node, 1]):
                _add_normal(slabs[node], triangles[i])
        else:
            spans[node, 0], spans[node, 1] = spans[left, 0], spans[right, 1]
            for k in range(3):
                slabs[node, k] = slabs[left, k] + slabs[right, k]
    for node in range(len(links)):
        _measure(slabs[node], triangles, spans[node, 0], spans[node, 1])
    return slabs


@compiled
def _add_normal(slab: Array, row: Array) -> None:
    """Add twice a triangle's area along its normal."""
    slab[0] += row[4] * row[8] - row[5] * row[7]
    slab[1] += row[5] * row[6] - row[3] * row[8]
    slab[2] += row[3] * row[7] - row[4] * row[6]


@compiled
def _measure(slab: Array, triangles: Array, start: int, end: int) -> None:
    x, y, z = slab[0], slab[1], slab[2]
    size = sqrt(x * x + y * y + z * z)
    if size > 0:
        x, y, z = x / size, y / size, z / size
    else:
        x, y, z = 1.0, 0.0, 0.0
    low, high = inf, -inf
    for i in range(start, end):
        row = triangles[i]
        first = x * row[0] + y * row[1] + z * row[2]
        second = x * row[3] + y * row[4] + z * row[5]
        third = x * row[6] + y * row[7] + z * row[8]
        low = min(low, first + min(0.0, second, third))
        high = max(high, first + max(0.0, second, third))
    slab[0], slab[1], slab[2], slab[3], slab[4] = x, y, z, low - ROUNDING, high + ROUNDING


@compiled
def slab_distance(slabs: Array, node: int, x: float, y: float, z: float) -> float:
    """Distance of a point from a node's slab; 0 inside."""
    height = slabs[node, 0] * x + slabs[node, 1] * y + slabs[node, 2] * z
    return float(max(slabs[node, 3] - height, height - slabs[node, 4], 0.0))
