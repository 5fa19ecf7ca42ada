"""Compiled distances from a straight or an arc to one solid, with the way to move clear of it.

Everything is in the solid's own frame. `d` is the signed distance of the nearest (or deepest)
point, negative inside, and (gx, gy, gz) the direction in which it grows. These steer the search;
the certificate is given elsewhere.
"""

# ruff: noqa: C901, PLR0912

import math

from soapstone.geometry.compiled import compiled
from soapstone.geometry.distance_kernels import ball_distance, box_distance, cylinder_distance

Touch = tuple[float, float, float, float]
TouchAt = tuple[float, float, float, float, float]

BOX, CYLINDER, BALL, HALFSPACE, CAPSULE, MESH = 0, 1, 2, 3, 4, 5
"""Kinds of solids; all but a mesh are convex."""

STRAIGHT, ARC = 0, 1
"""Kinds of pieces of a tube."""


@compiled
def point_distance(
    kind: int, h0: float, h1: float, h2: float, x: float, y: float, z: float
) -> Touch:
    """Signed distance and its gradient: (d, gx, gy, gz).

    h0, h1, h2: half edges of a box; radius and half length (along z) of a cylinder or of the
    straight part of a capsule; radius of a ball. A halfspace is solid below z = 0. Each is
    convex, so d is convex along any straight.
    """
    if kind == BOX:
        return box_distance(x, y, z, h0, h1, h2)
    if kind == CYLINDER:
        return cylinder_distance(x, y, z, h0, h1)
    if kind == BALL:
        return ball_distance(x, y, z, h0)
    if kind == CAPSULE:
        return ball_distance(x, y, z - min(max(z, -h1), h1), h0)
    return z, 0.0, 0.0, 1.0


@compiled
def straight_distance(
    kind: int,
    h0: float,
    h1: float,
    h2: float,
    ax: float,
    ay: float,
    az: float,
    wx: float,
    wy: float,
    wz: float,
    enough: float,
) -> TouchAt:
    """Least distance along a + t w, t in [0, 1]: (d, t, gx, gy, gz).

    The tangents at the two ends of an interval bound a convex function from below; where they
    cross is tried next. Stops early when the bound shows that d exceeds `enough`. A straight that
    goes through the solid is given how far it must be shifted to be out of it, not how deep one
    of its points lies: that is what shows the way to the edge of a window.
    """
    lo, hi = 0.0, 1.0
    dlo, gx, gy, gz = point_distance(kind, h0, h1, h2, ax, ay, az)
    slo = gx * wx + gy * wy + gz * wz
    best, t = dlo, 0.0
    bx, by, bz = gx, gy, gz
    if slo < 0.0:
        dhi, gx, gy, gz = point_distance(kind, h0, h1, h2, ax + wx, ay + wy, az + wz)
        shi = gx * wx + gy * wy + gz * wz
        if dhi < best:
            best, t, bx, by, bz = dhi, 1.0, gx, gy, gz
        if shi > 0.0:
            for _ in range(24):
                span = hi - lo
                cut = (dlo - dhi - slo * lo + shi * hi) / (shi - slo)
                floor = dlo + slo * (cut - lo)
                if floor > enough or best - floor < 1e-4 or span < 1e-7:
                    break
                cut = min(max(cut, lo + 0.05 * span), hi - 0.05 * span)
                d, gx, gy, gz = point_distance(
                    kind, h0, h1, h2, ax + cut * wx, ay + cut * wy, az + cut * wz
                )
                slope = gx * wx + gy * wy + gz * wz
                if d < best:
                    best, t, bx, by, bz = d, cut, gx, gy, gz
                if slope < 0.0:
                    lo, dlo, slo = cut, d, slope
                else:
                    hi, dhi, shi = cut, d, slope
    if best < 0.0 and kind <= CYLINDER:
        if kind == BOX:
            return _shift_from_box(h0, h1, h2, ax, ay, az, wx, wy, wz, t)
        return _shift_from_cylinder(h0, h1, ax, ay, az, wx, wy, wz, t)
    return best, t, bx, by, bz


@compiled
def _shift_from_box(
    h0: float,
    h1: float,
    h2: float,
    ax: float,
    ay: float,
    az: float,
    wx: float,
    wy: float,
    wz: float,
    t: float,
) -> TouchAt:
    """Least shift that takes a straight out of a box (separating axes): as `straight_distance`."""
    least, at, nx, ny, nz = 1e30, t, 0.0, 0.0, 1.0
    for axis in range(3):
        if axis == 0:
            a, w, h = ax, wx, h0
        elif axis == 1:
            a, w, h = ay, wy, h1
        else:
            a, w, h = az, wz, h2
        up = h - min(a, a + w)
        down = h + max(a, a + w)
        shift, sign = (up, 1.0) if up < down else (down, -1.0)
        if shift < least:
            least = shift
            nx, ny, nz = 0.0, 0.0, 0.0
            if axis == 0:
                nx = sign
            elif axis == 1:
                ny = sign
            else:
                nz = sign
            at = 0.0 if sign * w > 0 else 1.0
    for axis in range(3):
        if axis == 0:
            cx, cy, cz = 0.0, -wz, wy
        elif axis == 1:
            cx, cy, cz = wz, 0.0, -wx
        else:
            cx, cy, cz = -wy, wx, 0.0
        size = math.sqrt(cx * cx + cy * cy + cz * cz)
        if size < 1e-6:
            continue
        cx, cy, cz = cx / size, cy / size, cz / size
        offset = cx * ax + cy * ay + cz * az
        shift = h0 * abs(cx) + h1 * abs(cy) + h2 * abs(cz) - abs(offset)
        if shift < least:
            sign = 1.0 if offset >= 0 else -1.0
            least, at = shift, t
            nx, ny, nz = sign * cx, sign * cy, sign * cz
    return -least, at, nx, ny, nz


@compiled
def _shift_from_cylinder(
    h0: float, h1: float, ax: float, ay: float, az: float, wx: float, wy: float, wz: float, t: float
) -> TouchAt:
    """Least shift that takes a straight out of a cylinder, sideways or past an end."""
    up = h1 - min(az, az + wz)
    down = h1 + max(az, az + wz)
    shift, sign = (up, 1.0) if up < down else (down, -1.0)
    at = 0.0 if sign * wz > 0 else 1.0
    flat = wx * wx + wy * wy
    s = 0.0
    if flat > 1e-12:
        s = min(max(-(ax * wx + ay * wy) / flat, 0.0), 1.0)
    px, py = ax + s * wx, ay + s * wy
    rho = math.sqrt(px * px + py * py)
    if h0 - rho < shift:
        if rho > 1e-9:
            return rho - h0, t, px / rho, py / rho, 0.0
        if flat > 1e-12:
            root = math.sqrt(flat)
            return -h0, t, -wy / root, wx / root, 0.0
        return -h0, t, 1.0, 0.0, 0.0
    return -shift, at, 0.0, 0.0, sign


@compiled
def arc_distance(
    kind: int,
    h0: float,
    h1: float,
    h2: float,
    radius: float,
    ax: float,
    ay: float,
    az: float,
    ux: float,
    uy: float,
    uz: float,
    nx: float,
    ny: float,
    nz: float,
    low: float,
    high: float,
) -> TouchAt:
    """Least distance along an arc, between `low` and `high` radians: (d, phi, gx, gy, gz).

    The arc starts at a, travels along u and turns toward n. It is short enough (45 degrees) that
    one sign change of the slope is looked for.
    """
    d, gx, gy, gz = _on_arc(kind, h0, h1, h2, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, low)
    slow = _slope(ux, uy, uz, nx, ny, nz, gx, gy, gz, low)
    best, phi, bx, by, bz = d, low, gx, gy, gz
    d, gx, gy, gz = _on_arc(kind, h0, h1, h2, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, high)
    shigh = _slope(ux, uy, uz, nx, ny, nz, gx, gy, gz, high)
    if d < best:
        best, phi, bx, by, bz = d, high, gx, gy, gz
    if slow < 0.0 < shigh:
        for _ in range(10):
            cut = (low * shigh - high * slow) / (shigh - slow)
            span = high - low
            if span * radius < 1e-3:
                break
            cut = min(max(cut, low + 0.1 * span), high - 0.1 * span)
            d, gx, gy, gz = _on_arc(
                kind, h0, h1, h2, radius, ax, ay, az, ux, uy, uz, nx, ny, nz, cut
            )
            slope = _slope(ux, uy, uz, nx, ny, nz, gx, gy, gz, cut)
            if d < best:
                best, phi, bx, by, bz = d, cut, gx, gy, gz
            if abs(slope) < 1e-4:
                break
            if slope < 0.0:
                low, slow = cut, slope
            else:
                high, shigh = cut, slope
    return best, phi, bx, by, bz


@compiled
def _on_arc(
    kind: int,
    h0: float,
    h1: float,
    h2: float,
    radius: float,
    ax: float,
    ay: float,
    az: float,
    ux: float,
    uy: float,
    uz: float,
    nx: float,
    ny: float,
    nz: float,
    phi: float,
) -> Touch:
    s, c = radius * math.sin(phi), radius * (1.0 - math.cos(phi))
    return point_distance(
        kind, h0, h1, h2, ax + s * ux + c * nx, ay + s * uy + c * ny, az + s * uz + c * nz
    )


@compiled
def _slope(
    ux: float,
    uy: float,
    uz: float,
    nx: float,
    ny: float,
    nz: float,
    gx: float,
    gy: float,
    gz: float,
    phi: float,
) -> float:
    c, s = math.cos(phi), math.sin(phi)
    return gx * (c * ux + s * nx) + gy * (c * uy + s * ny) + gz * (c * uz + s * nz)
