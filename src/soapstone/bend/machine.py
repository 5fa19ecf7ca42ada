"""The bender as the tube meets it: die, bodies and floor."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import degrees
from typing import TypeAlias

import numpy as np

from soapstone.bench.accuracy import WITHIN, Accuracy
from soapstone.bench.bender import Bender
from soapstone.bench.setup import Setup
from soapstone.bend.pose import SIDES, swing_axis
from soapstone.fit.keepouts import solid_of
from soapstone.geometry.centreline import vec
from soapstone.geometry.distance import Packed, pack
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace
from soapstone.geometry.vectors import Array, Vec3

Convex: TypeAlias = Ball | Box | Cylinder | HalfSpace
"""What benders and rooms are put together from."""

DIE_MARGIN = 10.0
"""mm by which a die is taken to be thicker than its tube, where the bench does not say."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A solid of the bender or the room, by name."""

    name: str
    solid: Convex

    @property
    def packed(self) -> Packed:
        """Give the solid as arrays."""
        return _packed(self.solid)


@lru_cache(maxsize=100)
def _packed(solid: Convex) -> Packed:
    return pack(solid)


@dataclass(frozen=True, slots=True)
class Machine:
    """The bender as the tube meets it. Lengths in mm.

    `side` is the unit vector to the die's centre, `obstacles` are bodies and floor, `die` the die.
    `level_spread` and `band_spread` are standard deviations in degrees of a roll, set by a level on
    a straight square to the tube, and by a band round the tube.
    """

    clr: float
    od: float
    clamp: float
    follower: float
    side: Vec3
    obstacles: tuple[Obstacle, ...]
    die: Obstacle
    level_spread: float
    band_spread: float

    @property
    def centre(self) -> Array:
        """The die's centre."""
        return self.clr * np.array(self.side)


def machine(
    clr: float,
    od: float,
    clamp: float,
    follower: float,
    side: Vec3,
    bodies: Sequence[tuple[str, Convex]] = (),
    die_height: float | None = None,
    accuracy: Accuracy | None = None,
) -> Machine:
    """Put a bender together from its die, its bodies by name, and the height above the floor.

    The die is a disc that reaches to the bottom of its groove, `DIE_MARGIN` thicker than the tube.
    """
    axis, centre = swing_axis(side), clr * np.array(side)
    half = (od + DIE_MARGIN) / 2 * axis
    disc = Cylinder(vec(centre - half), vec(centre + half), 2 * clr - od)
    solids: list[tuple[str, Convex]] = [*bodies]
    if die_height is not None:
        solids.append(("floor", HalfSpace((0.0, 0.0, -die_height), (0.0, 0.0, 1.0))))
    obstacles = tuple(Obstacle(name, solid) for name, solid in solids)
    truth = accuracy or Accuracy()
    return Machine(
        clr,
        od,
        clamp,
        follower,
        side,
        obstacles,
        Obstacle("die", disc),
        truth.level / WITHIN,
        degrees(truth.band / WITHIN / (od / 2)),
    )


def machine_for(
    setup: Setup,
    bender: Bender,
    *,
    swing: str | None = None,
    die_height: float | None = None,
    clamp: float | None = None,
    follower: float | None = None,
) -> Machine:
    """Put together the bender of a bench with the die and the tubing of a setup.

    `swing`, and `die_height`, `clamp`, `follower` in mm, stand for the bench's own where they are
    given.
    """
    bodies = []
    for body in bender.bodies:
        solid = solid_of(body.solid)
        assert isinstance(solid, Ball | Box | Cylinder | HalfSpace)
        bodies.append((body.name, solid))
    height = bender.die_height if die_height is None else die_height
    side = SIDES[swing or setup.swing]
    return machine(
        setup.clr,
        setup.od,
        setup.clamp if clamp is None else clamp,
        setup.follower if follower is None else follower,
        side,
        bodies,
        height,
        setup.accuracy,
    )
