"""Readings that are wrong, told from readings that are merely not exact.

Data snooping after Baarda (A testing procedure for use in geodetic networks, 1968): each reading in
turn is supposed wrong by an unknown amount, and the drop in the sum of squared misfits is compared
with its chi-squared law. The worst is left out and the rest tried again. With n readings tried,
each is held to 1 / n of the chance of a false alarm, so that a survey without a fault is blamed
once in a hundred.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.adjust import Adjusted, adjust
from soapstone.job.survey.descent import vote
from soapstone.job.survey.equations import DATUM, Claim, equations
from soapstone.job.survey.model import Survey
from soapstone.job.survey.placing import SOFTNESS, groups, known_points, numbers, placings
from soapstone.job.survey.sides import best_placing, chosen

FALSE_ALARM = 0.01
"""Chance that a survey without a fault has a reading blamed."""

AS_LIKELY = 6.0
"""Two explanations whose sums of squares differ by less are not told apart: odds of exp(3)."""

VISIBLE = 0.02
"""Share of an error that must show in the misfits for the reading to be tested at all."""

_LED_ASTRAY = 8  # rows without which the search for the sides is repeated
_TRIED = 6  # suspicious readings that are left out in turn, to see which mends most


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """One fault found: the reading left out for it, and others that would explain it as well.

    `instead` holds them, each with the answer without it.
    """

    claim: Claim
    instead: tuple[tuple[Claim, Adjusted], ...] = ()


def snoop(data: Survey, placing: Array) -> tuple[Adjusted, tuple[Doubt, ...]]:
    """Leave out the readings that are wrong, the worst first; give the answer without them."""
    answer = adjust(data, placing)
    doubts: list[Doubt] = []
    for _ in range(1 + len(answer.equations.claims) // 4):
        found = _worst(data, answer, placing)
        if found is None:
            break
        doubt, answer = found
        doubts.append(doubt)
        placing = vote(answer.equations, placing[None], answer.free, SOFTNESS[1:])[0]
    return answer, tuple(doubts)


def find(data: Survey) -> tuple[Adjusted, tuple[Doubt, ...]]:
    """Find the places of all points, without the readings that are wrong."""
    answer, doubts = snoop(data, _vote(data))
    for _ in range(3):
        if not doubts:
            break
        # a wrong reading can put a point on the wrong side: look again without it
        again = adjust(data, best_placing(data, answer.dropped), answer.dropped)
        if again.squares > answer.squares - 1:
            break
        answer, doubts = snoop(data, again.places)
    return answer, doubts


def _vote(data: Survey) -> Array:
    """Give the placing with which most rows agree.

    The search places points one by one and can be led astray by a wrong reading on its way, so
    when several disagree it is repeated without each of those near the trouble.
    """
    whole, free = equations(data), numbers(data, data.unknown)
    best = best_placing(data)
    loud = _loudest(whole.claims, np.abs(whole.misfits(best)))
    if len(loud) < 2 or not len(free):
        return best
    others = [best[None]]
    for claim in _near(data, loud)[:_LED_ASTRAY]:
        others.extend(_placed_without(data, best, claim))
    return chosen(data, vote(whole, np.concatenate(others), free, SOFTNESS[1:]))


def _near(data: Survey, loud: Sequence[Claim]) -> list[Claim]:
    """Rows that share a point with the loud ones: those of the loudest first."""
    near = [
        Claim(place)
        for claim in loud
        for place, row in enumerate(data.rows)
        if set(row.points) & set(data.rows[claim.row].points) - set(data.datum)
    ]
    return list(dict.fromkeys((*loud, *near)))


def _placed_without(data: Survey, best: Array, claim: Claim) -> Iterator[Array]:
    """Give placings (K, P, 3) that a search without a reading finds for the points it concerns."""
    touched = set(data.rows[claim.row].points)
    for group in groups(data, {claim}):
        if touched & set(group):
            free = numbers(data, group)
            found = placings(data, group, {claim}, branches=6)
            here = np.repeat(best[None], len(found), axis=0)
            here[:, free] = found[:, free]
            yield here


def noise(answer: Adjusted) -> float:
    """How many times more the rows disagree than they say; 1 when chance explains it (1 in 20)."""
    from scipy.special import chdtrc

    if answer.redundancy < 1 or chdtrc(answer.redundancy, answer.squares) > 0.05:
        return 1.0
    return max(1.0, float(np.sqrt(answer.squares / answer.redundancy)))


def visible(answer: Adjusted, way: Array) -> float:
    """Least share, 0 to 1, of an error along `way` (N, k) that shows in the misfits."""
    unit_way, size, _ = np.linalg.svd(way, full_matrices=False)
    if size[-1] <= 1e-3 * size[0]:
        return 0.0
    return float(np.linalg.eigvalsh(unit_way.T @ answer.residence @ unit_way)[0])


def _worst(data: Survey, answer: Adjusted, placing: Array) -> tuple[Doubt, Adjusted] | None:
    """Find the reading whose leaving out mends most, if chance does not explain the misfits."""
    ways = _ways(data, answer)
    voted = np.abs(answer.equations.misfits(placing))
    scale = _scale(answer, voted)
    drops = {claim: _drop(answer, way) / scale**2 for claim, way in ways.items()}
    limit = np.log(FALSE_ALARM / max(len(ways), 1))
    rarity = {claim: _log_chance(drop, ways[claim].shape[1]) for claim, drop in drops.items()}
    if not rarity or min(rarity.values()) > limit:
        return None
    tried = sorted(rarity, key=lambda claim: rarity[claim])[:_TRIED]
    loud = [claim for claim in _loudest(answer.equations.claims, voted) if claim in ways]
    tried = list(dict.fromkeys((*tried, *loud[:3])))
    without = {claim: adjust(data, placing, {*answer.dropped, claim}) for claim in tried}
    score = {
        claim: _rarity(answer, other, ways[claim].shape[1], scale)
        for claim, other in without.items()
    }
    best = min(tried, key=lambda claim: score[claim])
    if score[best] > limit:
        return None
    alike = [c for c in tried if c != best and score[c] < score[best] + AS_LIKELY / 2]
    instead = tuple((claim, without[claim]) for claim in alike)
    return Doubt(best, instead), without[best]


def _ways(data: Survey, answer: Adjusted) -> dict[Claim, Array]:
    """How the misfits move for each fault that may be looked for, where it would show."""
    ways = dict(answer.equations.claims)
    for name in known_points(data, answer.dropped):
        way = answer.equations.slopes(answer.places, numbers(data, (name,)))
        if len(way) >= 3:
            ways[Claim(DATUM, name)] = way
    return {claim: way for claim, way in ways.items() if visible(answer, way) > VISIBLE}


def _drop(answer: Adjusted, way: Array) -> float:
    """How much the squares fall when an error along `way` is allowed for, linearised."""
    seen = way.T @ answer.misfits
    return float(seen @ np.linalg.solve(way.T @ answer.residence @ way, seen))


def _rarity(answer: Adjusted, without: Adjusted, freedoms: int, scale: float) -> float:
    """Logarithm of the chance that leaving a reading out mends so much when it is not wrong.

    Where the rows are all worse than they say, they are judged by those left (an F test), as how
    much worse is only estimated.
    """
    from scipy.special import fdtrc

    drop = answer.squares - without.squares
    if scale == 1 or without.redundancy < 1 or drop <= 0:
        return _log_chance(drop / scale**2, freedoms)
    ratio = drop / freedoms / (without.squares / without.redundancy)
    return float(np.log(max(float(fdtrc(freedoms, without.redundancy, ratio)), 1e-300)))


def _log_chance(drop: float, freedoms: int) -> float:
    """Logarithm of the chance of a larger drop when nothing is wrong (chi-squared law)."""
    from scipy.special import chdtrc, gammaln

    drop = max(drop, 0.0)
    chance = float(chdtrc(freedoms, drop))
    if chance > 1e-200:
        return float(np.log(chance))
    half = freedoms / 2
    return float(-drop / 2 + (half - 1) * np.log(drop / 2) - gammaln(half))


def _loudest(claims: dict[Claim, Array], misfits: Array) -> list[Claim]:
    """Readings that miss by much, those that miss by most first."""
    loudness = {
        claim: float(misfits[np.abs(way).sum(axis=1) > 0].max()) for claim, way in claims.items()
    }
    worst = sorted(loudness, key=lambda claim: -loudness[claim])
    return [claim for claim in worst if loudness[claim] > 4]


def _scale(answer: Adjusted, voted: Array) -> float:
    """How many times worse the rows are than they say, judged by the middle one of them.

    `voted` are the sizes of the misfits where a vote of the rows puts the points: few wrong rows do
    not move it, and the median does not mind them. With few rows it is not trusted far.
    """
    shown = np.diag(answer.residence)
    tested = shown > 0.1
    count = int(tested.sum())
    if count < 8:
        return 1.0
    middle = float(np.median(voted[tested] / np.sqrt(shown[tested]))) / 0.6745
    return middle if middle > 1 + 1.5 / np.sqrt(count) else 1.0
