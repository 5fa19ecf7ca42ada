"""The straight beam in space: its stiffness, its geometric stiffness, its axes.

Twelve freedoms, those of one end after those of the other: three moves, three turns. The slender
beam of any textbook (Przemieniecki, Theory of Matrix Structural Analysis, 1968, from memory): what
shear adds to a deflection is left out, under 1 % where a tube is ten diameters long.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from soapstone.check.strength.mesh import Mesh
from soapstone.check.strength.model import SHEAR_RATIO, FrameTube
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, unit


@dataclass(frozen=True, slots=True)
class Beams:
    """Beams of a frame, by beam (m,): length, E, area, bending and torsion constants, radius.

    `inertia` is the second moment that bends, less where a thin bend flattens; `stiff_inertia` that
    of the section; `intensity` what a bend's stress is multiplied by; `axes` (m, 3, 3) rows are the
    beam's own directions, along first.
    """

    length: Array
    e: Array
    area: Array
    inertia: Array
    stiff_inertia: Array
    intensity: Array
    outer: Array
    density: Array
    axes: Array


def beams_of(mesh: Mesh, tubes: tuple[FrameTube, ...], *, flexible: bool = True) -> Beams:
    """Give the beams of a mesh.

    In a bend, the flexibility factor k = 1.65 / h and the stress intensification 0.9 / h^(2/3) of
    ASME B31 (h = wall x radius / mean radius squared; seen in a worked example) apply where they
    are above 1; `flexible` False leaves them out.
    """
    start, end = mesh.points[mesh.beams[:, 0]], mesh.points[mesh.beams[:, 1]]
    along = unit(end - start)
    side = np.array([any_perpendicular(one) for one in along])
    axes = np.stack((along, side, cross(along, side)), axis=1)

    def by_beam(values: list[float]) -> Array:
        return np.array(values)[mesh.tube]

    od, wall = by_beam([tube.od for tube in tubes]), by_beam([tube.wall for tube in tubes])
    bore = od - 2 * wall
    inertia = pi / 64 * (od**4 - bore**4)
    mean = (od - wall) / 2
    bend = mesh.radius > 0
    h = np.where(bend, wall * mesh.radius / mean**2, np.inf)
    factor = np.maximum(1.0, 1.65 / h) if flexible else np.ones_like(h)
    intensity = np.maximum(1.0, 0.9 / h ** (2 / 3)) if flexible else np.ones_like(h)
    return Beams(
        length=norm(end - start),
        e=by_beam([tube.e for tube in tubes]),
        area=pi / 4 * (od**2 - bore**2),
        inertia=inertia / factor,
        stiff_inertia=inertia,
        intensity=intensity,
        outer=od / 2,
        density=by_beam([tube.density for tube in tubes]) * 1e-9,
        axes=axes,
    )


def stiffness(beams: Beams) -> Array:
    """Stiffness (m, 12, 12) of the beams by their own axes, N and mm."""
    k = np.zeros((len(beams.length), 12, 12))
    length, e = beams.length, beams.e
    g = e / SHEAR_RATIO
    axial, twist = e * beams.area / length, g * 2 * beams.stiff_inertia / length
    for i, value in ((0, axial), (3, twist)):
        k[:, i, i] = k[:, i + 6, i + 6] = value
        k[:, i, i + 6] = k[:, i + 6, i] = -value
    base = e * beams.inertia / length**3
    # bending in the plane of y turns about z, in the plane of z about y the other way
    for move, turned, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        a, b = 12 * base, 6 * length * base * sign
        near, far = 4 * length**2 * base, 2 * length**2 * base
        for i, j, value in (
            (move, move, a),
            (move, turned, b),
            (turned, turned, near),
            (move, move + 6, -a),
            (move, turned + 6, b),
            (turned, move + 6, -b),
            (turned, turned + 6, far),
            (move + 6, move + 6, a),
            (move + 6, turned + 6, -b),
            (turned + 6, turned + 6, near),
        ):
            k[:, i, j] = k[:, j, i] = value
    return k


def geometric(beams: Beams, tension: Array) -> Array:
    """Geometric stiffness (m, 12, 12) for tensions (m,) in N: what a pull adds, a push takes.

    The consistent one of the cubic beam (Przemieniecki 1968, from memory).
    """
    k = np.zeros((len(tension), 12, 12))
    length = beams.length
    unit_ = tension / (30 * length)
    for move, turned, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        for i, j, value in (
            (move, move, 36 * unit_),
            (move, turned, 3 * length * unit_ * sign),
            (turned, turned, 4 * length**2 * unit_),
            (move, move + 6, -36 * unit_),
            (move, turned + 6, 3 * length * unit_ * sign),
            (turned, move + 6, -3 * length * unit_ * sign),
            (turned, turned + 6, -(length**2) * unit_),
            (move + 6, move + 6, 36 * unit_),
            (move + 6, turned + 6, -3 * length * unit_ * sign),
            (turned + 6, turned + 6, 4 * length**2 * unit_),
        ):
            k[:, i, j] = k[:, j, i] = value
    return k


def turned(beams: Beams, local: Array) -> Array:
    """Bring matrices (m, 12, 12) from the beams' own axes to the world's."""
    big = frames(beams)
    result: Array = np.einsum("mji,mjk,mkl->mil", big, local, big)
    return result


def frames(beams: Beams) -> Array:
    """Matrices (m, 12, 12) that bring the world's freedoms to the beams' own."""
    big = np.zeros((len(beams.length), 12, 12))
    for block in range(4):
        big[:, 3 * block : 3 * block + 3, 3 * block : 3 * block + 3] = beams.axes
    return big
