"""Bends crept up to: stopped early, released, measured, and taken on to their angle.

Such a bend forgets most of what the trial bends leave open: it is off by the protractor, and by
what differs between two stops of one bend. What is done is done here as it is done at the bender,
the second reading from `Calibration.second_stop`; nothing is linearised.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.bench.accuracy import WITHIN
from soapstone.bench.calibrate import SAME_BEND
from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array
from soapstone.plan.model import BendStep

KINDS = ("protractor", "first stop", "first scatter", "second scatter")
"""What may be off at each bend crept up to, besides what may be off at every bend."""

ANGLES = 241
"""Measured angles for which the second reading is tabled; between them it is all but straight."""

DEVIATIONS = 8.0
"""The table reaches this many deviations of the first stop's angle below what is expected."""


@dataclass(frozen=True, slots=True, eq=False)
class Creep:
    """The k bends of a tube that are crept up to; degrees throughout.

    `places` (k,) where they stand among the bends from A, `first` (k,) first stops, `asked` (k,)
    angles to come to. `seen` and `second` (k, ANGLES): for a measured angle, the second reading.
    `scatter` is the usual deviation of a bend's reading, `stop` of the dial, `protractor` its own.
    """

    places: tuple[int, ...]
    first: Array
    asked: Array
    seen: Array
    second: Array
    scatter: float
    stop: float
    protractor: float

    def bent(
        self, zero: Array, springback: Array, scatter: Array, stop: Array, own: Array
    ) -> tuple[Array, Array]:
        """Loaded and free angles (..., k) that come out.

        Parameters
        ----------
        zero, springback
            The dial's true line, (..., 1).
        scatter, stop
            The part of the scatter that both stops have in common, and the second stop of the
            dial, in deviations (..., k).
        own
            The causes of `KINDS`, kind by kind, in deviations (..., 4k).
        """
        protractor, first, before, after = np.split(own, len(KINDS), axis=-1)
        common, odd = math.sqrt(SAME_BEND), math.sqrt(1 - SAME_BEND)
        loaded = self.first + first * self.stop - zero
        angles = (loaded - self.scatter * (common * scatter + odd * before)) / (1 + springback)
        measured = angles + protractor * self.protractor
        going_on = self._second(measured) + stop * self.stop - zero
        on = (measured < self.asked) & (going_on > loaded)
        taken = (going_on - self.scatter * (common * scatter + odd * after)) / (1 + springback)
        # metal is not taken back: a second stop that would give less than the first gave leaves it
        further = on & (taken > angles)
        return np.where(further, going_on, loaded), np.where(further, taken, angles)

    def _second(self, measured: Array) -> Array:
        second = np.empty_like(measured)
        for j, (seen, reading) in enumerate(zip(self.seen, self.second, strict=True)):
            second[..., j] = np.interp(measured[..., j], seen, reading)
        return second


def creep_of(bends: Sequence[BendStep], setup: Setup) -> Creep | None:
    """Find the bends (in order from A) that are crept up to; None where no bend is."""
    known = setup.calibration
    places = tuple(i for i, bend in enumerate(bends) if bend.first_stop is not None)
    if not places:
        return None
    first = np.array([bends[i].first_stop for i in places], dtype=float)
    asked = np.array([bends[i].angle for i in places])
    spread = np.sqrt(known.belief.weight @ known.belief.readings(asked)[1] ** 2)
    least = (first - known.dial_zero) / (1 + known.springback) - DEVIATIONS * spread
    seen = np.linspace(np.minimum(least, asked - DEVIATIONS * spread), asked, ANGLES, axis=-1)
    second = [
        [known.second_stop(stop, float(angle), float(to)) for angle in row]
        for stop, to, row in zip(first.tolist(), asked, _short_of(seen), strict=True)
    ]
    return Creep(
        places,
        first,
        asked,
        seen,
        np.array(second),
        math.sqrt(float(known.belief.weight @ known.belief.sigma**2)),
        setup.dial_step / math.sqrt(12),
        setup.accuracy.protractor / WITHIN,
    )


def _short_of(seen: Array) -> Array:
    """Move each last angle a hair short of what is asked, where there is still a second stop."""
    short: Array = seen.copy()
    short[:, -1] -= 1e-9
    return short
