"""Cylinders and tori through sampled points of a surface whose kind the file does not say."""

import numpy as np

from soapstone.exchange.step.model import Surface
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, unit

FLAT = 1e-3
"""Normals that leave a plane by less of their length may be those of a cylinder."""

EXACT = 1e-7
"""Part of a surface's size below which what points are off is rounding."""


def fit_round(points: Array, normals: Array) -> tuple[Surface, float] | None:
    """Fit a cylinder or a torus to points (n, 3) in mm with unit normals (n, 3).

    Returns
    -------
    tuple or None
        The surface and the distance in mm of the worst point from it; the cylinder unless the
        torus is much nearer. None when neither can be told, as for a plane.
    """
    size = float(np.ptp(points, axis=0).max())
    cylinder = _cylinder(points, normals)
    if cylinder and cylinder[1] < EXACT * size:
        return cylinder
    found = [one for one in (cylinder, _torus(points, normals)) if one]
    if found and min(worst for _, worst in found) > EXACT * size:
        found = [_polished(surface, points) for surface, worst in found if worst < size / 4]
    if len(found) == 2 and found[1][1] * 4 > found[0][1]:
        return found[0]
    return found[-1] if found else None


def off(surface: Surface, points: Array) -> Array:
    """Signed distances in mm of points (n, 3) from a surface, positive outside its section."""
    from_axis = points - surface.at
    along = from_axis @ surface.axis
    out = norm(from_axis - along[:, None] * surface.axis)
    if not surface.bend:
        return out - surface.radius
    distances: Array = np.hypot(out - surface.bend, along) - surface.radius
    return distances


def _worst(surface: Surface, points: Array) -> float:
    return float(np.abs(off(surface, points)).max())


def _cylinder(points: Array, normals: Array) -> tuple[Surface, float] | None:
    """A cylinder's normals are square to its axis; seen along it, its points lie on a circle."""
    _, sizes, ways = np.linalg.svd(normals, full_matrices=False)
    if sizes[2] > FLAT * np.sqrt(len(normals)) * 10 or sizes[1] < 1e-6:
        return None
    axis = ways[2]
    middle = points.mean(axis=0)
    seen = (points - middle) @ ways[:2].T
    circle = _circle(seen[:, 0], seen[:, 1])
    if circle is None:
        return None
    x, y, radius = circle
    surface = Surface(middle + x * ways[0] + y * ways[1], axis, 0.0, radius)
    return surface, _worst(surface, points)


def _torus(points: Array, normals: Array) -> tuple[Surface, float] | None:
    """All normals of a surface of revolution meet its axis, which makes a linear system.

    In Pluecker coordinates (Pottmann & Wallner, Computational Line Geometry, 2001, ch. 3) lines
    (d, m) and (a, b) meet where d.b + m.a = 0. Seen in the half plane of the axis, the points then
    lie on the circle of the section.
    """
    middle, size = points.mean(axis=0), float(np.ptp(points, axis=0).max())
    if size <= 0:
        return None
    moved = (points - middle) / size
    rows = np.hstack([cross(moved, normals), normals])
    solution = np.linalg.svd(rows, full_matrices=False)[2][5]
    length = float(np.linalg.norm(solution[:3]))
    if length < 1e-6:
        return None
    axis, moment = solution[:3] / length, solution[3:] / length
    foot = middle + size * np.cross(axis, moment)
    along = (points - foot) @ axis
    out = norm(points - foot - along[:, None] * axis)
    circle = _circle(out, along)
    if circle is None or circle[0] <= circle[2]:
        return None
    bend, height, radius = circle
    surface = Surface(foot + height * axis, axis, bend, radius)
    return surface, _worst(surface, points)


def _circle(x: Array, y: Array) -> tuple[float, float, float] | None:
    """Centre and radius of the circle x2 + y2 = 2 a x + 2 b y + c (Kasa's linear fit)."""
    rows = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1)
    (a, b, c), _, rank, _ = np.linalg.lstsq(rows, x**2 + y**2, rcond=1e-12)
    squared = c + a**2 + b**2
    if rank < 3 or not squared > 0:
        return None
    return float(a), float(b), float(np.sqrt(squared))


def _polished(surface: Surface, points: Array) -> tuple[Surface, float]:
    """Least squares of the distances themselves, from a linear fit on."""
    from scipy.optimize import least_squares

    first = any_perpendicular(surface.axis)
    second = np.cross(surface.axis, first)
    size = max(surface.bend, surface.radius)

    def made(x: Array) -> Surface:
        axis = unit(surface.axis + x[3] * first + x[4] * second)
        bend = surface.bend and surface.bend + size * x[5]
        return Surface(surface.at + size * x[:3], axis, bend, surface.radius + size * x[6])

    def misses(x: Array) -> Array:
        return off(made(x), points) / size

    answer = least_squares(misses, np.zeros(7), method="trf", x_scale=1.0, xtol=1e-14, ftol=1e-14)
    better = made(answer.x)
    return min(
        ((surface, _worst(surface, points)), (better, _worst(better, points))), key=lambda o: o[1]
    )
