"""The middle line of a swept free surface whose joints lie anywhere, cut into straights and arcs.

All points of a tube's surface, moved inward along their normals by its radius, come to lie on its
centreline; that holds for any sweep of a circle, whatever the surface's formula.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from soapstone.exchange.step.model import Surface
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, turn, unit

FIT = 0.01
"""mm that the points of one straight or arc may be off it: less than any bender knows."""

OVERRUN = 0.06
"""Part of a run at either end that is left out of its final fit: the next one may begin there."""

FEWEST = 5
"""Stations that a run needs to be told."""

BLUR = 1.0
"""Radii of the section: a shorter arc between a straight and an arc that touch is no bend."""

TOO_ROUGH = 0.3
"""mm: a surface that is further from straights and arcs was not made of them."""


@dataclass(frozen=True, slots=True)
class Run:
    """A straight or an arc found on a middle line: its surface, and its two end points (2, 3)."""

    surface: Surface
    ends: Array
    residual: float


def runs(points: Array, normals: Array) -> list[Run]:
    """Cut a swept surface into straights and arcs.

    Parameters
    ----------
    points, normals
        (stations, around, 3) in mm and unit vectors: rings in the order along the tube.

    Returns
    -------
    list
        The runs in that order; none when the surface is no tube.
    """
    ringed = normals - normals.mean(axis=1, keepdims=True)
    sizes = (ringed**2).sum(axis=(1, 2))
    if not (sizes > 1e-9).all():
        return []
    centred = points - points.mean(axis=1, keepdims=True)
    radius = float(np.median((centred * ringed).sum(axis=(1, 2)) / sizes))
    moved = points - radius * normals
    middle = moved.mean(axis=1)
    rough = norm(moved - middle[:, None]).max(axis=1)
    kept = np.concatenate(([True], norm(np.diff(middle, axis=0)) > 1e-9))
    middle = middle[kept]
    # where straight and bend meet a loft bulges; most of a tube's length is as round as drawn
    usual = float(np.median(rough))
    if abs(radius) < 1e-6 or usual > TOO_ROUGH or len(middle) < FEWEST:
        return []
    worst = float(rough.max())
    found = [_run(middle[start:stop], abs(radius), worst) for start, stop in _cut(middle)]
    whole = _joined([run for run in found if run])
    return whole if all(run.residual - worst < TOO_ROUGH for run in whole) else []


def _joined(found: list[Run]) -> list[Run]:
    """Let straights and arcs that touch each other meet there, over what a loft blurs between."""
    clear = list(found)
    for i in range(len(found) - 2, 0, -1):
        run = clear[i]
        blurred = run.surface.bend and length_of(run) < BLUR * run.surface.radius
        if blurred and _meeting(clear[i - 1].surface, clear[i + 1].surface) is not None:
            del clear[i]
    for i in range(len(clear) - 1):
        meeting = _meeting(clear[i].surface, clear[i + 1].surface)
        if meeting is not None:
            clear[i] = replace(clear[i], ends=np.stack([clear[i].ends[0], meeting]))
            clear[i + 1] = replace(clear[i + 1], ends=np.stack([meeting, clear[i + 1].ends[1]]))
    return clear


def _meeting(one: Surface, other: Surface) -> Array | None:
    """Give the point where a straight touches an arc's circle; None when it does not."""
    if bool(one.bend) == bool(other.bend):
        return None
    straight, arc = (other, one) if one.bend else (one, other)
    foot = straight.at + ((arc.at - straight.at) @ straight.axis) * straight.axis
    spoke = foot - arc.at
    off = max(abs(float(np.linalg.norm(spoke)) - arc.bend), abs(float(spoke @ arc.axis)))
    lean = abs(float(straight.axis @ arc.axis))
    return foot if off < 5 * FIT and lean < 2e-3 else None


def _cut(middle: Array) -> list[tuple[int, int]]:
    """Indices (start, stop) of the longest runs, one after another from the start."""
    cuts, at = [], 0
    while at + FEWEST <= len(middle):
        straight = _furthest(middle, at, _off_line)
        arc = _furthest(middle, at, _off_arc)
        stop = straight if straight - at >= 0.8 * (arc - at) else arc
        cuts.append((at, stop))
        at = stop - 1
        # the station at the joint itself fits neither side
        if stop - cuts[-1][0] <= FEWEST:
            cuts.pop()
            at = at + 1 - FEWEST + 1
    return cuts


def _furthest(middle: Array, start: int, off: Callable[[Array], float]) -> int:
    """Give the stop of the longest run from a start that fits."""
    low, step = start + FEWEST, FEWEST
    if low > len(middle) or off(middle[start:low]) > FIT:
        return start + 2
    while low < len(middle):
        high = min(len(middle), low + step)
        if off(middle[start:high]) > FIT:
            break
        low, step = high, 2 * step
    high = min(len(middle), low + step)
    while high - low > 1:
        half = (low + high) // 2
        low, high = (half, high) if off(middle[start:half]) <= FIT else (low, half)
    return low if off(middle[start:high]) > FIT else high


def _off_line(points: Array) -> float:
    at, way = _line(points)
    out = points - at
    return float(norm(out - (out @ way)[:, None] * way).max())


def _off_arc(points: Array) -> float:
    arc = _arc(points)
    return np.inf if arc is None else _from_arc(points, *arc)


def _from_arc(points: Array, centre: Array, axis: Array, bend: float) -> float:
    out = points - centre
    height = out @ axis
    return float(np.hypot(norm(out - height[:, None] * axis) - bend, height).max())


def _line(points: Array) -> tuple[Array, Array]:
    at = points.mean(axis=0)
    way = np.linalg.svd(points - at, full_matrices=False)[2][0]
    return at, way * np.sign(way @ (points[-1] - points[0]))


def _arc(points: Array) -> tuple[Array, Array, float] | None:
    """Centre, axis and radius of the circle through points, gone right-handed about the axis."""
    at = points.mean(axis=0)
    ways = np.linalg.svd(points - at, full_matrices=False)[2]
    x, y = ((points - at) @ ways[:2].T).T
    rows = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1)
    (a, b, c), _, rank, _ = np.linalg.lstsq(rows, x**2 + y**2, rcond=1e-12)
    squared = c + a**2 + b**2
    if rank < 3 or not squared > 0:
        return None
    centre = at + a * ways[0] + b * ways[1]
    half = points[len(points) // 2]
    axis = unit(cross(points[0] - centre, half - centre))
    return centre, axis, float(np.sqrt(squared))


def _run(points: Array, radius: float, rough: float) -> Run | None:
    """Fit a run again without its ends, where the next one may begin."""
    margin = int(np.ceil(OVERRUN * len(points)))
    inner = points[margin : len(points) - margin] if len(points) > 2 * margin + FEWEST else points
    at, way = _line(inner)
    straight, arc = _off_line(inner), _arc(inner)
    if arc is None or (straight < FIT and straight < 4 * _from_arc(inner, *arc)):
        ends = at + ((points[[0, -1]] - at) @ way)[:, None] * way
        return Run(Surface(at, way, 0.0, radius), ends, straight + rough)
    centre, axis, bend = arc
    if bend <= radius:
        return None
    out = points[[0, -1]] - centre
    ends = centre + bend * unit(out - (out @ axis)[:, None] * axis)
    return Run(Surface(centre, axis, bend, radius), ends, _from_arc(inner, *arc) + rough)


def rings(run: Run, count: int) -> Array:
    """Points (2 * count, 3) round a run's two ends, and so the edges of its piece."""
    known = run.surface
    turned = 2 * np.pi * np.arange(count) / count
    found = []
    for end in run.ends:
        if known.bend:
            out = unit(end - known.at)
            along = cross(known.axis, out)
        else:
            along = known.axis
            out = any_perpendicular(along)
        spokes = turn(np.broadcast_to(out, (count, 3)), along, turned)
        found.append(end + known.radius * spokes)
    return np.concatenate(found)


def middle_of(run: Run) -> Array:
    """Give a point of a run's surface about its middle."""
    known = run.surface
    if not known.bend:
        straight: Array = run.ends.mean(axis=0) + known.radius * any_perpendicular(known.axis)
        return straight
    start, end = (unit(end - known.at) for end in run.ends)
    half = np.arctan2(cross(start, end) @ known.axis, start @ end) % (2 * np.pi) / 2
    out = turn(start, known.axis, np.float64(half))
    at: Array = known.at + (known.bend + known.radius) * out
    return at


def length_of(run: Run) -> float:
    """Length of a run along its middle line in mm."""
    known = run.surface
    if not known.bend:
        return float(np.linalg.norm(run.ends[1] - run.ends[0]))
    start, end = (unit(end - known.at) for end in run.ends)
    return float(
        known.bend * (np.arctan2(cross(start, end) @ known.axis, start @ end) % (2 * np.pi))
    )
