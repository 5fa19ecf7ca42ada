"""Inside or outside a mesh, by a ray from the point; compiled."""

from math import cos, inf, sin, sqrt
from typing import TypeAlias

import numpy as np

from soapstone.geometry.bvh import STACK, Links
from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import bounds_distance
from soapstone.geometry.mesh_shells import CLOSED, OPEN
from soapstone.geometry.vectors import Array

Point: TypeAlias = tuple[float, float, float]

TRIES = 12


@compiled
def is_inside(triangles: Array, boxes: Array, links: Links, x: float, y: float, z: float) -> bool:
    """Whether a point is inside the closed surfaces of a mesh.

    A ray from it counts each closed surface that it leaves as 1 and each that it enters as -1: not
    0 in the end is inside, also where two overlap, or the mesh is inside out. Surfaces whose
    triangles do not all go round the same way are counted by even and odd. When the ray passes so
    near an edge that it cannot be told which side, another is tried.
    """
    if bounds_distance(boxes, 0, x, y, z)[0] > 0:
        return False
    found = False
    for turn in range(TRIES):
        # directions spread over the sphere by the golden angle, none along an axis
        dz = 0.917 - 0.151 * turn
        across = sqrt(1 - dz * dz)
        dx, dy = across * cos(2.399963 * turn + 0.37), across * sin(2.399963 * turn + 0.37)
        left, muddled, doubtful = _cast(triangles, boxes, links, (x, y, z), (dx, dy, dz))
        found = left != 0 or muddled % 2 == 1
        if not doubtful:
            break
    return found


@compiled
def _cast(
    triangles: Array, boxes: Array, links: Links, at: Point, along: Point
) -> tuple[int, int, bool]:
    """Follow a ray to its end.

    Gives how many closed surfaces it leaves more than it enters, how often it crosses muddled ones,
    and whether it came too near an edge to be sure.
    """
    stack = np.empty(STACK, np.int32)
    stack[0] = 0
    waiting, left_behind, muddled = 1, 0, 0
    while waiting > 0:
        waiting -= 1
        node = stack[waiting]
        if not _ray_meets_box(boxes, node, at, along):
            continue
        left, right = links[node]
        if left >= 0:
            stack[waiting], stack[waiting + 1] = left, right
            waiting += 2
            continue
        for i in range(-1 - left, -1 - left + right):
            if triangles[i, 9] == OPEN:
                continue
            hit = _ray_meets_triangle(triangles[i], at, along)
            if hit == 2:
                return left_behind, muddled, True
            if triangles[i, 9] == CLOSED:
                left_behind += hit
            else:
                muddled += abs(hit)
    return left_behind, muddled, False


@compiled
def _ray_meets_box(boxes: Array, node: int, at: Point, along: Point) -> bool:
    near, far = 0.0, inf
    for k in range(3):
        a, b = (boxes[node, k] - at[k]) / along[k], (boxes[node, 3 + k] - at[k]) / along[k]
        near, far = max(near, min(a, b)), min(far, max(a, b))
    return near <= far * (1 + 1e-12) + 1e-9


@compiled
def _ray_meets_triangle(row: Array, at: Point, along: Point) -> int:
    """1: left through it, -1: entered through it, 0: missed, 2: too near an edge to say.

    T. Moller, B. Trumbore, Journal of Graphics Tools 2 (1997) 21.
    """
    bx, by, bz, cx, cy, cz = row[3], row[4], row[5], row[6], row[7], row[8]
    px, py = along[1] * cz - along[2] * cy, along[2] * cx - along[0] * cz
    pz = along[0] * cy - along[1] * cx
    det = bx * px + by * py + bz * pz
    sx, sy, sz = at[0] - row[0], at[1] - row[1], at[2] - row[2]
    size = sqrt((bx * bx + by * by + bz * bz) * (cx * cx + cy * cy + cz * cz))
    if size == 0:
        return 0
    qx, qy, qz = sy * bz - sz * by, sz * bx - sx * bz, sx * by - sy * bx
    # det is -(normal . direction): positive where the ray comes from outside
    side = 1.0 if det >= 0 else -1.0
    det *= side
    u = side * (sx * px + sy * py + sz * pz)
    v = side * (along[0] * qx + along[1] * qy + along[2] * qz)
    doubt = 1e-10 * (size + sqrt(size) * (abs(sx) + abs(sy) + abs(sz)))
    if u < -doubt or v < -doubt or u + v > det + doubt:
        return 0
    t = side * (cx * qx + cy * qy + cz * qz)
    if u > doubt and v > doubt and u + v < det - doubt:
        return 0 if t <= 0 else (-1 if side > 0 else 1)
    return 2 if t > -doubt else 0
