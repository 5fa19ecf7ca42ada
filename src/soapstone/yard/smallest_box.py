"""The smallest box that holds tubes, turned as it likes, with a proof of how small one can be.

Every box is a turn of one set of axes, and 24 turns give the same box, so turns within a cube of
Rodrigues vectors (axis times the tangent of half the angle) are all there are: |r_i| <= sqrt(2) - 1.
Branch and bound over that cube: the width of the tubes along an axis is known exactly, and the chord
between the two points that touch bounds it from below for all turns near.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.reach import Body, reach
from soapstone.geometry.vectors import Array, norm

CUBE = float(np.sqrt(2.0)) - 1.0
FIRST = 6
"""Cells along an edge of the cube to begin with."""

GOOD_ENOUGH = 1e-3
"""Share of its volume that the box may be larger than the least that is proven."""

MOST_CELLS = 60_000


@dataclass(frozen=True, slots=True)
class SmallestBox:
    """The smallest box found. Lengths in mm, volumes in mm3.

    Attributes
    ----------
    size
        Edge lengths, the longest first.
    axes
        (3, 3): unit directions of the edges, a row each, in that order; right-handed.
    centre
        (3,): the middle of the box.
    least
        A volume that no box of any direction can be under.
    """

    size: tuple[float, float, float]
    axes: Array
    centre: Array
    least: float

    @property
    def volume(self) -> float:
        """Its volume in mm3."""
        return float(np.prod(self.size))


def smallest_box(body: Body, good: float = GOOD_ENOUGH, most: int = MOST_CELLS) -> SmallestBox:
    """Give the smallest box that holds the tubes, to a share `good` of its volume.

    Where `most` cells do not prove that much, the box found stands with the `least` that is proven.
    """
    floor = _ball_inside(body)
    half = CUBE / FIRST
    ticks = half * (2 * np.arange(FIRST) + 1) - CUBE
    cells = np.stack(np.meshgrid(ticks, ticks, ticks), axis=-1).reshape(-1, 3)
    best, volume, least, seen = np.zeros(3), np.inf, np.inf, 0
    while len(cells):
        widths, slack = _widths(body, cells)
        volumes = widths.prod(axis=1)
        for i in np.argsort(volumes)[:4]:
            if volumes[i] < volume * (1.2 if seen < 1e4 else 1.0):
                at, small = _polished(body, cells[i], half)
                best, volume = (at, small) if small < volume else (best, volume)
        bounds = _bounds(widths, slack, half, floor)
        seen += len(cells)
        open_ = bounds < volume * (1 - good)
        least = min(least, float(bounds[~open_].min(initial=np.inf)))
        if seen + 8 * int(open_.sum()) > most:
            least = min(least, float(bounds[open_].min(initial=np.inf)))
            break
        half /= 2
        cells = _split(cells[open_], half)
    return _box(body, best, min(least, volume))


def box_along(body: Body, axes: Array) -> tuple[Array, Array]:
    """Give the least and greatest place (3,), along each row of `axes` (3, 3), that tubes reach."""
    return -reach(body, -axes).far, reach(body, axes).far


def turns_of(cells: Array) -> Array:
    """Give the turns (m, 3, 3) of Rodrigues vectors (m, 3); rows are the axes of a box."""
    x, y, z = cells.T
    zero = np.zeros_like(x)
    skew = np.stack((zero, -z, y, z, zero, -x, -y, x, zero), axis=-1).reshape(-1, 3, 3)
    square = (cells**2).sum(axis=1)[:, None, None]
    outer = cells[:, :, None] * cells[:, None, :]
    made: Array = ((1 - square) * np.eye(3) + 2 * outer + 2 * skew) / (1 + square)
    return made


def _widths(body: Body, cells: Array) -> tuple[Array, Array]:
    """Widths (m, 3) along the axes of every turn, and how far the touching chord lies aside."""
    axes = turns_of(cells)
    up, down = reach(body, axes), reach(body, -axes)
    widths = up.far + down.far
    chords = ((up.touch - down.touch) ** 2).sum(axis=-1)
    return widths, np.sqrt(np.clip(chords - widths**2, 0, None))


def _bounds(widths: Array, slack: Array, half: float, floor: float) -> Array:
    """Volumes (m,) that no turn in a cell of edge 2 `half` is under.

    Two Rodrigues vectors dr apart are turns at most 2 |dr| apart. A chord of length c at angle a
    from an axis is still at least c cos(a + d) long along an axis turned by d.
    """
    angle_rad = 2 * np.sqrt(3.0) * half
    least = np.maximum(widths * np.cos(angle_rad) - slack * np.sin(angle_rad), floor)
    bounds: Array = least.prod(axis=1)
    return bounds


def _split(cells: Array, half: float) -> Array:
    corners = half * np.stack(np.meshgrid([-1, 1], [-1, 1], [-1, 1]), axis=-1).reshape(-1, 3)
    split: Array = (cells[:, None, :] + corners).reshape(-1, 3)
    return split


def _polished(body: Body, at: Array, step: float) -> tuple[Array, float]:
    """Search downhill from a turn: the best of the 26 neighbours, and a smaller step without one."""
    near = np.stack(np.meshgrid([-1, 0, 1], [-1, 0, 1], [-1, 0, 1]), axis=-1).reshape(-1, 3)
    volume = float(_widths(body, at[None])[0].prod())
    while step > 1e-10:
        tried = at + step * near
        volumes = _widths(body, tried)[0].prod(axis=1)
        i = int(volumes.argmin())
        if volumes[i] < volume * (1 - 1e-13):
            at, volume = tried[i], float(volumes[i])
        else:
            step /= 3
    return at, volume


def _ball_inside(body: Body) -> float:
    """Give the diameter of a ball that the tubes hold: no box is thinner than that.

    A ball as wide as its tube lies within it when its centre is on the centreline and as far as
    that from both ends. The middles of straights and arcs are tried; without one, 0 is true too.
    """
    cosine, sine = np.cos(body.angle / 2)[:, None], np.sin(body.angle / 2)[:, None]
    arcs = body.centre + body.bend[:, None] * (cosine * body.spoke + sine * body.onward)
    middles = np.concatenate(((body.at[0::2] + body.at[1::2]) / 2, arcs))
    widths = 2 * np.concatenate((body.radius[0::2], body.arc_radius))
    away = norm(middles[:, None, :] - body.ends).min(axis=1)
    return float(widths[away >= widths].max(initial=0.0))


def _box(body: Body, cell: Array, least: float) -> SmallestBox:
    axes = turns_of(cell[None])[0]
    low, high = box_along(body, axes)
    order = np.argsort(low - high, kind="stable")
    axes = axes[order]
    middle = ((low + high) / 2)[order]
    if np.linalg.det(axes) < 0:
        axes = axes * np.array([[1.0], [1.0], [-1.0]])
        middle = middle * np.array([1.0, 1.0, -1.0])
    longest, middling, shortest = ((high - low)[order]).tolist()
    return SmallestBox((longest, middling, shortest), axes, middle @ axes, least)
