"""Exact distance from a point to convex solids, and its gradient; compiled.

Every function here returns `(d, gx, gy, gz)`: the distance in mm, negative inside a solid (then
minus the depth), and its gradient, of length 1, or 0 where the distance has none. The nearest
point of the surface is at q - d g.

All these distances are convex functions of the point, inside and out, and g is a subgradient:
d(q') >= d(q) + g.(q' - q) for every q'. The search for the least gap rests on that.

A solid is a kind and a row of 15 numbers: a point of its own (its centre; of a half-space a point
of its face), the three rows of the matrix that turns world directions into its own, and three
sizes (box: half edges; cylinder along its z: radius, half length, 0; ball: radius, 0, 0).
A triangle is a row of 9: one corner, and the two edges that leave it; a triangle whose second
edge is zero is a segment.
"""

from math import hypot, sqrt
from typing import TypeAlias

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

Distance: TypeAlias = tuple[float, float, float, float]

BOX, CYLINDER, BALL, HALFSPACE, TRIANGLES = 0, 1, 2, 3, 4


@compiled
def solid_distance(kind: int, shape: Array, x: float, y: float, z: float) -> Distance:
    """Signed distance of a point (x, y, z) in mm to a convex solid, and its gradient."""
    dx, dy, dz = x - shape[0], y - shape[1], z - shape[2]
    u = shape[3] * dx + shape[4] * dy + shape[5] * dz
    v = shape[6] * dx + shape[7] * dy + shape[8] * dz
    w = shape[9] * dx + shape[10] * dy + shape[11] * dz
    if kind == BOX:
        d, a, b, c = box_distance(u, v, w, shape[12], shape[13], shape[14])
    elif kind == CYLINDER:
        d, a, b, c = cylinder_distance(u, v, w, shape[12], shape[13])
    elif kind == BALL:
        d, a, b, c = ball_distance(u, v, w, shape[12])
    else:
        d, a, b, c = w, 0.0, 0.0, 1.0
    gx = shape[3] * a + shape[6] * b + shape[9] * c
    gy = shape[4] * a + shape[7] * b + shape[10] * c
    gz = shape[5] * a + shape[8] * b + shape[11] * c
    return d, gx, gy, gz


@compiled
def box_distance(u: float, v: float, w: float, a: float, b: float, c: float) -> Distance:
    """Signed distance to a box of half edges a, b, c about the origin, along the axes."""
    ou, ov, ow = abs(u) - a, abs(v) - b, abs(w) - c
    su = 1.0 if u >= 0 else -1.0
    sv = 1.0 if v >= 0 else -1.0
    sw = 1.0 if w >= 0 else -1.0
    if ou <= 0 and ov <= 0 and ow <= 0:
        if ou >= ov and ou >= ow:
            return ou, su, 0.0, 0.0
        if ov >= ow:
            return ov, 0.0, sv, 0.0
        return ow, 0.0, 0.0, sw
    ou, ov, ow = max(ou, 0.0), max(ov, 0.0), max(ow, 0.0)
    d = sqrt(ou * ou + ov * ov + ow * ow)
    return d, su * ou / d, sv * ov / d, sw * ow / d


@compiled
def cylinder_distance(u: float, v: float, w: float, radius: float, half: float) -> Distance:
    """Signed distance to a cylinder with flat ends about the origin, along w."""
    rho = hypot(u, v)
    out, beyond = rho - radius, abs(w) - half
    ru = u / rho if rho > 0 else 0.0
    rv = v / rho if rho > 0 else 0.0
    side = 1.0 if w >= 0 else -1.0
    if out <= 0 and beyond <= 0:
        if out >= beyond:
            return out, ru, rv, 0.0
        return beyond, 0.0, 0.0, side
    out, beyond = max(out, 0.0), max(beyond, 0.0)
    d = hypot(out, beyond)
    return d, ru * out / d, rv * out / d, side * beyond / d


@compiled
def ball_distance(u: float, v: float, w: float, radius: float) -> Distance:
    """Signed distance to a ball about the origin."""
    rho = sqrt(u * u + v * v + w * w)
    if rho == 0:
        return -radius, 0.0, 0.0, 0.0
    return rho - radius, u / rho, v / rho, w / rho


@compiled
def bounds_distance(boxes: Array, node: int, x: float, y: float, z: float) -> Distance:
    """Distance to a box along the world's axes, given by its corners in row `node`; 0 inside."""
    ox = max(boxes[node, 0] - x, 0.0, x - boxes[node, 3])
    oy = max(boxes[node, 1] - y, 0.0, y - boxes[node, 4])
    oz = max(boxes[node, 2] - z, 0.0, z - boxes[node, 5])
    d = sqrt(ox * ox + oy * oy + oz * oz)
    if d == 0:
        return 0.0, 0.0, 0.0, 0.0
    gx = ox / d if x > boxes[node, 3] else -ox / d
    gy = oy / d if y > boxes[node, 4] else -oy / d
    gz = oz / d if z > boxes[node, 5] else -oz / d
    return d, gx, gy, gz


@compiled
def triangle_distance(triangles: Array, i: int, x: float, y: float, z: float) -> Distance:
    """Distance to triangle (or segment) i."""
    row = triangles[i]
    px, py, pz = x - row[0], y - row[1], z - row[2]
    s, t = nearest_weights(row, px, py, pz)
    dx = px - s * row[3] - t * row[6]
    dy = py - s * row[4] - t * row[7]
    dz = pz - s * row[5] - t * row[8]
    d = sqrt(dx * dx + dy * dy + dz * dz)
    if d == 0:
        return 0.0, 0.0, 0.0, 0.0
    return d, dx / d, dy / d, dz / d


@compiled
def nearest_weights(row: Array, px: float, py: float, pz: float) -> tuple[float, float]:
    """Weights (s, t) of a triangle's edges at its point nearest to p, given from its corner.

    By the region of the triangle's plane in which p lies (Ericson, Real-Time Collision
    Detection, 2005, section 5.1.5).
    """
    bb = row[3] * row[3] + row[4] * row[4] + row[5] * row[5]
    cc = row[6] * row[6] + row[7] * row[7] + row[8] * row[8]
    bc = row[3] * row[6] + row[4] * row[7] + row[5] * row[8]
    bp = row[3] * px + row[4] * py + row[5] * pz
    cp = row[6] * px + row[7] * py + row[8] * pz
    along_b = (0.0, 0.0) if bp <= 0 else ((1.0, 0.0) if bp >= bb else (bp / bb, 0.0))
    if cc == 0:
        return along_b
    inside_t = bb * cp - bc * bp
    if inside_t <= 0 and bp > 0 and bp <= bb:
        return along_b
    inside_s = cc * bp - bc * cp
    if inside_s <= 0 and cp > 0 and cp <= cc:
        return 0.0, cp / cc
    if bp <= 0 and cp <= 0:
        return 0.0, 0.0
    return _far_or_inside(bb, cc, bc, bp, cp, inside_s, inside_t)


@compiled
def _far_or_inside(
    bb: float, cc: float, bc: float, bp: float, cp: float, inside_s: float, inside_t: float
) -> tuple[float, float]:
    """Weights at a corner away from the first one, on the edge between these, or inside."""
    if bp >= bb and cp - bc <= bp - bb:
        return 1.0, 0.0
    if cp >= cc and bp - bc <= cp - cc:
        return 0.0, 1.0
    whole = bb * cc - bc * bc
    if inside_s + inside_t >= whole:
        far = (cp - bc) - (bp - bb)
        w = min(max(far / (bb + cc - 2 * bc), 0.0), 1.0)
        return 1 - w, w
    return inside_s / whole, inside_t / whole
