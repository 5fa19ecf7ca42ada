"""Least squares from many starts at once: damped Gauss-Newton (Levenberg-Marquardt), in batches."""

from collections.abc import Sequence

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.equations import Equations, Indices

STEPS = 40
_SETTLED = 1e-5  # mm; a start whose step is shorter has arrived
NEARLY = 0.01  # mm; near enough while looking for a side
_LARGEST = 4_000_000  # derivatives held at once
_EASY, _HARD = 1e-9, 1e9  # limits of the damping


def descend(
    equations: Equations,
    starts: Array,
    free: Indices,
    softness: Sequence[float] = (),
    steps: int = STEPS,
    settled: float = _SETTLED,
) -> Array:
    """Move the points `free` downhill from every start.

    Parameters
    ----------
    equations
        What is to be fitted.
    starts
        (S, P, 3) places of all points.
    free
        Numbers of the points that may move.
    softness
        Without it the sum of squares falls. With it the misfits are bent by Cauchy's loss
        c^2 log(1 + (r/c)^2), one round for each c in turn: readings that are wrong let go.
    steps
        At most so many steps a round.
    settled
        A start whose step is shorter, in mm, has arrived.

    Returns
    -------
    Array
        (S, P, 3) places where each start ended.
    """
    each = (len(equations.length) + len(equations.linear)) * max(3 * len(free), 1)
    batch = max(1, _LARGEST // max(each, 1))
    places = starts.copy()
    if not len(free):
        return places
    for first in range(0, len(places), batch):
        part = slice(first, first + batch)
        for c in softness or (np.inf,):
            places[part] = _round(equations, places[part], free, float(c), steps, settled)
    return places


def vote(equations: Equations, starts: Array, free: Indices, softness: Sequence[float]) -> Array:
    """Descend with Cauchy's loss, near enough to tell one side from another."""
    return descend(equations, starts, free, softness, steps=16, settled=NEARLY)


def _round(
    eq: Equations, places: Array, free: Indices, c: float, steps: int, settled: float
) -> Array:
    damping = np.full(len(places), 1e-3)
    moving = np.arange(len(places))
    misfits = eq.misfits(places)
    loss = _loss(misfits, c)
    places = places.copy()
    for _ in range(steps):
        here = places[moving]
        step = _step(eq, here, misfits[moving], free, c, damping[moving])
        there = here.copy()
        there[:, free] += step
        tried = eq.misfits(there)
        new_loss = _loss(tried, c)
        better = new_loss <= loss[moving]
        won = moving[better]
        places[won], misfits[won], loss[won] = there[better], tried[better], new_loss[better]
        damping[moving] = np.clip(damping[moving] * np.where(better, 0.2, 6.0), _EASY, _HARD)
        far = np.abs(step).max(axis=(1, 2)) > settled
        moving = moving[far & (damping[moving] < _HARD)]
        if not len(moving):
            break
    return places


def _step(
    eq: Equations, places: Array, misfits: Array, free: Indices, c: float, damp: Array
) -> Array:
    slopes = eq.slopes(places, free)
    weights = 1 / (1 + (misfits / c) ** 2)
    pulled = np.swapaxes(slopes * weights[..., None], -1, -2)
    normal = pulled @ slopes
    down = -(pulled @ misfits[..., None])
    diagonal = np.einsum("sii->si", normal)
    floor = 1e-9 * np.maximum(diagonal.max(axis=-1, keepdims=True), 1e-30)
    diagonal += damp[:, None] * np.maximum(diagonal, floor) + floor * 1e-3
    step = np.linalg.solve(normal, down)[..., 0]
    return np.asarray(step, dtype=float).reshape(len(places), len(free), 3)


def _loss(misfits: Array, c: float) -> Array:
    squares = misfits**2
    bent = squares if np.isinf(c) else c**2 * np.log1p(squares / c**2)
    result: Array = bent.sum(axis=-1)
    return result


def polish(equations: Equations, places: Array, free: Indices) -> Array:
    """Bring one solution (P, 3) to rest within rounding, in the least-squares sense.

    Directions that nothing measures stay where they are.
    """
    best = places
    for _ in range(30):
        misfits = equations.misfits(best)
        slopes = equations.slopes(best, free)
        step = np.linalg.lstsq(slopes, -misfits, rcond=1e-7)[0].reshape(-1, 3)
        there = best.copy()
        there[free] += step
        if (equations.misfits(there) ** 2).sum() > (misfits**2).sum() * (1 + 1e-12):
            break
        best = there
        if np.abs(step).max() < 1e-9:
            break
    return best
