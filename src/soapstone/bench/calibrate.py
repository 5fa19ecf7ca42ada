"""Dial readings from trial bends: a Bayesian fit that says how well it knows.

The dial that gives a finished angle t is dial = dial_zero + (1 + springback) t + scatter. The prior
of springback comes from the die's own entry or from physics, the trials correct it, and every
answer comes with the interval that the data support: wide for few bends, narrow for many.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from soapstone.bench.belief import Belief, Prior, believe
from soapstone.bench.materials import Material
from soapstone.bench.sections import TubeSection
from soapstone.bench.springback import springback_guess
from soapstone.errors import InputError
from soapstone.geometry.vectors import Array

__all__ = ["Calibration", "Prior", "fit", "prior_for", "weak_prior"]

Degrees = TypeVar("Degrees", float, Array)

HELD = 0.95  # share of readings that an interval holds
OVERSHOOT_RISK = 0.05  # a first stop is safe when overshooting is less likely than this
NO_LESS = 0.9  # a bend held at less than this share of what it measures was read wrongly
SAME_BEND = 0.9  # share of the scatter's variance that both stops of one bend have in common
ANGLES = (0.0, 360.0)  # what a finished angle can be, exclusive
DIALS = (-180.0, 540.0)  # what a dial can read


@dataclass(frozen=True, slots=True)
class Calibration:
    """A die's dial for one tubing, as known now.

    Attributes
    ----------
    springback
        Loaded angle over finished angle, less one (posterior mean).
    dial_zero
        Dial reading less true loaded angle, degrees (posterior mean).
    sigma
        Standard deviation of the reading from bend to bend, degrees (posterior mean).
    trials
        How many trial bends stand behind it; 0 means the prior alone.
    """

    springback: float
    dial_zero: float
    sigma: float
    trials: int
    prior: Prior = field(repr=False)
    belief: Belief = field(repr=False, compare=False)

    @property
    def springback_sd(self) -> float:
        """Standard deviation of the springback: how well it is known."""
        line, weight = self.belief.line, self.belief.weight
        away = line.slope - weight @ line.slope
        return math.sqrt(float(weight @ (line.var_slope + away**2)))

    def loaded(self, angle: Degrees) -> Degrees:
        """Give the angle in degrees to hold on the die for a finished `angle`, of any shape."""
        return angle * (1.0 + self.springback)

    def dial(self, angle: Degrees) -> Degrees:
        """Give the reading in degrees to stop at for a finished `angle`, of any shape."""
        return angle * (1.0 + self.springback) + self.dial_zero

    def interval(self, angle: Array | float, held: float = HELD) -> tuple[Array, Array]:
        """Give low..high, holding the share `held` of the readings that would give `angle`.

        It contains both what the trials leave open and the scatter from bend to bend; as much is
        left out below as above. Shapes follow `angle`.
        """
        asked = np.asarray(angle, dtype=float)
        flat = asked.ravel()
        low = self.belief.quantile(0.5 - 0.5 * held, flat)
        high = self.belief.quantile(0.5 + 0.5 * held, flat)
        return low.reshape(asked.shape), high.reshape(asked.shape)

    def can_have_given(self, dial: float, angle: float) -> bool:
        """Whether a bend stopped at `dial` can have come out at `angle`: metal springs back."""
        return dial - self.dial_zero >= NO_LESS * angle

    def overshoot(self, dial: float, angle: float, tolerance: float = 0.0) -> float:
        """Give the chance that a bend stopped at `dial` ends beyond angle + tolerance."""
        beyond = np.array([angle + tolerance], dtype=float)
        return float(self.belief.chance_below(np.array([dial], dtype=float), beyond)[0])

    def first_stops(self, angle: Array | float, tolerance: float) -> Array:
        """Give creep stops in the shape of `angle`, nan where none is needed: see `first_stop`."""
        asked = np.asarray(angle, dtype=float)
        safest = self.belief.quantile(OVERSHOOT_RISK, asked.ravel() + tolerance)
        safest = safest.reshape(asked.shape)
        return np.where(self.dial(asked) <= safest, np.nan, safest)

    def first_stop(self, angle: float, tolerance: float) -> float | None:
        """Where to stop, release and measure first, because metal cannot be taken back.

        It is the greatest reading at which the chance to end beyond angle + tolerance is 5 %. None
        when at the plain `dial(angle)` that chance is 5 % or less already: bend it in one go.
        """
        stop = float(self.first_stops(np.array([angle], dtype=float), tolerance)[0])
        return None if math.isnan(stop) else stop

    def second_stop(self, first_dial: float, measured_angle: float, angle: float) -> float:
        """Find the reading that brings a bend to `angle`, once stopped, released and measured.

        Both stops bend the same metal, so nine tenths of the scatter's variance are common to
        them (common practice: what is left is reading and re-seating). The bend already measured
        thus says more about itself than all the trials; one that is farther off than they foretell
        is taken to differ by just so much, since re-seating grows no worse for that. Shrunk toward
        the trials instead, stop after stop would stay where it is. Never less than `first_dial`
        and what is missing: a bend is not taken back, and none gains more than its die.
        """
        if measured_angle >= angle:
            return float(first_dial)
        here, there = np.array([measured_angle], float), np.array([angle], float)
        line, sigma = self.belief.line, self.belief.sigma
        foretold, spread = (part[:, 0] for part in self.belief.readings(here))
        surprise = first_dial - foretold
        far = (surprise / spread) ** 2
        chance = self.belief.weight * np.exp(-0.5 * (far - far.min())) / spread
        beside = spread**2 - SAME_BEND * sigma**2
        common = np.maximum(SAME_BEND * sigma**2, surprise**2 - beside)
        kept = (line.shared(measured_angle, angle) + common) / (beside + common)
        mean_there = self.belief.readings(there)[0][:, 0] + kept * surprise
        stop = float(chance @ mean_there / chance.sum())
        return max(stop, float(first_dial + angle - measured_angle))

    def as_json(self, at: Sequence[float] = ()) -> dict[str, object]:
        """Give the calibration and its readings at the angles `at` as a JSON object, degrees."""
        angles = np.asarray(at, dtype=float)
        low, high = self.interval(angles)
        rows = zip(angles, self.dial(angles), low, high, strict=True)
        names = ("angle", "dial", "low", "high")
        return {
            "springback": self.springback,
            "dial_zero": self.dial_zero,
            "sigma": self.sigma,
            "trials": self.trials,
            "at": [dict(zip(names, map(float, row), strict=True)) for row in rows],
        }


def weak_prior() -> Prior:
    """Prior for trial data that come without a die: it leaves the word to the data.

    Springback anywhere from nothing to a sixth, a dial zero many degrees off, and a scatter
    somewhere between the best machine and the worst bender.
    """
    return Prior(0.05, 0.05, 0.0, 10.0, 0.25, 0.85)


def prior_for(
    die_springback: float | None,
    dial_zero: float | None,
    *,
    od: float | None = None,
    wall: float | None = None,
    clr: float | None = None,
    material: Material | None = None,
) -> Prior:
    """Prior for a die and a tubing, from what the bench says and from physics.

    Parameters
    ----------
    die_springback, dial_zero
        The die's own entries, None where it has none; the prior's means are exactly these.
    od, wall, clr
        Tube and die, mm; for the physics when the die has no springback.
    material
        What the tube is made of.
    """
    if die_springback is not None:
        springback, springback_sd = die_springback, math.hypot(0.25 * die_springback, 0.005)
    else:
        section = None if od is None or wall is None else TubeSection(od, wall)
        guess = springback_guess(section, clr, material)
        springback, springback_sd = guess.mean, guess.sd
    zero, zero_sd = (0.0, 1.5) if dial_zero is None else (dial_zero, 0.5)
    return Prior(springback, springback_sd, zero, zero_sd, 0.25, 0.7)


def fit(
    dials: Sequence[float] | Array, angles: Sequence[float] | Array, prior: Prior
) -> Calibration:
    """Fit trial bends.

    Parameters
    ----------
    dials, angles
        Reading and finished angle of each trial, degrees, (trials,). None at all is allowed.
    prior
        What was believed before.

    Raises
    ------
    InputError
        When a number is not one that a dial or a protractor can show.
    ValueError
        When the two differ in length.
    """
    read, bent = trial_arrays(dials, angles)
    belief = believe(_shared_angles(read, bent), read - bent, prior)
    sigma = float(belief.weight @ belief.sigma)
    if read.size == 0:
        return Calibration(prior.springback, prior.dial_zero, sigma, 0, prior, belief)
    line, weight = belief.line, belief.weight
    springback = float(weight @ line.slope)
    zero = float(weight @ (line.level - line.slope * line.centre))
    return Calibration(springback, zero, sigma, read.size, prior, belief)


def trial_arrays(
    dials: Sequence[float] | Array, angles: Sequence[float] | Array
) -> tuple[Array, Array]:
    """Give readings and angles as arrays, (trials,), once all are such as an instrument can show.

    Raises
    ------
    InputError, ValueError
        As `fit`.
    """
    read, bent = np.asarray(dials, dtype=float), np.asarray(angles, dtype=float)
    if read.shape != bent.shape or read.ndim != 1:
        msg = f"as many dials as angles are needed, got shapes {read.shape} and {bent.shape}"
        raise ValueError(msg)
    for number, (dial, angle) in enumerate(zip(read.tolist(), bent.tolist(), strict=True), 1):
        if not ANGLES[0] < angle < ANGLES[1]:
            msg = f"trial {number}: angle {angle:g}: expected degrees between 0 and 360"
            raise InputError(msg)
        if not DIALS[0] <= dial <= DIALS[1]:
            msg = f"trial {number}: dial {dial:g}: expected degrees from -180 to 540"
            raise InputError(msg)
    return read, bent


def _shared_angles(dials: Array, angles: Array) -> Array:
    """Give bends stopped at one reading their mean angle.

    Among bends stopped at the same reading the angles differ by scatter alone. Taken as they are
    they would pull the slope toward "the dial does not depend on the angle".
    """
    _, group = np.unique(dials, return_inverse=True)
    means: Array = np.bincount(group, angles) / np.bincount(group) if angles.size else angles
    return means[group] if angles.size else angles
