"""A mesh as boxes for the compiled search: a tree of boxes that together cover its surface.

The search works on convex solids. Cells of a cubic grid that the surface passes through become
boxes, shrunk to what of the surface lies in them; cells inside a closed mesh are filled. Boxes
cover the mesh, so a tube clear of them is clear of it; the certificate is about the mesh itself.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapstone.geometry.solids import Mesh, is_closed
from soapstone.geometry.vectors import Array

Ints = npt.NDArray[np.int64]

LEAF = 6
"""Boxes that one bottom group of the tree holds."""


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes (n, 3) and (n, 3), least and greatest corners, in the room's axes."""

    low: Array
    high: Array


def boxes_of(mesh: Mesh, cells: int, refine: tuple[Array, float, int] | None = None) -> Boxes:
    """Cover a mesh with boxes from a grid of `cells` along its longest side.

    `refine`: points (m, 3), a distance and a number: cells nearer than the distance to one of the
    points are cut into that many along each side.
    """
    triangles = mesh.triangles()
    low = triangles.min(axis=(0, 1))
    size = max(float(np.ptp(triangles, axis=(0, 1)).max()), 1e-6) / cells
    filled = is_closed(mesh)
    shape = np.floor(np.ptp(triangles, axis=(0, 1)) / size).astype(int) + 1
    coarse = _cover(triangles, low, size, shape, filled)
    if refine is None:
        return _merged(coarse)
    points, within, parts = refine
    middle = (coarse.low + coarse.high) / 2
    near = _nearest(middle, points) < within + size
    fine = _cover(triangles, low, size / parts, shape * parts, filled)
    fine_near = _nearest((fine.low + fine.high) / 2, points) < within + 3 * size
    kept = Boxes(coarse.low[~near], coarse.high[~near])
    added = Boxes(fine.low[fine_near], fine.high[fine_near])
    return _merged(
        Boxes(np.concatenate([kept.low, added.low]), np.concatenate([kept.high, added.high]))
    )


def _nearest(places: Array, points: Array) -> Array:
    from scipy.spatial import cKDTree

    result: Array = cKDTree(points).query(places)[0]
    return result


def _cover(triangles: Array, low: Array, size: float, shape: Ints, filled: bool) -> Boxes:
    """Give the boxes of the grid's cells, not yet merged."""
    small = _split(triangles, 1.2 * size)
    least, most = small.min(axis=1), small.max(axis=1)
    first = np.clip(np.floor((least - low) / size).astype(int), 0, shape - 1)
    last = np.clip(np.floor((most - low) / size).astype(int), 0, shape - 1)
    total = int(np.prod(shape))
    box_low, box_high = np.full((total, 3), np.inf), np.full((total, 3), -np.inf)
    for step in np.ndindex(3, 3, 3):
        cell = first + np.array(step)
        held = np.all(cell <= last, axis=1)
        at = np.ravel_multi_index(tuple(cell[held].T), tuple(shape))
        corner = low + cell[held] * size
        np.minimum.at(box_low, at, np.maximum(least[held], corner))
        np.maximum.at(box_high, at, np.minimum(most[held], corner + size))
    surface = np.isfinite(box_low[:, 0])
    if filled:
        inner = np.flatnonzero(_inside(surface.reshape(shape)).ravel())
        corner = low + np.stack(np.unravel_index(inner, tuple(shape)), axis=1) * size
        box_low[inner], box_high[inner] = corner, corner + size
        surface[inner] = True
    return Boxes(box_low[surface], np.maximum(box_high[surface], box_low[surface] + 1e-3))


def _split(triangles: Array, most: float) -> Array:
    """Halve triangles at their longest edges until none is longer than `most`."""
    done = []
    while len(triangles):
        edges = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
        longest = edges.argmax(axis=1)
        small = edges.max(axis=1) <= most
        done.append(triangles[small])
        rows, longest = np.flatnonzero(~small), longest[~small]
        a = triangles[rows, longest]
        b = triangles[rows, (longest + 1) % 3]
        c = triangles[rows, (longest + 2) % 3]
        middle = (a + b) / 2
        halves = [np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)]
        triangles = np.concatenate(halves)
    return np.concatenate(done)


def _inside(surface: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Cells that no way through empty cells joins to the outside."""
    from scipy.ndimage import label

    empty = np.pad(~surface, 1, constant_values=True)
    names = label(empty)[0]
    inside: npt.NDArray[np.bool_] = (empty & (names != names[0, 0, 0]))[1:-1, 1:-1, 1:-1]
    return inside


def _merged(boxes: Boxes) -> Boxes:
    """Join boxes that together make one, along x, then y, then z."""
    low, high = boxes.low, boxes.high
    for axis in range(3):
        others = [a for a in range(3) if a != axis]
        keys = np.concatenate([low[:, others], high[:, others]], axis=1).round(4)
        order = np.lexsort((low[:, axis], *keys.T))
        low, high, keys = low[order], high[order], keys[order]
        same = np.all(keys[1:] == keys[:-1], axis=1)
        same &= low[1:, axis] <= high[:-1, axis] + 1e-4
        starts = np.flatnonzero(np.concatenate([[True], ~same]))
        ends = np.append(starts[1:], len(low)) - 1
        tops = np.maximum.reduceat(high[:, axis], starts)
        low, high = low[starts], high[ends]
        high[:, axis] = tops
    return Boxes(low, high)


def tree_order(boxes: Boxes) -> tuple[list[int], list[tuple[int, int]]]:
    """Order of the boxes, and groups over it, as a tree in the order in which it is walked.

    Gives box numbers in order, and groups (first, count) of that order: parents before children.
    """
    middle = (boxes.low + boxes.high) / 2
    order: list[int] = []
    groups: list[tuple[int, int]] = []

    def walk(rows: Ints) -> None:
        groups.append((len(order), len(rows)))
        if len(rows) <= LEAF:
            order.extend(int(row) for row in rows)
            return
        axis = int(np.ptp(middle[rows], axis=0).argmax())
        ranked = rows[np.argsort(middle[rows, axis], kind="stable")]
        walk(ranked[: len(ranked) // 2])
        walk(ranked[len(ranked) // 2 :])

    walk(np.arange(len(boxes.low)))
    return order, groups
