"""Length, box, volume and centre of mass of round tube along a centreline. All closed forms."""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline, Walk, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, cross, dot


def length(line: Centreline) -> float:
    """Length along the centreline in mm: the legs, and R times the angle of each arc."""
    arcs = np.dot(line.radii, np.radians(line.angles)) if line.angles else 0.0
    return float(sum(line.legs) + arcs)


def bounds(line: Centreline, od: float) -> tuple[Vec3, Vec3]:
    """Corners (least, greatest) of the box that just holds the tube, flat ends included, in mm.

    A round section whose direction is d reaches r sqrt(1 - (d.e)^2) along e. Along an arc the
    reach is greatest at its ends or where the tube runs square to e, and nowhere else as long as
    the bend's radius exceeds r, so this is exact.
    """
    way = walk(line)
    centres = [way.nodes]
    directions = [np.repeat(way.directions, 2, axis=0)]
    for i, angle in enumerate(line.angles):
        found, going = _square_to_axes(way, i, angle)
        centres.append(found)
        directions.append(going)
    at, going = np.concatenate(centres), np.concatenate(directions)
    reach = od / 2 * np.sqrt(np.clip(1 - going**2, 0, None))
    return vec((at - reach).min(axis=0)), vec((at + reach).max(axis=0))


def _square_to_axes(way: Walk, i: int, angle: float) -> tuple[Array, Array]:
    """Points of arc i, and directions there, where it runs square to x, y or z."""
    spoke = way.nodes[2 * i + 1] - way.centres[i]
    going = way.directions[i]
    radius = np.sqrt(dot(spoke, spoke))
    # radial unit a, tangent unit b: the direction at phi is b cos(phi) - a sin(phi)
    radial = spoke / radius
    base = np.arctan2(going, radial)
    phi = (base[:, None] + np.pi * np.arange(3)).ravel() % (2 * np.pi)
    phi = phi[phi <= np.radians(angle)][:, None]
    points = way.centres[i] + radius * (np.cos(phi) * radial + np.sin(phi) * going)
    return points, np.cos(phi) * going - np.sin(phi) * radial


@dataclass(frozen=True, slots=True)
class Mass:
    """Metal of a tube: `volume` in mm3, `mass` in kg, `centre` of mass in mm."""

    volume: float
    mass: float
    centre: Vec3


def mass(line: Centreline, od: float, wall: float, density: float) -> Mass:
    """Mass of a tube of constant section; `density` in kg/m3.

    Volume by Pappus' theorem. The metal of an arc lies outside its centreline by I / (A R), with
    I the section's second moment of area: the outside of a bend is longer than the inside.
    """
    inner = od / 2 - wall
    area = np.pi * ((od / 2) ** 2 - inner**2)
    second_moment = np.pi / 4 * ((od / 2) ** 4 - inner**4)
    way = walk(line)
    volumes = [area * leg for leg in line.legs]
    centroids = list((way.nodes[0::2] + way.nodes[1::2]) / 2)
    for i, (angle, radius) in enumerate(zip(line.angles, line.radii, strict=True)):
        half_rad = np.radians(angle) / 2
        spoke = (way.nodes[2 * i + 1] - way.centres[i]) / radius
        inward_normal = cross(way.axes[i], spoke)
        middle = np.cos(half_rad) * spoke + np.sin(half_rad) * inward_normal
        reach = (radius + second_moment / (area * radius)) * np.sin(half_rad) / half_rad
        volumes.append(area * radius * 2 * half_rad)
        centroids.append(way.centres[i] + reach * middle)
    weights = np.array(volumes)
    volume = float(weights.sum())
    centre = weights @ np.array(centroids) / volume
    return Mass(volume, volume * density * 1e-9, vec(centre))
