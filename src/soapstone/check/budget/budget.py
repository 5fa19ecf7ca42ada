"""The error budget of a tube: where it lands, how likely it passes, and what matters most."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from soapstone.check.budget.linear import Slopes, ellipsoid, slopes
from soapstone.check.budget.model import Budget, Gain, Share
from soapstone.check.budget.passed import places_passed
from soapstone.check.budget.sampled import landings
from soapstone.check.making import Cause, Making, making_of
from soapstone.geometry.centreline import vec
from soapstone.geometry.vectors import Array, Vec3
from soapstone.plan.model import TubePlan

HELD = 0.95

SAMPLES = 100_000
"""Tubes made where nothing else is asked for: a chance is then known to a third of a per cent."""

WORDS = {
    "dial line": "the dial line, which more trial bends would settle",
    "springback": "the dial line, which more trial bends would settle",
    "index line": "the die's index line",
    "stretch": "the die's stretch",
    "scatter": "the odd springback",
    "first scatter": "the odd springback",
    "second scatter": "the odd springback",
    "stop": "the dial stop",
    "first stop": "the dial stop",
    "protractor": "the protractor",
    "mark": "the mark",
    "cut A": "the cut at the A end",
    "cut B": "the cut at the B end",
    "roll": "the roll",
}
"""Causes in a fabricator's words."""

OF_ALL = ("dial line", "springback", "index line", "stretch", "cut A", "cut B")
"""Causes that are about no bend alone."""


@dataclass(frozen=True, slots=True)
class Passing:
    """What may pass at the B end: mm, degrees, and where that is from."""

    length: float
    angle: float
    source: str


def budget_of(
    plan: TubePlan,
    passing: Passing,
    better: Sequence[tuple[str, TubePlan]] = (),
    samples: int = SAMPLES,
    seed: int = 0,
    points: Mapping[str, Vec3] | None = None,
) -> Budget:
    """Reckon a tube's error budget.

    Parameters
    ----------
    plan
        The tube; its setup says how truly the shop works.
    passing
        What may pass at the B end.
    better
        The tube planned with one thing better each, and what that is.
    samples
        How many tubes are made; `seed` chooses them.
    points
        Named points; those that the tube passes are looked at too.
    """
    making = making_of(plan, crept=True)
    passed = places_passed(plan, points or {})
    linear, made = slopes(making), landings(making, samples, seed, [at for _, at in passed])
    sizes, ways = ellipsoid(np.cov(made.ends))
    radius = _held(made.off)
    return Budget(
        tube=plan.name,
        offset=vec(made.ends.mean(axis=1)),
        axes=(vec(sizes[0] * ways[0]), vec(sizes[1] * ways[1]), vec(sizes[2] * ways[2])),
        radius=radius,
        turn=_held(made.turn),
        apart=_held(np.abs(made.apart)),
        between=_held(np.abs(made.between)),
        linear_radius=sqrt(linear.mean_square),
        sampled_radius=float(np.sqrt((made.off**2).mean())),
        within=(passing.length, passing.angle),
        limits=passing.source,
        chance=_share(made.off, made.turn, passing),
        shares=tuple(_shares(making, linear)),
        bends=_by_bend(making, linear),
        gains=tuple(_gains(better, samples, seed, radius)),
        samples=samples,
        back=_held(made.back),
        back_turn=_held(made.back_turn),
        back_chance=_share(made.back, made.back_turn, passing),
        one_sided=_one_sided(linear.mean_square, float((made.off**2).mean())),
        places=tuple(
            (name, _held(off)) for (name, _), off in zip(passed, made.places, strict=True)
        ),
    )


def _one_sided(linear: float, sampled: float) -> float:
    return max(0.0, 1 - linear / sampled) if sampled > 0 else 0.0


def _held(values: Array) -> float:
    return float(np.quantile(values, HELD)) if len(values) else 0.0


def _share(off: Array, turned: Array, passing: Passing) -> float:
    return float(np.mean((off <= passing.length) & (turned <= passing.angle)))


def _parts(linear: Slopes) -> Array:
    """Give each cause's part (m,) of the variance of where the B end lands."""
    square = (linear.ends**2).sum(axis=-1)
    total = square.sum()
    result: Array = square / total if total > 0 else square
    return result


def _shares(making: Making, linear: Slopes) -> Iterator[Share]:
    """Add up what is one source to a fabricator, greatest first."""
    found: dict[tuple[str, int], float] = {}
    for cause, part in zip(making.causes, _parts(linear).tolist(), strict=True):
        key = WORDS[cause.kind], 0 if cause.kind in OF_ALL else cause.bend
        found[key] = found.get(key, 0.0) + part
    ranked = sorted(found.items(), key=lambda item: -item[1])
    return (Share(what, bend, part) for (what, bend), part in ranked if part > 0)


def _by_bend(making: Making, linear: Slopes) -> tuple[float, ...]:
    parts = _parts(linear)

    def of(cause: Cause, n: int) -> bool:
        return cause.kind not in OF_ALL and cause.bend == n

    return tuple(
        float(sum(p for c, p in zip(making.causes, parts, strict=True) if of(c, n + 1)))
        for n in range(making.count)
    )


def _gains(
    better: Sequence[tuple[str, TubePlan]], samples: int, seed: int, radius: float
) -> Iterator[Gain]:
    """Reckon anew with each thing better; what gains nothing is left out."""
    found = []
    for what, plan in better:
        now = _held(landings(making_of(plan, crept=True), samples, seed).off)
        if now < 0.98 * radius:
            found.append(Gain(what, now))
    return iter(sorted(found, key=lambda gain: gain.radius))
