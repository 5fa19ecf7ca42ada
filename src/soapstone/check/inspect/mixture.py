"""What a made tube's numbers may be off by when nobody knows how much its bends scatter.

Trial bends leave open how much bends scatter, and one tube in many scatters twice as much as most.
With the scatter's root mean square alone such a tube's legs were wrong more often than said, since
they hang on the stock that its bends used. So the answer is taken for each scatter that may be, by
the tangent at the answer found; each counts by what it was believed before and by how well it
explains the readings, and what is said is of the mixture.
"""

import math

import numpy as np

from soapstone.bench.normal import chance_under
from soapstone.check.inspect.adjust import AsMade
from soapstone.check.making import Cause
from soapstone.geometry.vectors import Array

HELD = 0.95
_HALVINGS = 50


def mixed(answer: AsMade) -> tuple[Array, Array]:
    """Give numbers (4n + 1,) as the readings tell them, and the plus or minus that holds 95 %."""
    belief = answer.making.plan.setup.calibration.belief
    usual = math.sqrt(float(belief.weight @ belief.sigma**2))
    numbers, spreads, scores = [], [], []
    for sigma, weight in zip(belief.sigma, belief.weight, strict=True):
        if weight > 0:
            off, covariance, score = _given(answer, float(sigma) / usual)
            numbers.append(answer.numbers + answer.slopes @ (off - answer.off))
            variances = np.einsum("ij,jk,ik->i", answer.slopes, covariance, answer.slopes)
            spreads.append(np.sqrt(np.maximum(variances, 1e-18)))
            scores.append(math.log(weight) + score)
    share = np.exp(np.array(scores) - max(scores))
    share /= share.sum()
    means, widths = np.array(numbers), np.array(spreads)
    middle: Array = share @ means
    return middle, _half_width(share, means - middle, widths)


def _given(answer: AsMade, scale: float) -> tuple[Array, Array, float]:
    """The causes, their covariance and the log evidence when bends scatter `scale` times the usual.

    `answer.tangent` has the rows of the causes first, each with what it is held by.
    """
    making = answer.making
    m = len(making.causes)
    hold = np.diag(answer.tangent[:m]).copy()
    freed = {blame.cause for blame in answer.blamed}
    for place, cause in enumerate(making.causes):
        stop = Cause("stop", cause.bend)
        if cause.kind == "scatter" and not freed & {cause, stop}:
            hold[place] /= scale
    slopes, rest = answer.tangent[m:], answer.misfits[m:]
    curve = np.diag(hold**2) + slopes.T @ slopes
    off = np.asarray(np.linalg.solve(curve, slopes.T @ (slopes @ answer.off - rest)), np.float64)
    left = rest + slopes @ (off - answer.off)
    squares = float(((hold * off) ** 2).sum() + left @ left)
    _, size = np.linalg.slogdet(curve)
    score = float(np.log(hold).sum()) - 0.5 * float(size) - 0.5 * squares
    covariance = np.asarray(np.linalg.inv(curve), np.float64)
    return off, covariance, score


def _half_width(share: Array, away: Array, widths: Array) -> Array:
    """Half of what holds 95 % of a mixture (K,) of normals, for each number (N,); by halving."""
    low: Array = np.zeros(away.shape[1])
    high: Array = (np.abs(away) + 6 * widths).max(axis=0)
    for _ in range(_HALVINGS):
        half = (low + high) / 2
        held = share @ (
            chance_under((half - away) / widths) - chance_under((-half - away) / widths)
        )
        low, high = np.where(held < HELD, half, low), np.where(held < HELD, high, half)
    return high
