"""What the bolts of a foot hold: the elastic method, all bolts alike, the foot's plate stiff.

Bolts share a pull alike and take a moment by their distance from the middle of the group; they
share shear alike and take a twist square to their distance from the middle (the elastic method for
eccentrically loaded bolt groups, AISC Manual part 7, and Shigley, Mechanical Engineering Design,
chapter 8; both from memory). Left out: prying by a plate that bends, what the plate's edge bears
on, friction, and the bolts' own tightening.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin, sqrt

import numpy as np

from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross, norm, unit

THREADED = 0.70
"""Area in the thread over that of the bolt's nominal diameter: M6 to M16 have 0.71 to 0.78."""


@dataclass(frozen=True, slots=True)
class BoltGroup:
    """Bolts of one foot: places (n, 2) in its plane from the group's middle, mm.

    `normal` points from the base into the foot, `along` is the first direction of the places;
    `size` is the bolts' nominal diameter in mm, None when it is not known.
    """

    places: tuple[tuple[float, float], ...]
    normal: Vec3
    along: Vec3
    size: float | None = None


@dataclass(frozen=True, slots=True)
class BoltLoad:
    """The hardest-worked bolt: which (from 1), pull and shear in N, von Mises in MPa.

    `stress` is on the area of the thread, None when the bolts' size is not known. `pulls` and
    `shears` are those of all bolts.
    """

    bolt: int
    tension: float
    shear: float
    stress: float | None
    pulls: tuple[float, ...]
    shears: tuple[float, ...]


def on_circle(count: int, diameter: float) -> tuple[tuple[float, float], ...]:
    """Places of bolts evenly round a circle, the first in the first direction."""
    turns = (2 * pi * i / count for i in range(count))
    return tuple((diameter / 2 * cos(turn), diameter / 2 * sin(turn)) for turn in turns)


def at_corners(first: float, second: float) -> tuple[tuple[float, float], ...]:
    """Places of four bolts at the corners of a rectangle."""
    a, b = first / 2, second / 2
    return ((a, b), (-a, b), (-a, -b), (a, -b))


def bolt_loads(group: BoltGroup, force: Vec3, moment: Vec3) -> BoltLoad:
    """Share a support's force (N) and moment (N m), as it holds the foot, among its bolts.

    They act at the group's middle. A bolt pulls the foot to its base; where the foot is pressed
    onto it the base bears, and the bolt has no pull.
    """
    normal, first, second = plane_of(group.normal, group.along)
    u, v = np.array(group.places).T
    held, turned = np.array(force), 1000 * np.array(moment)
    # the push of each bolt on the foot, along the normal, linear over the foot: p = a + b u + c v;
    # its moment is (u first + v second) x normal, so about `first` it is v p, `second` -u p
    rows = np.array([np.ones_like(u), v, -u])
    wanted = np.array([held @ normal, turned @ first, turned @ second])
    linear = np.stack((np.ones_like(u), u, v), axis=1)
    shares, *_ = np.linalg.lstsq(rows @ linear, wanted, rcond=None)
    pulls = np.maximum(-(linear @ shares), 0.0)
    around = float((u**2 + v**2).sum())
    twist = float(turned @ normal) / around if around > 0 else 0.0
    shears = np.hypot(
        float(held @ first) / len(u) - twist * v, float(held @ second) / len(u) + twist * u
    )
    worst = int(np.argmax(pulls**2 + 3 * shears**2))
    area = THREADED * pi / 4 * group.size**2 if group.size else None
    pull, shear = float(pulls[worst]), float(shears[worst])
    return BoltLoad(
        worst + 1,
        pull,
        shear,
        sqrt(pull**2 + 3 * shear**2) / area if area else None,
        tuple(pulls.tolist()),
        tuple(shears.tolist()),
    )


def plane_of(normal: Sequence[float], along: Sequence[float]) -> tuple[Array, Array, Array]:
    """Give a foot's normal, and the two directions in its plane, as unit vectors."""
    upright = unit(np.array(normal, dtype=float))
    lying = np.array(along, dtype=float)
    lying = lying - (lying @ upright) * upright
    first = unit(lying) if norm(lying) > 1e-6 else any_perpendicular(upright)
    return upright, first, cross(upright, first)
