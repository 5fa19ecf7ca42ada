"""The fewest distances to tape on a made tube that tell all of its bends apart.

Of all distances that a straight tape can take, that one is added which brings what is known of
angles and rolls nearest to half of what may pass, until all are; then each that the others make
needless is dropped. It is reckoned for bends that may be off by degrees, so that the tape alone
must tell, and not what trial bends promise.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.check.inspect.places import Place, bends_before, places, spots
from soapstone.check.inspect.reads import Height, Taping, What, drawn, reads, touches
from soapstone.check.inspect.tolerance import ROLL_TO_ANGLE
from soapstone.check.making import Making, making_of, roll_spread, steps
from soapstone.geometry.centreline import vec
from soapstone.geometry.chain import sample, walk
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross, dot, norm, unit
from soapstone.plan.model import TubePlan

SHORTEST = 1.0
"""Distances of less than this many diameters say nothing about a bend."""

WORST_ANGLE, WORST_ROLL = 3.0, 5.0
"""Degrees, standard deviations: how wrong a bend or a roll may be before anything is taped."""

ON_SHEET = 1
"""So many distances more than bends are listed on a sheet: there is room for no more."""

LEAST_GAIN = 0.2
"""Natural logarithm: a distance that narrows nothing by more than this is not worth taking."""

HEIGHT_SPREAD = 1.0
"""mm, standard deviation of a height over a floor: common practice (2 mm, 19 times of 20)."""

FLATTEST = 5.0
"""Degrees: the legs of a lesser bend do not say how a tube lies on a floor."""

FLUSH = 1e-6
"""mm below a floor that still counts as on it."""

TAPE_SPREAD = 0.5
"""mm, standard deviation of a tape outside to outside: common practice (1 mm, 19 times of 20)."""


@dataclass(frozen=True, slots=True)
class CheckDistance:
    """The greatest distance, outside to outside, between two places of a tube, in mm.

    `start` and `end` name the places ("A end", "mark 2", "B end"); `start_at`, `end_at` are the
    points of the surface that the tape touches; `spans` lists the bends in between.
    """

    start: str
    end: str
    length: float
    start_at: Vec3
    end_at: Vec3
    spans: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CheckPlan:
    """What to tape, in order from the A end, and what that leaves untold.

    `angles`, `rolls` are the standard deviations in degrees to which each bend's will be known;
    `untold` names what stays above half of what may pass, ("angle" or "roll", bend): an angle is
    then one for the protractor, and a roll that no tape and no floor shows one for the eye.
    `heights` are taken over a flat floor, each with what it is as drawn, for rolls that no tape
    shows, as of a flat tube.
    """

    distances: tuple[CheckDistance, ...]
    angles: tuple[float, ...]
    rolls: tuple[float, ...]
    untold: tuple[tuple[str, int], ...]
    heights: tuple[tuple[Height, float], ...] = ()


def check_distances(plan: TubePlan) -> tuple[CheckDistance, ...]:
    """Give the distances to tape on a finished tube that go on its sheet, from the A end on."""
    return check_plan(plan, len(plan.bends) + ON_SHEET).distances


def check_plan(plan: TubePlan, most: int = 0) -> CheckPlan:
    """Choose what to tape on a finished tube; nothing on one without a bend.

    At most `most` distances and no heights, or, when that is 0, as many as there are angles and
    rolls and one more, and heights for rolls that they do not tell.
    """
    making = making_of(plan)
    n = making.count
    if n == 0:
        return CheckPlan((), (), (), ())
    found = candidates(making)
    target = _targets(plan, n)
    start = np.diag(_doubt(making))
    slopes, numbers = _slopes(making, [taping for taping, _ in found])
    chosen = _choose(slopes, numbers, start, target, most or 2 * n)
    known = _given(start, slopes[chosen])
    spread = np.sqrt(_spreads(known, numbers))
    rolls = [] if most else [i - n + 2 for i in range(n, len(target)) if spread[i] > target[i]]
    heights = [one for roll in rolls for one in _heights_for(making, roll)]
    if heights:
        over = _slopes(making, [one for one, _ in heights])[0] * (TAPE_SPREAD / HEIGHT_SPREAD)
        spread = np.sqrt(_spreads(_given(known, over), numbers))
    untold = [i for i in range(len(target)) if spread[i] > target[i] * (1 + 1e-9)]
    return CheckPlan(
        tuple(distance for i, (_, distance) in enumerate(found) if i in chosen),
        tuple(spread[:n].tolist()),
        (0.0, *spread[n:].tolist()),
        tuple(("angle", i + 1) if i < n else ("roll", i - n + 2) for i in untold),
        tuple(heights),
    )


def _heights_for(making: Making, roll: int) -> list[tuple[Height, float]]:
    """Give the heights that show the roll before a bend, and what they are as drawn, mm.

    The bend before lies flat, and the leg behind this one rises or does not: read half-way and at
    the tube's end, since one reading alone could as well be a misread one.
    """
    if making.bends[roll - 2].angle < FLATTEST:
        return []
    found = []
    for place in (Place("leg", roll + 1), Place("end", 1)):
        one = Height(place, roll - 1)
        over = float(reads([one], making, drawn(making.plan))[0])
        if over < -FLUSH:
            one = replace(one, turned=True)
            over = float(reads([one], making, drawn(making.plan))[0])
        if over >= -FLUSH:
            found.append((one, max(over, 0.0)))
    return found


def candidates(making: Making) -> list[tuple[Taping, CheckDistance]]:
    """Give all distances between ends and marks that a straight tape can take, from A to B.

    The back of a bend stands in for a mark that was cut off.
    """
    plan = making.plan
    tube, radius = drawn(plan), plan.setup.od / 2
    way = walk(plan.shape)
    body = sample(plan.shape, max(radius / 2, 1.0))
    there = places(making)
    marked = {place.number for place in there if place.kind == "mark"}
    along: list[Place] = [
        place
        for place in there
        if place.kind in ("end", "mark") or (place.kind == "back" and place.number not in marked)
    ]
    at = {place: spots(place, making, tube, way) for place in along}
    found = []
    for i, one in enumerate(along):
        for other in along[i + 1 :]:
            taping = Taping(one, other)
            a, b = touches(taping, at[one], at[other], radius)
            length = float(norm(b - a))
            if length < 2 * radius * SHORTEST or not _clear(a, b, body, radius):
                continue
            spans = tuple(range(bends_before(one, making) + 1, bends_before(other, making) + 1))
            found.append(
                (taping, CheckDistance(one.name, other.name, length, vec(a), vec(b), spans))
            )
    return found


def _targets(plan: TubePlan, n: int) -> Array:
    """Half of what may pass of each angle (n,) and each roll but the first (n - 1,)."""
    angle = plan.setup.tolerance / 2
    return np.concatenate((np.full(n, angle), np.full(n - 1, ROLL_TO_ANGLE * angle)))


def _doubt(making: Making) -> Array:
    """Variances (m,) of the causes when bends and rolls may be off by degrees."""
    setup = making.plan.setup
    spread = np.ones(len(making.causes))
    for place, cause in enumerate(making.causes):
        if cause.kind == "stop":
            spread[place] = WORST_ANGLE / (setup.dial_step / np.sqrt(12))
        if cause.kind == "roll":
            bend = making.bends[cause.bend - 1]
            spread[place] = WORST_ROLL / roll_spread(bend, setup)
    return spread**2


def _slopes(making: Making, tapings: Sequence[What]) -> tuple[Array, Array]:
    """Derivatives by the causes of the tapes (C, m), in deviations, and of what is sought."""
    n = making.count
    up, down = (making.made(side) for side in steps(np.zeros(len(making.causes))))
    read = (reads(tapings, making, up) - reads(tapings, making, down)) / 2e-4 / TAPE_SPREAD
    sought = (up.numbers - down.numbers) / 2e-4
    keep = [*range(n + 1, 2 * n + 1), *range(2 * n + 2, 3 * n + 1)]
    return read.T, sought.T[keep]


def _given(covariance: Array, rows: Array) -> Array:
    """The covariance (m, m) once tapes with these slopes (K, m) have been read."""
    for row in rows:
        pull = covariance @ row
        covariance = covariance - np.outer(pull, pull) / (1 + row @ pull)
    return covariance


def _spreads(covariance: Array, numbers: Array) -> Array:
    """Variances of what is sought."""
    variances: Array = np.maximum(np.einsum("ij,jk,ik->i", numbers, covariance, numbers), 0.0)
    return variances


def _want(covariance: Array, numbers: Array, target: Array) -> float:
    """By how much all that is sought falls short, in logarithms; 0 when it does not."""
    short = np.log(np.maximum(_spreads(covariance, numbers), 1e-12) / target**2) / 2
    return float(np.maximum(short, 0.0).sum())


def _choose(slopes: Array, numbers: Array, start: Array, target: Array, most: int) -> list[int]:
    chosen: list[int] = []
    covariance = start
    want = _want(covariance, numbers, target)
    while want > 0 and len(chosen) < min(len(slopes), most):
        wants = [
            np.inf if i in chosen else _want(_given(covariance, row[None]), numbers, target)
            for i, row in enumerate(slopes)
        ]
        best = int(np.argmin(wants))
        if want - wants[best] < LEAST_GAIN:
            break
        chosen.append(best)
        covariance, want = _given(covariance, slopes[best][None]), wants[best]
    for one in list(chosen):
        others = [i for i in chosen if i != one]
        if _want(_given(start, slopes[others]), numbers, target) <= want + LEAST_GAIN:
            chosen = others
    return chosen


def _clear(a: Array, b: Array, body: Array, radius: float) -> bool:
    """Whether a straight tape from a to b can lie beside the tube.

    The places touched are the far sides of their sections, so the tape runs past each a radius to
    the side, and must pass the rest of the tube there too. The two sides may differ by up to 60
    degrees: that makes the tape read longer by less than it is read to.
    """
    along = unit(b - a)
    beside = body[_gaps(a[None], b[None], body)[1] < 2.5 * radius]
    if not len(beside):
        return True
    one = any_perpendicular(along)
    two = cross(along, one)
    around_rad = np.radians(np.arange(0, 360, 15))[:, None]
    shift = radius * (np.cos(around_rad) * one + np.sin(around_rad) * two)
    for skew in (0, 1, -1, 2, -2, 3, -3, 4, -4):
        start, end = a + shift, b + np.roll(shift, skew, axis=0)
        if bool((_gaps(start, end, beside)[0] > 0.9 * radius).any()):
            return True
    return False


def _gaps(start: Array, end: Array, body: Array) -> tuple[Array, Array]:
    """Distances of points (m, 3) from the straight lines start to end, (n, 3) each.

    Gives the least of each line (n,) and of each point (m,).
    """
    step = (end - start)[:, None, :]
    share = np.clip(dot(body - start[:, None, :], step) / dot(step, step), 0, 1)
    gaps = norm(start[:, None, :] + share[..., None] * step - body)
    return gaps.min(axis=1), gaps.min(axis=0)
