"""Signed distances of points to many solids at once, each in its nearest pose; compiled.

Made for callers that are compiled themselves: a `Field` is a tuple of plain arrays, and
`field_distance` may be called inside another compiled function.
"""

from math import inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from soapstone.geometry.bvh import Links, nearest
from soapstone.geometry.bvh_rays import is_inside
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import (
    TRIANGLES,
    bounds_distance,
    solid_distance,
    triangle_distance,
)
from soapstone.geometry.vectors import Array


class Field(NamedTuple):
    """Solids as arrays; solid i of n.

    Attributes
    ----------
    kinds, shapes
        (n,), (n, 15): see `distance_kernels`.
    thickness
        (n,): mm to take off the distance to triangles (the radius of a rod; else 0).
    closed
        (n,): whether triangles enclose a solid, whose inside counts as negative.
    triangle_from, node_from
        (n + 1,): which rows of `triangles`, and of `boxes` and `links`, are the solid's.
    triangles, boxes, links
        The trees of all solids, one after another (see `bvh`).
    pose_from
        (n + 1,): which rows of `poses` are the solid's.
    poses
        (m, 12): rows of a matrix A, then b: the point seen from the swung solid is A p + b.
    angles
        (m, 8): the angles in degrees of up to 8 hinges of each pose, first to last; else 0.
    """

    kinds: npt.NDArray[np.int64]
    shapes: Array
    thickness: Array
    closed: npt.NDArray[np.bool_]
    triangle_from: npt.NDArray[np.int64]
    node_from: npt.NDArray[np.int64]
    triangles: Array
    boxes: Array
    links: Links
    pose_from: npt.NDArray[np.int64]
    poses: Array
    angles: Array


@compiled
def field_distance(
    field: Field, i: int, x: float, y: float, z: float, within: float
) -> tuple[float, float, float, float, int]:
    """Signed distance of a point to solid i in the pose that brings it nearest.

    Gives d, its gradient at the point, and the row of that pose. When no pose is nearer than
    `within`, d is `within`, the gradient 0 and the row -1.
    """
    best, gx, gy, gz, pose = within, 0.0, 0.0, 0.0, -1
    for row in range(field.pose_from[i], field.pose_from[i + 1]):
        a = field.poses[row]
        u = a[0] * x + a[1] * y + a[2] * z + a[9]
        v = a[3] * x + a[4] * y + a[5] * z + a[10]
        w = a[6] * x + a[7] * y + a[8] * z + a[11]
        if field.kinds[i] == TRIANGLES:
            d, p, q, r = _mesh_distance(field, i, u, v, w, best)
        else:
            d, p, q, r = solid_distance(field.kinds[i], field.shapes[i], u, v, w)
        if d < best:
            best, pose = d, row
            gx = a[0] * p + a[3] * q + a[6] * r
            gy = a[1] * p + a[4] * q + a[7] * r
            gz = a[2] * p + a[5] * q + a[8] * r
    return best, gx, gy, gz, pose


@compiled
def _mesh_distance(
    field: Field, i: int, x: float, y: float, z: float, within: float
) -> tuple[float, float, float, float]:
    triangles = field.triangles[field.triangle_from[i] : field.triangle_from[i + 1]]
    boxes = field.boxes[field.node_from[i] : field.node_from[i + 1]]
    links = field.links[field.node_from[i] : field.node_from[i + 1]]
    thick = field.thickness[i]
    inside = (
        field.closed[i]
        and bounds_distance(boxes, 0, x, y, z)[0] == 0
        and is_inside(triangles, boxes, links, x, y, z)
    )
    found = nearest(triangles, boxes, links, x, y, z, inf if inside else within + thick)[1]
    if found < 0:
        return within, 0.0, 0.0, 0.0
    d, gx, gy, gz = triangle_distance(triangles, found, x, y, z)
    if inside:
        return -d, -gx, -gy, -gz
    return d - thick, gx, gy, gz


@compiled
def field_distances(
    field: Field, points: Array, within: float
) -> tuple[Array, Array, npt.NDArray[np.int64]]:
    """Signed distances (p, n) of points (p, 3) to n solids, gradients (p, n, 3) and poses (p, n).

    Each as `field_distance` gives it.
    """
    count = len(field.kinds)
    distances, gradients = np.empty((len(points), count)), np.empty((len(points), count, 3))
    poses = np.empty((len(points), count), np.int64)
    for k in range(len(points)):
        x, y, z = points[k]
        for i in range(count):
            d, gx, gy, gz, pose = field_distance(field, i, x, y, z, within)
            distances[k, i], poses[k, i] = d, pose
            gradients[k, i, 0], gradients[k, i, 1], gradients[k, i, 2] = gx, gy, gz
    return distances, gradients, poses
