"""The tube that fits plan and readings best, how well it is known, and what does not fit.

Unknown are the causes of error of `making`, each a standard normal number before anything is
measured; readings are normal about what they should be. The answer is where the sum of squares of
both is least (Gauss-Newton with Levenberg's damping), its covariance that of the tangent there.

What does not fit is found as in a survey, by data snooping (Baarda, A testing procedure for use in
geodetic networks, 1968): a misread tape and a dial stopped wrong are tried alike, as each is one
number too far from where it should be.
"""

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from soapstone.check.inspect.reads import What, reads
from soapstone.check.making import Cause, Making, steps
from soapstone.geometry.vectors import Array

FREED = 200.0
"""How many times its usual deviation a cause may be off, once it counts as a mistake."""

FALSE_ALARM = 0.01
"""Chance that a tube and readings without a mistake have one blamed."""

AS_LIKELY = 6.0
"""Two explanations whose sums of squares differ by less are not told apart: odds of exp(3)."""

VISIBLE = 0.02
"""Share of an error that must show in the misfits for it to be looked for at all."""

SURE_95 = 1.959963984540054
"""Standard deviations within which a normal error stays 19 times of 20."""

_ROUNDS = 60
_TRIED = 6


@dataclass(frozen=True, slots=True)
class Measured:
    """R readings: what was read, what it read, and its standard deviation (mm or degrees)."""

    what: tuple[What, ...]
    value: Array
    sigma: Array


@dataclass(frozen=True, slots=True)
class Blame:
    """What may be a mistake: reading `reading`, counted from 0, or else a cause."""

    reading: int = -1
    cause: Cause | None = None


@dataclass(frozen=True, slots=True, eq=False)
class AsMade:
    """The tube as made, as far as the readings tell.

    Attributes
    ----------
    off
        (m,) how far each cause is off, in deviations.
    blamed
        What was found to be a mistake, and was given up or freed.
    numbers, covariance
        (4n + 1,) legs, angles, rotations, radii in mm and degrees; their covariance.
    slopes
        (4n + 1, m) their derivatives by the causes.
    inverse
        (m, m) covariance of the causes, in deviations squared.
    misfits
        (m + R,) of the causes from none and of the readings from the answer, in deviations.
    residence
        (m + R, m + R): what of an error in each stays visible in the misfits.
    squares
        Sum of the squared misfits.
    """

    making: Making
    measured: Measured
    off: Array
    blamed: frozenset[Blame]
    numbers: Array
    covariance: Array
    slopes: Array
    inverse: Array
    misfits: Array
    residence: Array
    squares: float

    @property
    def spread(self) -> Array:
        """(4n + 1,) standard deviations of the numbers."""
        result: Array = np.sqrt(np.maximum(np.diag(self.covariance), 0.0))
        return result

    def expected(self) -> Array:
        """(R,) what the instruments should have read."""
        return reads(self.measured.what, self.making, self.making.made(self.off))


@dataclass(frozen=True, slots=True)
class Doubt:
    """One mistake found, and others that would explain the misfits as well."""

    blame: Blame
    instead: tuple[Blame, ...] = ()


def adjust(
    making: Making,
    measured: Measured,
    blamed: Collection[Blame] = (),
    loose: float = 1.0,
    near: Array | None = None,
) -> AsMade:
    """Find the tube that fits best, leaving out the readings and freeing the causes in `blamed`.

    `loose` widens what trial bends, dials and rolls are believed to: what is found then rests on
    the readings. `near` is where to begin, such as an answer that was found before.
    """
    hold, weight = _weights(making, measured, blamed, loose)
    off = np.zeros(len(making.causes)) if near is None else near

    def misfits(at: Array) -> Array:
        read = reads(measured.what, making, making.made(at)) - measured.value
        return np.concatenate((at * hold, read * weight), axis=-1)

    off = _descend(misfits, off)
    slopes = _slopes(misfits, off)
    inverse = np.asarray(np.linalg.pinv(slopes.T @ slopes, hermitian=True), dtype=np.float64)
    at = misfits(off)
    made = _slopes(lambda x: making.made(x).numbers, off)
    return AsMade(
        making=making,
        measured=measured,
        off=off,
        blamed=frozenset(blamed),
        numbers=making.made(off).numbers,
        covariance=made @ inverse @ made.T,
        slopes=made,
        inverse=inverse,
        misfits=at,
        residence=np.eye(len(at)) - slopes @ inverse @ slopes.T,
        squares=float(at @ at),
    )


def find(making: Making, measured: Measured) -> tuple[AsMade, tuple[Doubt, ...]]:
    """Find the tube as made: the worst mistake is taken out, and the rest tried again."""
    answer = adjust(making, measured)
    doubts: list[Doubt] = []
    for _ in range(1 + (len(measured.value) + making.count) // 3):
        found = _worst(answer)
        if found is None:
            break
        doubt, answer = found
        doubts.append(doubt)
    return answer, tuple(doubts)


def noise(answer: AsMade) -> float:
    """How many times more everything disagrees than it should; 1 when chance does it (1 in 20)."""
    from scipy.special import chdtrc

    count = int(np.count_nonzero(np.isfinite(answer.measured.sigma))) - sum(
        blame.reading >= 0 for blame in answer.blamed
    )
    if count < 1 or chdtrc(count, answer.squares) > 0.05:
        return 1.0
    return max(1.0, math.sqrt(answer.squares / count))


def _weights(
    making: Making, measured: Measured, blamed: Collection[Blame], loose: float
) -> tuple[Array, Array]:
    """One over the deviations that causes (m,) and readings (R,) are held to.

    A dial taken for stopped wrong may as well be a bend that sprang back oddly: its angle is the
    same and only the stock it used differs, so both are freed and the tape says which.
    """
    hold = np.ones(len(making.causes))
    for place, cause in enumerate(making.causes):
        if cause.kind in ("dial line", "springback", "scatter", "stop", "roll"):
            hold[place] = 1 / loose
    weight = 1 / measured.sigma
    for blame in blamed:
        if blame.cause is not None:
            hold[making.place_of(blame.cause)] = 1 / FREED
            if blame.cause.kind == "stop":
                hold[making.place_of(Cause("scatter", blame.cause.bend))] = 1 / FREED
        else:
            weight[blame.reading] = 0.0
    return hold, weight


def _slopes(of: Callable[[Array], Array], at: Array) -> Array:
    """Derivatives (N, m) by central differences, all at once; exact to about 1e-8 of their size."""
    up, down = of(steps(at))
    result: Array = ((up - down) / 2e-4).T
    return result


def _descend(misfits: Callable[[Array], Array], off: Array) -> Array:
    """Go down to the least sum of squares."""
    damping, here = 1e-5, misfits(off)
    for _ in range(_ROUNDS):
        slopes = _slopes(misfits, off)
        down = slopes.T @ here
        curve = slopes.T @ slopes
        for _ in range(12):
            move = -np.linalg.solve(curve + damping * np.diag(np.diag(curve) + 1e-12), down)
            there = misfits(off + move)
            if there @ there <= here @ here:
                damping = max(damping / 10, 1e-12)
                break
            damping *= 10
        else:
            return off
        gain = float(here @ here - there @ there)
        off, here = off + move, there
        if gain < 1e-9 and float(np.abs(slopes @ move).max()) < 1e-5:
            break
    return off


def _worst(answer: AsMade) -> tuple[Doubt, AsMade] | None:
    """Find the mistake whose taking out mends most, if chance does not explain the misfits."""
    drops = _drops(answer)
    if not drops:
        return None
    limit = _limit(len(drops))
    if max(drops.values()) < limit / 2:
        return None
    tried = sorted(drops, key=lambda blame: -drops[blame])[:_TRIED]
    without = {b: _given(answer, b) for b in tried}
    gain = {blame: answer.squares - other.squares for blame, other in without.items()}
    best = max(tried, key=lambda blame: gain[blame])
    if gain[best] < limit:
        return None
    alike = [b for b in tried if gain[b] > gain[best] - AS_LIKELY]
    # where a misread tape would do, no bend is taken for wrong on its word
    best = next((b for b in alike if b.cause is None), best)
    return Doubt(best, tuple(b for b in alike if b != best)), without[best]


def _given(answer: AsMade, blame: Blame) -> AsMade:
    """The answer with one more taken for a mistake."""
    blamed = {*answer.blamed, blame}
    return adjust(answer.making, answer.measured, blamed, near=answer.off)


def _drops(answer: AsMade) -> dict[Blame, float]:
    """How much the squares fall, linearised, when each that may be a mistake is given up."""
    found = {}
    shown = np.diag(answer.residence)
    causes = answer.making.causes
    rows: list[tuple[int, Blame]] = [
        (answer.making.place_of(cause), Blame(cause=cause)) for cause in answer.making.blamable
    ]
    rows += [(len(causes) + i, Blame(reading=i)) for i in range(len(answer.measured.value))]
    for row, blame in rows:
        if blame not in answer.blamed and shown[row] > VISIBLE:
            found[blame] = float(answer.misfits[row] ** 2 / shown[row])
    return found


def _limit(count: int) -> float:
    """The drop of squares that chance exceeds once in a hundred for the largest of `count`."""
    from scipy.special import chdtri

    return float(chdtri(1, FALSE_ALARM / count))
