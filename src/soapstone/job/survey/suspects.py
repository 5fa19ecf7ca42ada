"""The readings left out of an answer, as the shop would say it: what they read, and should have."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.adjust import SURE_95, Adjusted
from soapstone.job.survey.blunders import Doubt
from soapstone.job.survey.equations import DATUM, Claim
from soapstone.job.survey.model import Halfway, Levelled, Survey, Taped, row_key
from soapstone.job.survey.result import Suspect
from soapstone.quantities import INCH

_NUDGE = 1e-3  # mm, for derivatives by differences

_SLIPS = (
    (1000.0, "1 m"),
    (100.0, "100 mm"),
    (10.0, "10 mm"),
    (12 * float(INCH), "1 ft"),
    (float(INCH), "1 in"),
)


def suspects(
    data: Survey, answer: Adjusted, doubts: Sequence[Doubt], noise: float
) -> tuple[Suspect, ...]:
    """Give the readings to doubt, the worst first, those that cannot be told apart together."""
    found = []
    for doubt in doubts:
        sure = not doubt.instead
        found.append(_suspect(data, answer, doubt.claim, noise, sure=sure))
        for claim, other in doubt.instead:
            found.append(_suspect(data, other, claim, noise, sure=False))
    return tuple({suspect.row + suspect.points[0]: suspect for suspect in found}.values())


def _suspect(data: Survey, answer: Adjusted, claim: Claim, noise: float, *, sure: bool) -> Suspect:
    measured, points, reads = _reading(data, claim)
    expected = reads(answer.places)
    off_by = measured - expected
    spread = noise * _spread(answer, reads)
    slip = ""
    if claim.row != DATUM and isinstance(row := data.rows[claim.row], Taped):
        slip = _slip(off_by, spread + data.allowance(row)) or _swapped(
            measured, expected, data.units, spread + data.allowance(row)
        )
    return Suspect(
        row=f"datum {claim.point}" if claim.row == DATUM else row_key(data, claim.row),
        points=points,
        measured=measured,
        expected=expected,
        off_by=off_by,
        plus_minus=spread,
        sure=sure,
        slip=slip,
    )


def _reading(data: Survey, claim: Claim) -> tuple[float, tuple[str, ...], Callable[[Array], float]]:
    """What a claim reads, its points, and what it should read with all points at given places."""
    order = {name: place for place, name in enumerate(data.names)}
    if claim.row == DATUM:
        given, p = np.array(data.datum[claim.point]), order[claim.point]
        return 0.0, (claim.point,), lambda places: float(np.linalg.norm(places[p] - given))
    row = data.rows[claim.row]
    first = claim.point or row.points[0]
    others = [order[name] for name in row.points if name != first]
    names = (first, *(name for name in row.points if name != first))
    p = order[first]
    if isinstance(row, Taped):
        return row.length, names, lambda at: float(np.linalg.norm(at[p] - at[others[0]]))
    axes = (
        slice(2, 3) if isinstance(row, Levelled) else slice(0, 3 if isinstance(row, Halfway) else 2)
    )

    def away(places: Array) -> float:
        step = places[p, axes] - places[others][:, axes].mean(axis=0)
        return float(step[0]) if isinstance(row, Levelled) else float(np.linalg.norm(step))

    return 0.0, names, away


def _spread(answer: Adjusted, reads: Callable[[Array], float]) -> float:
    """Give what an expected reading may be off by, right 19 times of 20."""
    slopes = []
    for p in answer.free:
        for axis in range(3):
            up, down = answer.places.copy(), answer.places.copy()
            up[p, axis] += _NUDGE
            down[p, axis] -= _NUDGE
            slopes.append((reads(up) - reads(down)) / (2 * _NUDGE))
    slope = np.array(slopes)
    variance = float(slope @ answer.covariance @ slope) if len(slope) else 0.0
    return SURE_95 * float(np.sqrt(max(variance, 0.0)))


def _slip(off_by: float, within: float) -> str:
    """Name the round length that a tape is off by, if it is off by one."""
    for size, name in _SLIPS:
        if abs(abs(off_by) - size) <= min(within, size / 10):
            return f"{name} too {'long' if off_by > 0 else 'short'}"
    return ""


def _swapped(measured: float, expected: float, units: str, within: float) -> str:
    """Find two neighbouring digits that, written the other way round, make it right."""
    size = 1.0 if units == "mm" else float(INCH)
    for text in _neighbours_swapped(f"{measured / size:g}"):
        if abs(float(text) * size - expected) <= within:
            return f"two digits changed places: {text}"
    return ""


def _neighbours_swapped(text: str) -> Iterator[str]:
    for i in range(len(text) - 1):
        a, b = text[i], text[i + 1]
        if a.isdigit() and b.isdigit() and a != b:
            yield text[:i] + b + a + text[i + 2 :]
