"""Which parts of a mesh enclose something.

A mesh from a file is often several surfaces: closed parts of a machine, and beside them open
sheets, or a part with a hole. Each surface that hangs together is judged by itself.
"""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.solids import LEAST_SIZE, Mesh

Shells: TypeAlias = npt.NDArray[np.int8]

OPEN, CLOSED, MUDDLED = 0, 1, 2
"""Of a triangle: its surface has a free edge; it has none, and its triangles go round the same way
from neighbour to neighbour; it has none, and they do not."""


def shells(mesh: Mesh) -> Shells:
    """Tell of each triangle (m,) whether its surface is `OPEN`, `CLOSED` or `MUDDLED`.

    An edge is free when an odd number of triangles meet at it. Vertices in one place count as one
    (STL repeats them for every triangle), to 1 part in 2 million of the mesh's extent; triangles
    that are points or lines then are passed over.
    """
    places = _places(mesh)
    corners = places[mesh.faces]
    surface = _surfaces(corners, int(places.max()) + 1)
    whole = np.ones(len(corners), dtype=bool)
    for i in range(3):
        whole &= corners[:, i] != corners[:, (i + 1) % 3]
    start = corners[whole].T.ravel()
    end = corners[whole][:, [1, 2, 0]].T.ravel()
    key = np.minimum(start, end) * (int(places.max()) + 1) + np.maximum(start, end)
    _, first, edge, count = np.unique(
        key, return_index=True, return_inverse=True, return_counts=True
    )
    # where neighbours go round the same way they pass their edge in opposite directions
    balance = np.bincount(edge, np.where(start < end, 1.0, -1.0), len(count))
    kinds = np.full(int(surface.max()) + 1, CLOSED, dtype=np.int8)
    kinds[surface[start[first[balance != 0]]]] = MUDDLED
    kinds[surface[start[first[count % 2 == 1]]]] = OPEN
    return kinds[surface[corners[:, 0]]]


def is_closed(mesh: Mesh) -> bool:
    """Whether no surface of the mesh has a free edge."""
    return bool((shells(mesh) != OPEN).all())


def _surfaces(corners: npt.NDArray[np.int64], count: int) -> npt.NDArray[np.int32]:
    """Give each of `count` places the number of the surface it belongs to."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    start, end = corners[:, [0, 1]].T.ravel(), corners[:, [1, 2]].T.ravel()
    links = coo_array((np.ones(len(start), dtype=np.int8), (start, end)), shape=(count, count))
    found: npt.NDArray[np.int32] = connected_components(links, directed=False)[1]
    return found


def _places(mesh: Mesh) -> npt.NDArray[np.int64]:
    """Give each vertex the number (n,) of its place: those in one place share it."""
    low = mesh.vertices.min(axis=0)
    extent = max(float(np.ptp(mesh.vertices, axis=0).max()), LEAST_SIZE)
    steps = np.rint((mesh.vertices - low) * ((2**21 - 1) / extent)).astype(np.int64)
    keys = (steps[:, 0] << 42) | (steps[:, 1] << 21) | steps[:, 2]
    return np.unique(keys, return_inverse=True)[1]
