"""What to tape next: the distances that would pin a weak point, tell two places apart, or check."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.adjust import Adjusted, radius
from soapstone.job.survey.equations import SURE
from soapstone.job.survey.model import Survey
from soapstone.job.survey.placing import size
from soapstone.job.survey.spread import Spread

MOST = 3
"""Tapes proposed for one point."""

WORTH = 0.7
"""A tape is worth its while when it leaves less than this share of the plus_minus."""

FARTHEST = 1.0
"""Times the survey's extent: no plus_minus is foretold above it."""


@dataclass(frozen=True, slots=True)
class NextTape:
    """A distance worth taping.

    `expected` is what it should read, `otherwise` what it would read if the point lay at its other
    place; both in mm, or None where that is not known. `before` and `after` are the plus_minus of
    `start`, the point it is for, now and then; None for a tape that tells two places apart.
    """

    start: str
    end: str
    why: str
    expected: float | None
    otherwise: float | None
    before: float | None
    after: float | None


def tapes_for(
    data: Survey,
    answer: Adjusted,
    spread: Mapping[str, Spread],
    name: str,
    goal: float,
    why: str,
    most: int = MOST,
    worth: float = WORTH,
) -> tuple[NextTape, ...]:
    """Choose the tapes from a point that bring its plus_minus below `goal`, the best one first.

    There are none unless all together they leave at most a share `worth` of the plus_minus. What
    they would do is foretold by linearisation at the places found (the covariance of the answer
    with more rows), so it is only as good as the places.
    """
    covariance = answer.covariance
    first = after = spread[name].radius
    taken = _taped(data, name)
    known = len(spread[name].loose) == 0
    ends: list[str] = []
    reached: list[float] = []
    while after > goal and len(ends) < most:
        found = _best(data, answer, spread, name, covariance, (*taken, *ends), goal)
        if found is None:
            break
        end, covariance = found
        left = float(radius(_block(covariance, answer, name)))
        after = min(left, after, FARTHEST * size(data))
        ends.append(end)
        reached.append(after)
    if after > worth * first:
        return ()
    return tuple(
        NextTape(
            start=name,
            end=end,
            why=why,
            expected=_distance(data, answer.places, name, end) if known else None,
            otherwise=None,
            before=first,
            after=then,
        )
        for end, then in zip(ends, reached, strict=True)
    )


def telling_tape(
    data: Survey, placing: Array, rival: Array, moved: Collection[str], steady: Collection[str]
) -> NextTape | None:
    """Choose the tape that reads most differently at two placings, from a point that moves."""
    best: NextTape | None = None
    margin = 4 * data.plus_minus
    for name in moved:
        for end in steady:
            here = _distance(data, placing, name, end)
            there = _distance(data, rival, name, end)
            if abs(here - there) > margin:
                margin = abs(here - there)
                best = NextTape(name, end, "side", here, there, None, None)
    return best


def _best(
    data: Survey,
    answer: Adjusted,
    spread: Mapping[str, Spread],
    name: str,
    covariance: Array,
    taken: Collection[str],
    goal: float,
) -> tuple[str, Array] | None:
    """Choose the end of the one tape that tells most of a point, and the covariance it leaves.

    What it tells is measured by the product of the axes of the point's ellipsoid, in which an axis
    that is short enough for the goal counts no further.
    """
    ends = [end for end in data.names if end != name and end not in taken]
    firm = [end for end in ends if end not in spread or not len(spread[end].loose)]
    least = max(goal / 4, 1e-3) ** 2
    best: tuple[str, Array] | None = None
    lowest = _told(_block(covariance, answer, name), least) - 1e-3
    for end in firm or ends:
        slope = _slope(data, answer, name, end)
        if slope is None:
            continue
        gain = covariance @ slope
        left = covariance - np.outer(gain, gain) / (1 + slope @ gain)
        told = _told(_block(left, answer, name), least)
        if told < lowest:
            lowest, best = told, (end, left)
    return best


def _slope(data: Survey, answer: Adjusted, start: str, end: str) -> Array | None:
    """Derivatives of a tape's misfit by all coordinates; None when the ends are too near."""
    order = data.names
    step = answer.places[order.index(start)] - answer.places[order.index(end)]
    length = float(np.linalg.norm(step))
    if length < 5 * data.plus_minus:
        return None
    slope = np.zeros(len(answer.covariance))
    for point, sign in ((start, 1.0), (end, -1.0)):
        if point in answer.sought:
            k = 3 * answer.sought.index(point)
            slope[k : k + 3] = sign * step / length * SURE / data.plus_minus
    return slope


def _block(covariance: Array, answer: Adjusted, name: str) -> Array:
    k = 3 * answer.sought.index(name)
    return covariance[k : k + 3, k : k + 3]


def _told(covariance: Array, least: float) -> float:
    return float(np.log(np.maximum(np.linalg.eigvalsh(covariance), least)).sum())


def _taped(data: Survey, name: str) -> tuple[str, ...]:
    """Points that have a tape to the point already."""
    return tuple(
        row.end if row.start == name else row.start for row in data.tapes if name in row.points
    )


def _distance(data: Survey, places: Array, start: str, end: str) -> float:
    order = data.names
    return float(np.linalg.norm(places[order.index(start)] - places[order.index(end)]))
