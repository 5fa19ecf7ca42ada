"""What is believed about a die's dial: a mixture of Gaussians over how much bends scatter.

The model is dial = dial_zero + (1 + springback) angle + scatter, with scatter Gaussian of standard
deviation sigma. For each sigma the belief about the line is exactly Gaussian, so over a grid of
sigmas it is a finite mixture, and so is the reading that would give an angle: its probabilities and
quantiles are computed, not sampled. Readings and angles are in degrees throughout.
"""

import math
from dataclasses import dataclass

import numpy as np

from soapstone.bench.normal import chance_under, standard_quantile
from soapstone.geometry.vectors import Array

SIGMA_RANGE = (0.005, 60.0)  # degrees; finer than anyone reads a dial, coarser than any bender
_LOOK = 240  # grid of the search for where sigma lies
_NODES = 27  # grid of the answer: half a standard deviation apart, exact to 1e-12 for a Gaussian
_DEPTH = 17.0  # how far below the peak, in log probability, a sigma still counts
_FEW = 1000  # above this many angles, quantiles are interpolated in a table of so many


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before the trials: means and standard deviations, in degrees but springback.

    The scatter sigma from bend to bend is log-normal: `sigma_median`, and `sigma_spread` the
    standard deviation of its natural logarithm.

    Raises
    ------
    ValueError
        When a number is not finite, or a standard deviation, median or spread not positive.
    """

    springback: float
    springback_sd: float
    dial_zero: float
    dial_zero_sd: float
    sigma_median: float
    sigma_spread: float

    def __post_init__(self) -> None:
        widths = (self.springback_sd, self.dial_zero_sd, self.sigma_median, self.sigma_spread)
        if not all(math.isfinite(x) for x in (self.springback, self.dial_zero, *widths)):
            msg = "a prior needs finite numbers"
            raise ValueError(msg)
        if min(widths) <= 0.0:
            msg = "a prior's standard deviations, median and spread must be positive"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Line:
    """Gaussian belief about a line for each of several sigmas; all arrays have shape (sigmas,).

    `level` is dial - angle at the angle `centre`, `slope` the springback; then their variances and
    covariance. Written about a centre because there level and slope hardly depend on each other.
    """

    centre: float
    level: Array
    slope: Array
    var_level: Array
    covariance: Array
    var_slope: Array

    def excess(self, angles: Array) -> Array:
        """Give the expected dial - angle, (sigmas, angles)."""
        return self.level[:, None] + self.slope[:, None] * (angles - self.centre)

    def variance(self, angles: Array) -> Array:
        """Give the variance of the line itself, scatter not included, (sigmas, angles)."""
        away = angles - self.centre
        cross = 2.0 * self.covariance[:, None] * away
        return self.var_level[:, None] + cross + self.var_slope[:, None] * away**2

    def shared(self, one: float, other: float) -> Array:
        """Give the covariance of the line's values at two angles, (sigmas,)."""
        here, there = one - self.centre, other - self.centre
        cross = self.covariance * (here + there)
        return self.var_level + cross + self.var_slope * here * there


@dataclass(frozen=True, slots=True)
class Belief:
    """Sigmas, how probable each is, and the line for each."""

    sigma: Array
    weight: Array
    line: Line

    def readings(self, angles: Array) -> tuple[Array, Array]:
        """Give mean and standard deviation of the reading for an angle, both (sigmas, angles)."""
        spread = np.sqrt(self.line.variance(angles) + self.sigma[:, None] ** 2)
        return angles + self.line.excess(angles), spread

    def chance_below(self, dials: Array, angles: Array) -> Array:
        """Give the chance that a bend to `angles` takes a reading below `dials`; both (angles,)."""
        mean, spread = self.readings(angles)
        below: Array = self.weight @ chance_under((dials - mean) / spread)
        return below

    def quantile(self, share: float, angles: Array) -> Array:
        """Find the reading that `share` of the readings for each angle lie below, (angles,).

        Solved to 1e-11 degrees one by one; many at once are interpolated in a table, to 1e-7.
        """
        if angles.size <= _FEW:
            return self._solve(share, angles)
        low, high = angles.min(), max(angles.max(), angles.min() + 1.0)
        table = np.linspace(low, high, _FEW)
        centre, scale = self._overall(table)
        standard = (self._solve(share, table) - centre) / scale
        centre, scale = self._overall(angles)
        return centre + scale * _cubic(standard, (angles - low) * ((_FEW - 1) / (high - low)))

    def _overall(self, angles: Array) -> tuple[Array, Array]:
        """Give mean and standard deviation of the whole mixture at each angle, (angles,)."""
        line, weight = self.line, self.weight
        level, slope = weight @ line.level, weight @ line.slope
        up, tilt = line.level - level, line.slope - slope
        constant = weight @ (self.sigma**2 + line.var_level + up**2)
        linear = weight @ (line.covariance + up * tilt)
        square = weight @ (line.var_slope + tilt**2)
        away = angles - line.centre
        variance = constant + away * (2.0 * linear + away * square)
        return angles + level + slope * away, np.sqrt(variance)

    def _newton(self, share: float, dials: Array, angles: Array) -> Array:
        """One Newton step toward the quantile, (angles,)."""
        mean, spread = self.readings(angles)
        standard = (dials - mean) / spread
        density = np.exp(-0.5 * standard**2) / (spread * math.sqrt(2.0 * math.pi))
        missing = share - self.weight @ chance_under(standard)
        step: Array = missing / np.maximum(self.weight @ density, 1e-300)
        return step

    def _solve(self, share: float, angles: Array) -> Array:
        """Newton's method inside a bracket: the components' own quantiles enclose the answer."""
        mean, spread = self.readings(angles)
        own = mean + spread * standard_quantile(share)
        low, high = own.min(axis=0), own.max(axis=0)
        dials: Array = self.weight @ own
        for _ in range(60):
            step = self._newton(share, dials, angles)
            low, high = np.where(step > 0, dials, low), np.where(step > 0, high, dials)
            following = dials + step
            inside = (following >= low) & (following <= high)
            following = np.where(inside, following, 0.5 * (low + high))
            settled = np.max(np.abs(following - dials), initial=0.0) < 1e-11
            dials = following
            if settled:
                break
        return dials


def _cubic(values: Array, place: Array) -> Array:
    """Interpolate evenly spaced values at `place`, counted in steps from the first, by cubics."""
    first = np.clip(place.astype(np.intp), 1, values.size - 3)
    t = place - first
    a, b, c, d = (values[first + step] for step in (-1, 0, 1, 2))
    outer = (t + 1.0) * t * (t - 1.0) / 6.0 * d - t * (t - 1.0) * (t - 2.0) / 6.0 * a
    inner = (t + 1.0) * (t - 2.0) * ((t - 1.0) * b - t * c) / 2.0
    interpolated: Array = outer + inner
    return interpolated


def believe(angles: Array, excess: Array, prior: Prior) -> Belief:
    """Update a prior with trials. No trials give the prior itself.

    Parameters
    ----------
    angles, excess
        Angle and dial - angle of each trial, degrees, (trials,).
    prior
        What was believed before.
    """
    low, high = (math.log(bound) for bound in SIGMA_RANGE)
    bounds = low, high
    for count in (_LOOK, _LOOK, _LOOK, _NODES):
        sigma = np.exp(np.linspace(*bounds, count))
        line, score = _line(angles, excess, prior, sigma)
        score -= 0.5 * (np.log(sigma / prior.sigma_median) / prior.sigma_spread) ** 2
        score -= score.max()
        step = (bounds[1] - bounds[0]) / (count - 1)
        kept = np.log(sigma[score > -_DEPTH])
        bounds = max(low, kept[0] - step), min(high, kept[-1] + step)
    weight = np.exp(score)
    return Belief(sigma, weight / weight.sum(), line)


def _line(angles: Array, excess: Array, prior: Prior, sigma: Array) -> tuple[Line, Array]:
    """Posterior of the line for each sigma, and the log probability of the trials given sigma."""
    count = angles.size
    centre = float(angles.mean()) if count else 0.0
    away = angles - centre
    rest = excess - prior.dial_zero - prior.springback * angles
    level_rest = float(rest.mean()) if count else 0.0
    rest_away = rest - level_rest
    spread, tilt, noise = (
        float(a @ b) for a, b in ((away, away), (away, rest_away), (rest_away,) * 2)
    )
    # Prior precision of (level, slope) at the centre; the prior is independent in (zero, slope).
    zero, slope = prior.dial_zero_sd**-2.0, prior.springback_sd**-2.0
    p_level, p_cross, p_slope = zero, -centre * zero, slope + centre**2 * zero
    scale = sigma**-2.0
    q_level, q_slope = p_level + count * scale, p_slope + spread * scale
    determinant = q_level * q_slope - p_cross**2
    b_level, b_slope = count * level_rest * scale, tilt * scale
    d_level = (q_slope * b_level - p_cross * b_slope) / determinant
    d_slope = (q_level * b_slope - p_cross * b_level) / determinant
    misfit = count * (level_rest - d_level) ** 2
    misfit = misfit + np.maximum(noise - 2.0 * d_slope * tilt + d_slope**2 * spread, 0.0)
    prior_misfit = p_level * d_level**2 + 2.0 * p_cross * d_level * d_slope + p_slope * d_slope**2
    score = -0.5 * (misfit * scale + prior_misfit + np.log(determinant)) - count * np.log(sigma)
    line = Line(
        centre,
        prior.dial_zero + prior.springback * centre + d_level,
        prior.springback + d_slope,
        q_slope / determinant,
        -p_cross / determinant,
        q_level / determinant,
    )
    return line, score
