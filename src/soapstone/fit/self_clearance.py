"""How near a tube comes to itself: leg to leg, or one turn of a coil to the next.

Parts that follow closely on each other are near by nature and do not count. What counts are
points at least a half turn of the tightest bend apart along the tube. No line that bends nowhere
more tightly than radius R brings points nearer to each other along itself than pi R closer
together than a circle of radius R would (Schur's comparison theorem), so as long as R exceeds the
tube's radius nothing that touches is left out; and what counts is at least 2 R apart unless the
tube comes back to itself.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from soapstone.findings import Finding, Say, say_mm
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.distance import TOLERANCE, least_self_distance, line_pieces
from soapstone.geometry.vectors import Vec3


@dataclass(frozen=True, slots=True)
class SelfClearance:
    """The least gap of a tube to itself in mm.

    `gap` is certified and `high` is the gap at the place named; `along` are the two distances
    along the centreline from the A end, `points` the centreline's points there.
    """

    gap: float
    high: float
    along: tuple[float, float]
    points: tuple[Vec3, Vec3]


def self_clearance(
    line: Centreline, od: float, tolerance: float = TOLERANCE
) -> SelfClearance | None:
    """Least gap of a tube of outside diameter `od` mm to itself.

    None when it has no bend, or is too short to come back to itself.
    """
    from soapstone.geometry.distance_cells import put_on_line

    if not line.radii:
        return None
    pieces = line_pieces(line)
    low, high, s, t = least_self_distance(pieces, pi * min(line.radii), tolerance)
    if not np.isfinite(high):
        return None
    frames = np.empty((2, 2, 3))
    for at, frame in zip((s, t), frames, strict=True):
        put_on_line(pieces, at, frame)
    return SelfClearance(low - od, high - od, (s, t), (vec(frames[0, 0]), vec(frames[1, 0])))


def self_clearance_findings(
    tube: str,
    found: SelfClearance | None,
    wanted: float,
    say: Say = say_mm,
    tolerance: float = TOLERANCE,
) -> list[Finding]:
    """Say where a tube comes nearer to itself than `wanted` mm."""
    if found is None or found.gap >= wanted - tolerance:
        return []
    place = f"between {say(found.along[0])} and {say(found.along[1])} from the A end"
    if found.gap < 0:
        what = f"runs {say(-found.gap)} into itself, {place}"
    else:
        what = f"comes within {say(found.gap)} of itself, {place}; {say(wanted)} is wanted"
    return [Finding("stop", tube, what, "lengthen a leg between these places, or turn a bend")]
