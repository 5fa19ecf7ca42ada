"""Tubes seen from afar as flat outlines, true to scale: views laid out beside each other."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapstone.exchange.solid_tube import SolidTube, stations
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross, norm, unit

ARC_STEP = 1.0
"""Degrees of a bend from point to point: on a radius of 115 mm the chord is 0.004 mm off."""

ROUND = 72
"""Points of a cut end."""

APART = 80.0
"""mm between two views."""


@dataclass(frozen=True, slots=True)
class Side:
    """A direction to look from: a name, and the unit vectors that run right and up in the view."""

    name: str
    right: Vec3
    up: Vec3


@dataclass(frozen=True, slots=True)
class FlatView:
    """A view as drawn: lines (n, 2) in mm of outlines and of middles, and its lower left."""

    name: str
    outlines: tuple[Array, ...]
    middles: tuple[Array, ...]
    corner: tuple[float, float]


def flat_views(
    tubes: Sequence[SolidTube], sides: tuple[Side, Side, Side, Side], at: tuple[float, float]
) -> tuple[FlatView, ...]:
    """Lay out four views: the second above the first, the third right of it, the fourth above that.

    The first has its lower left at `at`; views beside and above each other are in line.
    """
    seen = [_seen(tubes, side) for side in sides]
    boxes = [_box(one) for one in seen]
    front, top, right, corner = boxes
    across = at[0] - front[0][0], at[1] - front[0][1]
    above = at[1] + (front[1] - front[0])[1] + APART
    beside = at[0] + max((front[1] - front[0])[0], (top[1] - top[0])[0]) + APART
    high = max(above, at[1] + (right[1] - right[0])[1] + APART)
    shifts = (
        np.array(across),
        np.array((across[0], above - top[0][1])),
        np.array((beside - right[0][0], across[1])),
        np.array((beside - corner[0][0], high - corner[0][1])),
    )
    return tuple(
        FlatView(
            side.name,
            tuple(line + shift for line in outlines),
            tuple(line + shift for line in middles),
            (float(box[0][0] + shift[0]), float(box[0][1] + shift[1])),
        )
        for side, (outlines, middles), box, shift in zip(sides, seen, boxes, shifts, strict=True)
    )


def _box(lines: tuple[list[Array], list[Array]]) -> tuple[Array, Array]:
    points = np.concatenate([*lines[0], *lines[1]])
    return points.min(axis=0), points.max(axis=0)


def _seen(tubes: Sequence[SolidTube], side: Side) -> tuple[list[Array], list[Array]]:
    outlines: list[Array] = []
    middles: list[Array] = []
    for tube in tubes:
        edges, middle = outline(tube, side)
        outlines += edges
        middles.append(middle)
    return outlines, middles


def outline(tube: SolidTube, side: Side) -> tuple[list[Array], Array]:
    """Give a tube's edges as seen, and its middle line: lines (n, 2) in mm.

    The surface turns out of sight where its normal is square to the line of sight, which on round
    tube is where d x v points, d its direction and v the line of sight. Its two cut ends follow.
    """
    centres, along = stations(tube.line, ARC_STEP)
    axes = np.array([side.right, side.up])
    sight = cross(axes[0], axes[1])
    out = cross(along, np.broadcast_to(sight, along.shape))
    seen = norm(out) > 1e-6
    edges = []
    for sign in (tube.od / 2, -tube.od / 2):
        line = (centres + sign * unit(out)) @ axes.T
        edges += [part for part in _parts(line, seen) if len(part) > 1]
    turned = np.linspace(0, 2 * np.pi, ROUND + 1)[:, None]
    for i in (0, -1):
        first = any_perpendicular(along[i])
        second = cross(along[i], first)
        ring = centres[i] + tube.od / 2 * (np.cos(turned) * first + np.sin(turned) * second)
        edges.append(ring @ axes.T)
    return edges, centres @ axes.T


def _parts(line: Array, kept: npt.NDArray[np.bool_]) -> list[Array]:
    """Cut a line where the tube runs straight toward the viewer, who sees its end alone."""
    breaks = [0, *(np.flatnonzero(np.diff(kept.astype(int))) + 1).tolist(), len(line)]
    return [line[a:b] for a, b in itertools.pairwise(breaks) if kept[a]]
