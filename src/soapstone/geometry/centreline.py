"""A tube's centreline: straights joined by circular arcs, travelled from its A end to its B end."""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.vectors import Array, Vec3


@dataclass(frozen=True, slots=True)
class Centreline:
    """Straights and arcs in space: n bends, n + 1 legs.

    Attributes
    ----------
    start, along, up
        The A end in mm; the unit direction of travel there; the unit vector, perpendicular to
        `along`, toward which the first bend turns (any perpendicular when there is no bend).
    legs
        Lengths of the n + 1 straights in mm.
    angles, rotations
        Bend angles in degrees, positive; rotation of each bend's plane about the direction of
        travel since the bend before, right-handed, in (-180, 180], the first one 0.
    radii
        Centreline radius of each bend in mm.
    """

    start: Vec3
    along: Vec3
    up: Vec3
    legs: tuple[float, ...]
    angles: tuple[float, ...] = ()
    rotations: tuple[float, ...] = ()
    radii: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse lists of lengths that do not belong together."""
        n = len(self.angles)
        if not (len(self.legs) == n + 1 and len(self.rotations) == len(self.radii) == n):
            raise ValueError("a centreline of n bends has n + 1 legs, n rotations and n radii")


@dataclass(frozen=True, slots=True)
class Walk:
    """Where a centreline goes; arrays of any leading shape, for n bends.

    Attributes
    ----------
    nodes
        (..., 2n + 2, 3): A end, start and end of each arc in turn, B end.
    directions
        (..., n + 1, 3): unit direction of travel on each leg.
    axes
        (..., n, 3): unit axis of each bend, direction before x direction after.
    centres
        (..., n, 3): centre of each arc.
    """

    nodes: Array
    directions: Array
    axes: Array
    centres: Array


def vec(a: Array) -> Vec3:
    """Give the first three numbers of an array as a plain tuple."""
    x, y, z = (float(value) for value in np.asarray(a))
    return (x, y, z)
