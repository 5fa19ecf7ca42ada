"""Walk a chain of straights and arcs; find its corners, and the chain from its corners.

Everything here takes arrays whose leading axes are any number of variants of one tube, or of
tubes with the same number of bends: legs (..., n + 1), angles, rotations and radii (..., n).
"""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline, Walk, vec
from soapstone.geometry.vectors import (
    Array,
    Vec3,
    any_perpendicular,
    cross,
    dot,
    norm,
    signed_angle,
    turn,
    unit,
)

SPLIT_ABOVE = 178.0
"""Degrees: the legs of a wider bend meet too far off, or nowhere, so it gets several corners."""

STRAIGHT_BELOW = 0.01
"""Degrees: a corner that turns less is straight through, and no bend."""


def walk_arrays(
    start: Array,
    along: Array,
    up: Array,
    legs: Array,
    angles: Array,
    rotations: Array,
    radii: Array,
) -> Walk:
    """Follow chains through space.

    `start`, `along`, `up` are (..., 3) as in `Centreline`; the other arrays as in this module.
    """
    count = angles.shape[-1]
    position, direction, axis = start, along, cross(along, up)
    nodes, directions, axes, centres = [position], [direction], [], []
    for i in range(count):
        position = position + legs[..., i, None] * direction
        axis = turn(axis, direction, np.radians(rotations[..., i]))
        inward = cross(axis, direction)
        centre = position + radii[..., i, None] * inward
        angle_rad = np.radians(angles[..., i])
        nodes.append(position)
        position = centre + turn(position - centre, axis, angle_rad)
        direction = unit(turn(direction, axis, angle_rad))
        # squared up at every bend, or rounding doubles from bend to bend
        axis = unit(axis - dot(axis, direction)[..., None] * direction)
        nodes.append(position)
        directions.append(direction)
        axes.append(axis)
        centres.append(centre)
    nodes.append(position + legs[..., count, None] * direction)
    nothing = np.empty((*np.shape(nodes[-1])[:-1], 0, 3))
    return Walk(
        nodes=np.stack(np.broadcast_arrays(*nodes), axis=-2),
        directions=np.stack(np.broadcast_arrays(*directions), axis=-2),
        axes=np.stack(axes, axis=-2) if axes else nothing,
        centres=np.stack(centres, axis=-2) if centres else nothing,
    )


def walk(line: Centreline) -> Walk:
    """Follow one centreline."""
    arrays = (line.start, line.along, line.up, line.legs, line.angles, line.rotations, line.radii)
    return walk_arrays(*(np.array(a, dtype=float) for a in arrays))


def tangent_length(radii: Array | float, angles: Array | float) -> Array:
    """Distance from a bend's start to the corner where its legs meet, in mm.

    T = R tan(angle / 2), elementary geometry; negative above 180 degrees, where the legs meet
    behind the bend.
    """
    result: Array = np.asarray(radii) * np.tan(np.radians(angles) / 2)
    return result


def corners(line: Centreline) -> tuple[Vec3, ...]:
    """Points where the leg centrelines meet, both ends included.

    A bend wider than `SPLIT_ABOVE` is given as two or three corners, as if it were that many
    equal bends in one plane with nothing between them.
    """
    way = walk(line)
    points = [vec(way.nodes[0])]
    for i, (angle, radius) in enumerate(zip(line.angles, line.radii, strict=True)):
        parts = 1 if angle <= SPLIT_ABOVE else 2 if angle <= 2 * 160.0 else 3
        step = angle / parts
        reach = float(tangent_length(radius, step))
        entry, direction = way.nodes[2 * i + 1], way.directions[i]
        first = entry + reach * direction
        spokes = np.radians(step * np.arange(parts))
        turned = turn(first - way.centres[i], way.axes[i], spokes)
        points.extend(vec(way.centres[i] + point) for point in turned)
    points.append(vec(way.nodes[-1]))
    return tuple(points)


@dataclass(frozen=True, slots=True)
class Turns:
    """How polylines turn at their corners; arrays over any leading axes, for n inner corners.

    `lengths` (..., n + 1) between corners in mm, `angles` and `rotations` (..., n) in degrees,
    `along` and `up` (..., 3) as in `Centreline`.
    """

    lengths: Array
    angles: Array
    rotations: Array
    along: Array
    up: Array


def turns(points: Array) -> Turns:
    """Measure polylines given by their corners (..., n + 2, 3), ends included.

    At a corner that is straight through the plane is taken over from the corner before, so that
    the angles stay finite; the caller reports it.
    """
    steps = np.diff(points, axis=-2)
    directions = unit(steps)
    before, after = directions[..., :-1, :], directions[..., 1:, :]
    normals = cross(before, after)
    angles = np.degrees(np.arctan2(norm(normals), dot(before, after)))
    axes = _carried_axes(directions, unit(normals), angles)
    count = angles.shape[-1]
    rotations = np.zeros_like(angles)
    if count > 1:
        rotations[..., 1:] = signed_angle(
            axes[..., :-1, :], axes[..., 1:, :], directions[..., 1:-1, :]
        )
    along = directions[..., 0, :]
    up = cross(axes[..., 0, :], along) if count else any_perpendicular(along)
    return Turns(norm(steps), angles, rotations, along, up)


def _carried_axes(directions: Array, normals: Array, angles: Array) -> Array:
    """Give bend axes, with the axis of the corner before in place of one that is not defined."""
    defined = (angles >= STRAIGHT_BELOW) & (norm(normals) > 0.5)
    if bool(np.all(defined)):
        return normals
    axes = normals.copy()
    previous = any_perpendicular(directions[..., 0, :])
    for i in range(angles.shape[-1]):
        direction = directions[..., i, :]
        carried = unit(previous - dot(previous, direction)[..., None] * direction)
        axes[..., i, :] = np.where(defined[..., i, None], normals[..., i, :], carried)
        previous = axes[..., i, :]
    return axes


def sample(line: Centreline, step: float) -> Array:
    """Points (m, 3) along a centreline at most `step` mm apart; all nodes are among them."""
    way = walk(line)
    pieces = [way.nodes[:1]]
    for i in range(len(line.legs)):
        start, end = way.nodes[2 * i], way.nodes[2 * i + 1]
        count = max(1, int(np.ceil(line.legs[i] / step)))
        pieces.append(start + np.linspace(0, 1, count + 1)[1:, None] * (end - start))
        if i < len(line.angles):
            angle_rad = np.radians(line.angles[i])
            count = max(2, int(np.ceil(line.radii[i] * angle_rad / step)))
            pieces.append(arc_points(way, i, np.linspace(0, angle_rad, count + 1)[1:]))
    return np.concatenate(pieces)


def arc_points(way: Walk, bend: int, turned_rad: Array) -> Array:
    """Points (m, 3) of a bend, counted from 0, where so many radians (m,) of it are done."""
    spoke = way.nodes[2 * bend + 1] - way.centres[bend]
    points: Array = way.centres[bend] + turn(spoke, way.axes[bend], turned_rad)
    return points
