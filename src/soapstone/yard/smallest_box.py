"""The smallest box that holds tubes, turned as it likes, with a proof of how small one can be.

Every box is a turn of one set of axes, and 24 turns give the same box, so turns within a cube of
Rodrigues vectors (axis times the tangent of half the angle) are all there are:
|r_i| <= sqrt(2) - 1. Branch and bound over that cube: the width of the tubes along an axis is known
exactly, and the chord between the two points that touch bounds it from below for all turns near.
"""

from dataclasses import dataclass
from itertools import permutations, product

import numpy as np

from soapstone.geometry.reach import Body, far, reach
from soapstone.geometry.vectors import Array, cross, dot, norm, unit

CUBE = float(np.sqrt(2.0)) - 1.0
FIRST = 6
"""Cells along an edge of the cube to begin with."""

GOOD_ENOUGH = 2e-3
"""Share of its volume that the box may be larger than the least that is proven."""

MOST_CELLS = 60_000

STARTS = 6
"""Cells of a level from which to search downhill."""

EARLY = 3_000
"""Cells up to which a start may look worse than the best box so far."""

MOST_LIKELY = 400

MOST_STEPS = 200

FINEST = 1e-8
"""Step of a Rodrigues vector at which going downhill ends."""


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
    best, volume = _polished(body, _likely(body), half)
    least, seen = np.inf, 0
    while len(cells):
        widths, slack = _widths(body, cells)
        volumes = widths.prod(axis=1)
        better = np.argsort(volumes)[:STARTS]
        better = better[volumes[better] < volume * (1.1 if seen < EARLY else 1.0)]
        if len(better):
            at, small = _polished(body, cells[better], half)
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
    return -far(body, -axes), far(body, axes)


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
    axes = turns_of(cells).reshape(-1, 3)
    up, down = reach(body, axes), reach(body, -axes)
    widths = up.far + down.far
    chords = ((up.touch - down.touch) ** 2).sum(axis=1)
    slack = np.sqrt(np.clip(chords - widths**2, 0, None))
    return widths.reshape(-1, 3), slack.reshape(-1, 3)


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
    """Search downhill from turns (k, 3) at once, and give the best: the turn and its volume.

    Each goes to the best of its neighbours, and takes a smaller step where none is better. The
    volume has kinks, so neighbours lie in many directions.
    """
    volumes = _volumes(body, at)
    steps = np.full(len(at), step)
    for _ in range(MOST_STEPS):
        if steps.min() < FINEST:
            break
        tried = at[:, None, :] + steps[:, None, None] * _NEIGHBOURS
        found = _volumes(body, tried.reshape(-1, 3)).reshape(len(at), -1)
        i = found.argmin(axis=1)
        rows = np.arange(len(at))
        down = found[rows, i] < volumes * (1 - 1e-12)
        at = np.where(down[:, None], tried[rows, i], at)
        volumes = np.where(down, found[rows, i], volumes)
        steps = np.where(down, steps, steps / 3)
        near = volumes < volumes.min() * (1 + 20 * steps.max())
        at, volumes, steps = at[near], volumes[near], steps[near]
    best = int(volumes.argmin())
    return at[best], float(volumes[best])


def _likely(body: Body) -> Array:
    """Give turns (k, 3) to begin with: boxes with an edge along a leg and one square to a bend."""
    legs = np.unique(np.round(body.going, 9), axis=0)
    flat = np.concatenate((cross(body.spoke, body.onward), np.eye(3)))
    first = np.repeat(legs, len(flat), axis=0)[:MOST_LIKELY]
    second = np.tile(flat, (len(legs), 1))[:MOST_LIKELY]
    second = second - dot(first, second)[:, None] * first
    stands = norm(second) > 0.1
    first, second = first[stands], unit(second[stands])
    axes = np.stack((first, second, cross(first, second)), axis=1)
    cells = np.array([_nearest_cell(one) for one in axes])
    best: Array = cells[np.argsort(_volumes(body, cells), kind="stable")[:STARTS]]
    return best


def _nearest_cell(axes: Array) -> Array:
    """Give the shortest Rodrigues vector of a box with these axes (3, 3), of the 24 it has."""
    turned = SWAPS @ axes
    nearest = turned[int(np.trace(turned, axis1=1, axis2=2).argmax())]
    skew = nearest - nearest.T
    cell: Array = np.array([skew[2, 1], skew[0, 2], skew[1, 0]]) / (1 + np.trace(nearest))
    return cell


def _swaps() -> Array:
    """Give the 24 turns (24, 3, 3) that leave a box's axes where they are but for their order."""
    signs = np.array(list(product((1.0, -1.0), repeat=3)))
    every = [
        np.eye(3)[list(order)] * sign[:, None] for order in permutations(range(3)) for sign in signs
    ]
    return np.array([one for one in every if np.linalg.det(one) > 0])


SWAPS = _swaps()


def _volumes(body: Body, cells: Array) -> Array:
    axes = turns_of(cells)
    volumes: Array = (far(body, axes) + far(body, -axes)).prod(axis=1)
    return volumes


def _directions() -> Array:
    """Give 26 ways to neighbouring grid points, and the same turned, at two lengths."""
    grid = np.stack(np.meshgrid([-1, 0, 1], [-1, 0, 1], [-1, 0, 1]), axis=-1).reshape(-1, 3)
    grid = grid[np.any(grid != 0, axis=1)].astype(float)
    turned = grid @ turns_of(np.array([[0.21, 0.13, -0.17]]))[0]
    return np.concatenate((grid, turned, 0.4 * turned))


_NEIGHBOURS = _directions()


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
