"""The least-squares answer for one placing, and how well it is known."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.descent import descend, polish
from soapstone.job.survey.equations import Claim, Equations, Indices, equations
from soapstone.job.survey.model import Survey
from soapstone.job.survey.placing import numbers, size, sought_points

UNBOUNDED = 10.0
"""Times the survey's extent: the standard deviation of a direction that nothing measures."""


@dataclass(frozen=True, slots=True, eq=False)
class Adjusted:
    """Places that fit the rows best.

    Attributes
    ----------
    dropped
        The readings left out.
    places
        (P, 3) all points, in mm.
    sought
        Names of the F points that were found, in the order of `covariance`.
    free
        Their numbers.
    equations, misfits
        The N rows used and what they miss by, in standard deviations.
    covariance
        (3F, 3F) in mm2, for the plus_minus as given.
    residence
        (N, N) projection: what of an error in each row stays visible in the misfits.
    redundancy
        Rows beyond those that it takes to find the points.
    """

    dropped: frozenset[Claim]
    places: Array
    sought: tuple[str, ...]
    free: Indices
    equations: Equations
    misfits: Array
    covariance: Array
    residence: Array
    redundancy: int

    @property
    def squares(self) -> float:
        """Sum of the squared misfits: about `redundancy` when the rows are as good as they say."""
        return float(self.misfits @ self.misfits)

    def covariance_of(self, name: str) -> Array:
        """(3, 3) covariance of a point in mm2; nought for one of the datum."""
        if name not in self.sought:
            return np.zeros((3, 3))
        k = 3 * self.sought.index(name)
        return self.covariance[k : k + 3, k : k + 3]


def adjust(data: Survey, placing: Array, dropped: Collection[Claim] = ()) -> Adjusted:
    """Find the least-squares places nearest to `placing` (P, 3), with covariance by linearisation.

    Weights are the inverse squares of the standard deviations, half of each row's plus_minus
    (Gauss-Markov model; see any text on the adjustment of survey networks).
    """
    whole = equations(data, dropped)
    sought = sought_points(data, dropped)
    free = numbers(data, sought)
    places = placing
    if len(free):
        places = polish(whole, descend(whole, placing[None], free)[0], free)
    slopes = whole.slopes(places, free)
    left, strengths, right = np.linalg.svd(slopes, full_matrices=False)
    weakest = 1 / (UNBOUNDED * size(data))
    measured = left[:, strengths > weakest]
    spread = right.T / np.maximum(strengths, weakest)
    missing = 3 * len(free) - len(strengths)
    covariance = spread @ spread.T
    if missing > 0:
        covariance += _unmeasured(right) / weakest**2
    return Adjusted(
        dropped=frozenset(dropped),
        places=places,
        sought=sought,
        free=free,
        equations=whole,
        misfits=whole.misfits(places),
        covariance=covariance,
        residence=np.eye(len(slopes)) - measured @ measured.T,
        redundancy=len(slopes) - measured.shape[1],
    )


def _unmeasured(right: Array) -> Array:
    """Project onto the directions of which `right` (K, n), orthonormal rows, has no part."""
    result: Array = np.eye(right.shape[1]) - right.T @ right
    return result


def radius(covariances: Array, chance: float = 0.95) -> Array:
    """Radius in mm of the balls that hold normal errors of (..., 3, 3) covariances with `chance`.

    The error is a standard normal vector, of chi-distributed length and any direction u, stretched
    to l(u); so the chance to be inside R is the mean over u of the chi distribution at R / l(u).
    The mean is taken by Gauss-Legendre in height and evenly round.
    For three freedoms the chi distribution is erf(r / sqrt 2) - sqrt(2 / pi) r exp(-r^2 / 2).
    """
    from scipy.special import chdtri, erf

    spread = np.maximum(np.linalg.eigvalsh(covariances), 0)[..., ::-1]
    squares, weight = _directions()
    stretch = np.einsum("dk,...k->...d", squares, spread)
    # from a needle of an ellipsoid to a ball
    longest = np.sqrt(spread[..., 0])
    low, high = longest * np.sqrt(chdtri(1, 1 - chance)), longest * np.sqrt(chdtri(3, 1 - chance))
    for _ in range(26):
        middle = (low + high) / 2
        half = middle[..., None] ** 2 / np.maximum(2 * stretch, 1e-300)
        within = erf(np.sqrt(half)) - np.sqrt(4 * half / np.pi) * np.exp(-half)
        inside = within @ weight
        low, high = np.where(inside < chance, middle, low), np.where(inside < chance, high, middle)
    result: Array = (low + high) / 2
    return result


@cache
def _directions() -> tuple[Array, Array]:
    """Squared coordinates (D, 3) of directions over an eighth of the sphere, and weights (D,)."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    height = ((1 + nodes) / 2)[:, None]
    round_rad = (np.arange(12) + 0.5) * np.pi / 24
    across = 1 - height**2
    squares = np.stack(
        (
            np.broadcast_to(height**2, (24, 12)),
            across * np.cos(round_rad) ** 2,
            across * np.sin(round_rad) ** 2,
        ),
        axis=-1,
    )
    return squares.reshape(-1, 3), np.repeat(weights / 2 / 12, 12)


def per_axis(covariances: Array) -> Array:
    """Give what each coordinate (..., 3) may be off by, right 19 times of 20."""
    result: Array = SURE_95 * np.sqrt(np.einsum("...ii->...i", covariances))
    return result


SURE_95 = 1.959963984540054
"""Standard deviations within which a normal error stays 19 times of 20."""
