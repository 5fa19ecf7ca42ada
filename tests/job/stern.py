"""The stern of a small boat, invented: where its marks truly are, and surveys taped from them."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from soapstone.geometry.vectors import Vec3
from soapstone.job.survey import Survey
from soapstone.job.survey.model import Side, Taped

DATUM: dict[str, Vec3] = {
    "port corner": (0.0, 0.0, 0.0),
    "starboard corner": (0.0, -1830.0, 0.0),
    "keel": (60.0, -915.0, -610.0),
    "bow eye": (4200.0, -915.0, 350.0),
}
TRANSOM = ("port corner", "starboard corner", "keel")

MARKS: dict[str, Vec3] = {
    "hatch port": (650.0, -400.0, 40.0),
    "hatch starboard": (650.0, -1430.0, 40.0),
    "hatch front": (1450.0, -915.0, 60.0),
    "pivot port": (-180.0, -760.0, 120.0),
    "pivot starboard": (-180.0, -1070.0, 120.0),
    "cowl": (-420.0, -915.0, 780.0),
}
OTHERS: dict[str, Vec3] = {
    "middle": (650.0, -915.0, 40.0),  # half-way between the hatch's hinges
    "under cowl": (-420.0, -915.0, -500.0),  # a plumb bob's point
}
TRUTH = DATUM | MARKS | OTHERS
FORWARD = ("hatch port", "hatch starboard", "hatch front")

Pair = tuple[str, str]
TO_DATUM: list[Pair] = [(mark, known) for mark in MARKS for known in DATUM]
BRACES: list[Pair] = [(a, b) for a in MARKS for b in MARKS if a < b]
ALL = TO_DATUM + BRACES


def distance(a: str, b: str) -> float:
    """Between two marks, exactly."""
    return float(np.linalg.norm(np.subtract(TRUTH[a], TRUTH[b])))


def taped(
    pairs: Iterable[Pair],
    off: Mapping[Pair, float] | None = None,
    plus_minus: float = 2.0,
    lot: np.random.Generator | None = None,
) -> tuple[Taped, ...]:
    """Tape distances: exact, or off by what a tape good to `plus_minus` is off by, or by `off`."""
    rows = []
    for start, end in pairs:
        slip = (off or {}).get((start, end), 0.0)
        error = lot.normal() * plus_minus / 2 if lot else 0.0
        rows.append(Taped(start=start, end=end, length=distance(start, end) + error + slip))
    return tuple(rows)


def stern(
    pairs: Iterable[Pair] = ALL,
    datum: Sequence[str] = tuple(DATUM),
    off: Mapping[Pair, float] | None = None,
    lot: np.random.Generator | None = None,
    **more: object,
) -> Survey:
    """Give a survey of the stern."""
    known = {name: DATUM[name] for name in datum}
    return Survey(datum=known, tapes=taped(pairs, off, 2.0, lot), **more)


def astern() -> tuple[Side, ...]:
    """Hints that tell all marks from their mirror images behind the transom."""
    return tuple(Side(point=mark, toward="+x" if mark in FORWARD else "-x") for mark in MARKS)


def error(name: str, at: Sequence[float]) -> float:
    """How far a place is from where the mark truly is."""
    return float(np.linalg.norm(np.subtract(at, TRUTH[name])))
