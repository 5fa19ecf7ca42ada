"""How far each point may be off: by linearisation, or by walking where that cannot be trusted."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.adjust import SURE_95, Adjusted, radius
from soapstone.job.survey.descent import descend
from soapstone.job.survey.model import Survey
from soapstone.job.survey.placing import size

UNDETERMINED = 0.1
"""Share of the survey's extent: a point that may lie farther off than that is not determined."""

_DOUBTFUL = 3.0  # times the widest plus_minus: beyond it, a direction is walked
_RISE = SURE_95**2  # in the sum of squares at the end of an interval that is right 19 times of 20
_STRIDE = 1.3
_HELD = 1e-3  # mm; how tightly a walked point is held in its place along the walk


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """How well one point is known.

    Attributes
    ----------
    covariance
        (3, 3) in mm2.
    radius
        mm: the point lies within it, 19 times of 20.
    weakest
        Unit direction in which it is known worst.
    loose
        (K, 3) unit directions in which nothing holds it, as far as the survey reaches.
    """

    covariance: Array
    radius: float
    weakest: Array
    loose: Array


def spreads(data: Survey, answer: Adjusted, noise: float) -> dict[str, Spread]:
    """Give how well each sought point is known; `noise` widens what the rows say of themselves."""
    widest = max((data.allowance(row) for row in data.rows), default=0.0) * noise
    covariances = {name: noise**2 * answer.covariance_of(name) for name in answer.sought}
    return {
        name: _spread(data, answer, name, covariance, widest, noise)
        for name, covariance in covariances.items()
    }


def loose(spread: Mapping[str, Spread]) -> tuple[str, ...]:
    """Names of the points that are not determined."""
    return tuple(name for name, one in spread.items() if len(one.loose))


def _spread(
    data: Survey, answer: Adjusted, name: str, covariance: Array, widest: float, noise: float
) -> Spread:
    variances, axes = np.linalg.eigh(covariance)
    limit = UNDETERMINED * size(data)
    unheld = []
    for k in np.flatnonzero(SURE_95 * np.sqrt(np.maximum(variances, 0)) > _DOUBTFUL * widest):
        axis = axes[:, k]
        reach = max(
            _walk(answer, name, way, limit, _DOUBTFUL * widest, noise) for way in (axis, -axis)
        )
        if reach >= limit:
            unheld.append(axis)
        variances[k] = (reach / SURE_95) ** 2
    covariance = (axes * variances) @ axes.T
    return Spread(
        covariance=covariance,
        radius=float(radius(covariance)),
        weakest=axes[:, int(np.argmax(variances))],
        loose=np.array(unheld).reshape(-1, 3),
    )


def _walk(
    answer: Adjusted, name: str, way: Array, limit: float, stride: float, noise: float
) -> float:
    """Give how far a point can be pushed along `way`, all others giving way, before rows object.

    The walk ends at `limit`, and on the crest toward another place that fits as well.
    """
    p = answer.free[answer.sought.index(name)]
    handle = np.zeros((1, answer.equations.linear.shape[1]))
    handle[0, 3 * p : 3 * p + 3] = way / _HELD
    # where nothing holds it to first order the fit stops short of the lowest sum of squares, so the
    # rise is counted from what is left when the point is held where it stands and the rest settles
    here, lowest = _pushed(answer, handle, answer.places)
    lowest = min(lowest, answer.squares)
    gone, risen, ahead = 0.0, 0.0, stride
    while gone < limit:
        ahead = min(ahead, limit)
        there = here.copy()
        there[p] += (ahead - gone) * way
        there, squares = _pushed(answer, handle, there)
        rise = (squares - lowest) / noise**2
        if rise > _RISE:
            # between two strides the rise is nearly a parabola
            share = np.sqrt((_RISE - max(risen, 0.0)) / (rise - max(risen, 0.0)))
            return gone + float(share) * (ahead - gone)
        if rise < risen - 0.01:
            return ahead
        here, gone, risen = there, ahead, max(rise, 0.0)
        ahead = gone * _STRIDE
    return limit


def _pushed(answer: Adjusted, handle: Array, places: Array) -> tuple[Array, float]:
    """Let all give way but what `handle` (1, 3P) holds of `places`; and the sum of squares left."""
    held = replace(
        answer.equations,
        linear=np.concatenate((answer.equations.linear, handle)),
        target=np.append(answer.equations.target, handle[0] @ places.ravel()),
    )
    settled = descend(held, places[None], answer.free)[0]
    misfits = answer.equations.misfits(settled)
    return settled, float(misfits @ misfits)
