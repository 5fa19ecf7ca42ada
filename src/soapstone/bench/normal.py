"""The normal distribution, without waking a large library for the handful of bends of one job."""

import math
from statistics import NormalDist

import numpy as np

from soapstone.geometry.vectors import Array

_FEW = 20_000
_erfc = np.frompyfunc(math.erfc, 1, 1)


def chance_under(standard: Array) -> Array:
    """Give the chance that a standard normal value lies below each of `standard`, same shape.

    Few values go through the C library's erfc one by one, many through scipy's compiled loop; the
    two agree to the last digits, and importing scipy takes longer than a whole plan.
    """
    if standard.size > _FEW:
        from scipy.special import ndtr

        many: Array = ndtr(standard)
        return many
    few: Array = 0.5 * np.asarray(_erfc(standard * -math.sqrt(0.5)), dtype=float)
    return few


def standard_quantile(share: float) -> float:
    """Give the value that a standard normal one lies below with the chance `share`."""
    return NormalDist().inv_cdf(share)
