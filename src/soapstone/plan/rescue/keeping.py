"""Keep a rescued tube clear of what stands and swings about it, and of itself.

The gaps are certified by `fit`. Where one is too small, the tube's nearest place is asked to stay
beyond the plane through the solid's nearest point, square to the line between the two; where it
runs into itself, its two places are asked to stay apart along the line between them. Then the tube
is solved again; each round adds the places found, until all is clear or nothing helps.
"""

from collections.abc import Sequence

import numpy as np

from soapstone.fit.clearance import Clearance, KeepOut, clearances
from soapstone.fit.self_clearance import SelfClearance, self_clearance
from soapstone.geometry.centreline import vec
from soapstone.geometry.distance import TOLERANCE
from soapstone.plan.rescue.course import Course
from soapstone.plan.rescue.solve import Answer, Contact, Holds, Target, Tolerance, solve

ROUNDS = 8
SPARE = 0.05
"""mm that a place is asked to stay further off, so that the certificate holds."""


def kept_clear(
    answer: Answer, target: Target, within: Tolerance, keepouts: Sequence[KeepOut]
) -> Answer:
    """Solve again with what is too near kept off; gives the answer with the least shortage."""
    unknowns, best, least = answer.unknowns, answer, np.inf
    od = unknowns.facts.setup.od
    contacts: list[Contact] = []
    for _ in range(ROUNDS):
        near = too_near(answer.course, od, keepouts)
        itself = self_clearance(answer.course.line(), od)
        overlap = max(-itself.gap, 0.0) if itself else 0.0
        short = max((overlap, *(one.wanted - one.gap for one in near)))
        if short < least:
            best, least = answer, short
        if short <= TOLERANCE:
            return answer
        contacts += [_contact(answer.course, od, one) for one in near]
        if itself and overlap > TOLERANCE:
            contacts.append(_apart(answer.course, od, itself))
        answer = solve(unknowns, target, within, Holds(tuple(contacts)), answer.course.laid)
    return best


def too_near(course: Course, od: float, keepouts: Sequence[KeepOut]) -> list[Clearance]:
    """Give the gaps that are less than wanted."""
    gaps = clearances(course.line(), od, keepouts)
    return [one for one in gaps if one.gap < one.wanted - TOLERANCE]


def _contact(course: Course, od: float, near: Clearance) -> Contact:
    """The plane that the tube's nearest place is to stay beyond."""
    piece, share = _place(course, near.along)
    point, surface = np.array(near.point), np.array(near.nearest)
    away = point - surface
    far = float(np.linalg.norm(away))
    normal = away / far if far > 1e-9 else np.array([0.0, 0.0, 1.0])
    if near.high < -od / 2:  # the centreline itself is inside: out by the nearest way
        normal = -normal
    return Contact(
        piece, share, vec(normal), float(normal @ surface) + near.wanted + od / 2 + SPARE
    )


def _apart(course: Course, od: float, near: SelfClearance) -> Contact:
    """Keep two places of the tube apart by its diameter."""
    (first, share), other = (_place(course, along) for along in near.along)
    way = np.subtract(*np.array(near.points))
    far = float(np.linalg.norm(way))
    normal = way / far if far > 1e-9 else course.way.axes[0]
    return Contact(first, share, vec(normal), od + SPARE, other)


def _place(course: Course, along: float) -> tuple[int, float]:
    """Find piece and share of a place so many mm from the A end."""
    lengths = np.empty(2 * len(course.angles) + 1)
    lengths[::2], lengths[1::2] = course.legs, course.radii * np.radians(course.angles)
    ends = np.cumsum(lengths)
    piece = min(int(np.searchsorted(ends, along)), len(lengths) - 1)
    left = along - (ends[piece] - lengths[piece])
    share = left / lengths[piece] if lengths[piece] > 0 else 0.0
    return piece, float(np.clip(share, 0.0, 1.0))
