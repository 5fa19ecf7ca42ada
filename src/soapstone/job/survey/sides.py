"""Which of the placings that fit is meant: rival placings, and the hints that choose among them."""

from collections.abc import Collection

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.descent import descend, vote
from soapstone.job.survey.equations import Claim, equations
from soapstone.job.survey.model import Side, Survey
from soapstone.job.survey.placing import (
    SOFTNESS,
    clipped,
    distinct,
    elsewhere,
    groups,
    known_points,
    nowhere,
    numbers,
    placings,
    sought_points,
)

RIVAL = 15.0
"""A placing is ruled out when its sum of squared misfits is this much above the best one's: the
odds against it are then better than 1000 to 1 (exp(15 / 2))."""

_PLAIN = 1.0  # two placings whose sums differ by less fit alike, and convention chooses
_TOWARD = 1.0  # mm; a hint tells two placings apart when one is farther by more than this
_ROUNDS = 8


def best_placing(data: Survey, dropped: Collection[Claim] = ()) -> Array:
    """Give the placing (P, 3) that fits best, on the sides that the hints name.

    Misfits count at most `CLIP` each, so that readings that are wrong do not decide.
    """
    best = nowhere(data)
    for group in groups(data, dropped):
        free = numbers(data, group)
        best[free] = _best_of_group(data, group, dropped)[free]
    return best


def _best_of_group(data: Survey, group: Collection[str], dropped: Collection[Claim]) -> Array:
    pool = placings(data, group, dropped)
    best = chosen(data, pool, group, dropped)
    for _ in range(_ROUNDS):
        others = np.concatenate((best[None], neighbours(data, group, best, dropped), pool))
        better = chosen(data, others, group, dropped)
        if np.abs(better - best).max() < _TOWARD:
            break
        best = better
    return best


def neighbours(
    data: Survey, group: Collection[str], placing: Array, dropped: Collection[Claim] = ()
) -> Array:
    """Give the placings (K, P, 3) reached by moving one point to another place its rows allow."""
    free = numbers(data, group)
    moved = []
    for p, name in zip(free, group, strict=True):
        for place in elsewhere(data, placing, name, dropped):
            if np.abs(place - placing[p]).max() > _TOWARD:
                other = placing.copy()
                other[p] = place
                moved.append(other)
    if not moved:
        return np.zeros((0, *placing.shape))
    whole = equations(data, dropped, among=(*known_points(data, dropped), *group))
    return vote(whole, np.array(moved), free, SOFTNESS[1:])


def rivals(
    data: Survey,
    group: Collection[str],
    placing: Array,
    dropped: Collection[Claim] = (),
    noise: float = 1.0,
) -> Array:
    """Give the other placings (K, P, 3) of a group that no row rules out, hints or no.

    `noise` is how many times more than they say the rows disagree.
    """
    pool = np.concatenate(
        (neighbours(data, group, placing, dropped), placings(data, group, dropped))
    )
    free = numbers(data, group)
    others = np.setdiff1d(np.arange(len(placing)), free)
    pool[:, others] = placing[others]
    whole = equations(data, dropped, among=(*known_points(data, dropped), *group))
    pool = distinct(whole, descend(whole, pool, free))
    limit = (whole.misfits(placing) ** 2).sum() + RIVAL * noise**2
    fits = (whole.misfits(pool) ** 2).sum(axis=-1) <= limit
    apart = np.abs(pool - placing).max(axis=(1, 2)) > _TOWARD
    result: Array = pool[fits & apart]
    return result


def preferred(data: Survey, placing: Array, other: Array) -> list[Side]:
    """Give the hints that prefer a placing to another."""
    return [
        side
        for side in data.sides
        if leaning(data, side, placing) > leaning(data, side, other) + _TOWARD
    ]


def leaning(data: Survey, side: Side, placing: Array) -> float:
    """How far a placing goes the way of a hint, in mm; only differences have a meaning."""
    names = data.names
    point = placing[names.index(side.point)]
    if side.way is not None:
        return float(point @ np.array(side.way))
    return -float(np.linalg.norm(point - placing[names.index(str(side.toward))]))


def chosen(
    data: Survey, pool: Array, group: Collection[str] | None = None, dropped: Collection[Claim] = ()
) -> Array:
    """Choose among placings: by fit, then the hints (directions before points), then convention.

    Convention, where all else is equal, is the upper place, then the one with the greater x, y.
    """
    group = sought_points(data, dropped) if group is None else group
    losses = clipped(equations(data, dropped, among=(*known_points(data, dropped), *group)), pool)
    left = pool[losses <= losses.min() + RIVAL]
    losses = losses[losses <= losses.min() + RIVAL]
    # directions first: to be near another point says little until that point's side is known
    for side in sorted(data.sides, key=lambda side: side.way is None):
        if side.point not in group:
            continue
        lean = np.array([leaning(data, side, placing) for placing in left])
        keep = lean > lean.max() - _TOWARD
        left, losses = left[keep], losses[keep]
    left = left[losses <= losses.min() + _PLAIN]
    for axis in (2, 0, 1):
        total = left[:, :, axis].sum(axis=1)
        left = left[total > total.max() - _TOWARD]
    result: Array = left[0]
    return result
