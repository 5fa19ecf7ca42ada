"""How near a tube comes to what stands or swings about it, certified over the whole travel.

The gap is the least distance from the tube's centreline to the solid's surface, less the tube's
radius: so a tube counts as rounded at its two ends, by half its diameter beyond the cut, and is
never nearer to anything than its gap says. The gap is negative where they overlap: the centreline's
depth inside the solid, and the radius, are taken off. A mesh with free edges has no inside.

Nothing rests on samples: the search bounds the distance in between (`geometry.distance_cells`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from soapstone.findings import Finding, Say, say_mm
from soapstone.fit.motion import Hinge, combinations, hinge_rows, poses, swung
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.distance import (
    TOLERANCE,
    Packed,
    field_of,
    least_distance,
    line_pieces,
    pack,
)
from soapstone.geometry.solids import Solid
from soapstone.geometry.vectors import Vec3

if TYPE_CHECKING:
    from soapstone.geometry.distance_cells import Pieces
    from soapstone.geometry.distance_field import Field


COARSE = 0.05
"""mm between a certificate and the gap that was found, above which a finding says so."""


@dataclass(frozen=True)
class KeepOut:
    """A solid to keep clear of, by `gap` mm, in every position of its hinges (first to last).

    `counts`: what it stands for is so many times as far off as itself; gaps are told of that. The
    plane between a tube and its own mirror image counts 2, all else 1.
    """

    name: str
    solid: Solid
    gap: float
    hinges: tuple[Hinge, ...] = ()
    counts: float = 1.0

    @cached_property
    def packed(self) -> Packed:
        """The solid as arrays, made on first use."""
        return pack(self.solid)


@dataclass(frozen=True, slots=True)
class Clearance:
    """The least gap between a tube's surface and one keep-out, in mm.

    Attributes
    ----------
    keepout, wanted
        The keep-out's name and the gap it needs.
    gap
        Certified: the true gap is no less. Negative: they overlap.
    high
        The gap at the place named here: the true one is no more.
    along
        Where it is: mm along the centreline from the A end.
    point
        The centreline's point there.
    nearest
        The point of the keep-out's surface that is nearest, where its hinges have taken it.
    angles
        Degrees of its hinges, first to last.
    """

    keepout: str
    wanted: float
    gap: float
    high: float
    along: float
    point: Vec3
    nearest: Vec3
    angles: tuple[float, ...]


def clearances(
    line: Centreline,
    od: float,
    keepouts: Sequence[KeepOut],
    tolerance: float = TOLERANCE,
    ceiling: float = inf,
) -> tuple[Clearance, ...]:
    """Least gap of a tube of outside diameter `od` mm to each keep-out, in their order.

    Parameters
    ----------
    tolerance
        mm that `gap` and `high` may be apart. They are further apart only where the tube is deep
        in a mesh, or a search was given up as too long; `gap` is certain then too.
    ceiling
        mm above which gaps need not be told apart: `high` may then be anything above `gap`.
    """
    pieces = line_pieces(line)
    return tuple(piece_clearance(pieces, od, keepout, tolerance, ceiling) for keepout in keepouts)


def least_gap(
    line: Centreline, od: float, keepouts: Sequence[KeepOut], tolerance: float = TOLERANCE
) -> Clearance | None:
    """Least gap of a tube to any keep-out over the whole travel; None when there is none.

    What is further off than the nearest yet is not searched to the end, so this is quicker than
    `clearances`.
    """
    pieces = line_pieces(line)
    least: Clearance | None = None
    for keepout in keepouts:
        ceiling = inf if least is None else least.gap
        found = piece_clearance(pieces, od, keepout, tolerance, ceiling)
        if least is None or found.gap < least.gap:
            least = found
    return least


def piece_clearance(
    pieces: "Pieces",
    od: float,
    keepout: KeepOut,
    tolerance: float = TOLERANCE,
    ceiling: float = inf,
) -> Clearance:
    """Least gap to one keep-out of a tube whose centreline is already arrays."""
    rows = hinge_rows(keepout.hinges)
    found = least_distance(pieces, keepout.packed, rows, tolerance, ceiling + od / 2)
    angles = tuple(float(angle) for angle in np.degrees(found.angles_rad))
    return Clearance(
        keepout=keepout.name,
        wanted=keepout.gap,
        gap=found.low - od / 2,
        high=found.high - od / 2,
        along=found.s,
        point=found.point,
        nearest=vec(swung(np.array(found.nearest), keepout.hinges, angles)),
        angles=angles,
    )


def clearance_findings(
    tube: str, found: Sequence[Clearance], say: Say = say_mm, tolerance: float = TOLERANCE
) -> list[Finding]:
    """Say which keep-outs a tube comes too near to, the worst first.

    A gap short of what is wanted by less than `tolerance` mm, the certificate's own width, counts
    as kept. Where a search was given up before the gap that was found could be made certain, that
    is a warning.
    """
    short = [one for one in found if one.gap < one.wanted - tolerance]
    short.sort(key=lambda one: one.gap - one.wanted)
    return [_finding(tube, one, say) for one in short]


def _finding(tube: str, one: Clearance, say: Say) -> Finding:
    place = f"{say(one.along)} from the A end{_at(one.angles)}"
    if one.high >= one.wanted:
        what = f'clears "{one.keepout}" by {say(one.high)} where looked, {place}'
        what += f"; only {say(one.gap)} could be made certain, of {say(one.wanted)}"
        return Finding("warn", tube, what, "look at that place, or keep further off it")
    if one.gap < 0:
        what = f'hits "{one.keepout}" by {say(-one.gap)}, {place}'
    else:
        what = f'clears "{one.keepout}" by {say(one.gap)} of {say(one.wanted)}, {place}'
    if one.high - one.gap > COARSE:
        what += f"; found not finer than {say(one.high - one.gap)}"
    mend = f"move it {say(one.wanted - one.gap)} further off there, or find a route around it"
    return Finding("stop", tube, what, mend)


def _at(angles: tuple[float, ...]) -> str:
    if not angles:
        return ""
    degrees = " and ".join(f"{angle + 0.0:.1f}°" for angle in angles)
    return f", with its {'hinge' if len(angles) == 1 else 'hinges'} at {degrees}"


def field(keepouts: Sequence[KeepOut], step: float = 5.0) -> "Field":
    """Keep-outs as arrays for compiled code, each in poses at most `step` degrees apart.

    See `geometry.distance` for what it is used with, and what the poses leave out.
    """
    angles = [combinations(keepout.hinges, step) for keepout in keepouts]
    placed = [poses(keepout.hinges, at) for keepout, at in zip(keepouts, angles, strict=True)]
    return field_of([keepout.packed for keepout in keepouts], placed, angles)
