"""Where a laid tube runs: the measures of its chain, and the walk along it."""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.centreline import Centreline, Walk, vec
from soapstone.geometry.chain import walk_arrays
from soapstone.geometry.vectors import Array, turn
from soapstone.plan.rescue.unknowns import Unknowns, angles, planes

DEGREE = np.pi / 180


@dataclass(frozen=True, slots=True)
class Laid:
    """A tube laid in space: its unknowns; the A end, `along` and `up` as in `Centreline`."""

    values: Array
    start: Array
    along: Array
    up: Array


@dataclass(frozen=True, slots=True)
class Course:
    """Where a laid tube runs: the measures of its chain, and the walk along it."""

    laid: Laid
    legs: Array
    angles: Array
    rotations: Array
    radii: Array
    way: Walk

    def point(self, piece: int, share: float) -> Array:
        """Give the point at the share 0 to 1 of a piece: straights are even, arcs odd."""
        i, node = piece // 2, self.way.nodes[piece]
        if piece % 2 == 0:
            return np.asarray(node + share * self.legs[i] * self.way.directions[i])
        spoke, turned = node - self.way.centres[i], np.float64(share * self.angles[i] * DEGREE)
        point: Array = self.way.centres[i] + turn(spoke, self.way.axes[i], turned)
        return point

    def line(self) -> Centreline:
        """Give the centreline, rotations within half a turn."""
        turned = -((-self.rotations + 180.0) % 360.0 - 180.0)
        return Centreline(
            start=vec(self.laid.start),
            along=vec(self.laid.along),
            up=vec(self.laid.up),
            legs=tuple(np.maximum(self.legs, 0.0).tolist()),
            angles=tuple(self.angles.tolist()),
            rotations=tuple(turned.tolist()),
            radii=tuple(self.radii.tolist()),
        )


def course_of(unknowns: Unknowns, laid: Laid) -> Course:
    """Walk a laid tube."""
    values, setup = laid.values, unknowns.facts.setup
    legs = unknowns.legs @ np.append(values, 1.0)
    bent = angles(values)
    radii = radii_of(setup, unknowns.held(values), bent)
    rotations = np.diff(planes(values), prepend=planes(values)[:1])
    way = walk_arrays(laid.start, laid.along, laid.up, legs, bent, rotations, radii)
    return Course(laid, legs, bent, rotations, radii, way)


def radii_of(setup: Setup, held: Array, bent: Array) -> Array:
    """Radii after release: the arc keeps its length when it opens from `held` to `bent` degrees."""
    return setup.clr * held / bent
