"""What holds a job, where it is welded and what it carries: put into its file and taken out.

Each change is from the text of the job file to the next, as in `reshaping`.
"""

from collections.abc import Mapping

import numpy as np

from soapstone.exchange.job_edits import with_entry, without_entry
from soapstone.flow.planning import JobPlan
from soapstone.flow.reshaping import bare
from soapstone.flow.strength import OFF
from soapstone.geometry.along import nearest_along, places_at
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import sample
from soapstone.geometry.measure import length
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.plan.model import TubePlan
from soapstone.quantities import format_fine, parse_mass

FASTENED: Mapping[str, str] = {"fast: it cannot turn": "all", "pinned: it can turn": "pinned"}
"""How an end is held, as said on a page and as written."""

PLACES: Mapping[str, float] = {"its A end": 0.0, "its middle": 0.5, "its B end": 1.0}
"""Where on a tube something sits, as shares of its length."""

WELDED: Mapping[str, int | None] = {"its A end": 0, "its B end": -1, "where they are nearest": None}
"""Where a tube is welded to another, as said on a page; the ends by their corner."""

FINE = 1.0
"""mm between the places that a weld is looked for at, before it is put exactly."""


def with_support(text: str, job: Job, tube: str, end: str, fix: str) -> str:
    """Hold an end of a tube, "A" or "B"; what held it before gives way.

    Raises
    ------
    InputError
        There is no such tube any more.
    """
    name = job.tube(tube).name
    for number in reversed(range(len(job.supports))):
        held = job.supports[number]
        if (held.tube, held.at) == (name, end):
            text = without_entry(text, "support", number)
    return with_entry(text, "support", {"tube": name, "at": end, "fix": fix})


def with_weld(text: str, planned: JobPlan, one: str, other: str, where: str) -> str:
    """Weld two tubes to each other at one of `WELDED`, at an end of the first.

    Raises
    ------
    ValueError
        They are one tube, or nowhere near enough to each other to be welded.
    """
    if one == other:
        raise ValueError(f"{one}: pick two tubes to weld to each other")
    first, second = _drawn(planned, one), _drawn(planned, other)
    if (end := WELDED[where]) is None:
        at, apart = meeting(first.shape, second.shape)
    else:
        at = first.points[end]
        apart = float(nearest_along(second.shape, np.array([at], dtype=float))[1][0])
    if apart > OFF * min(first.setup.od, second.setup.od):
        far = format_fine(apart, planned.job.units)
        raise ValueError(f"{one} and {other} are {far} apart there, middle to middle: no weld")
    place = [bare(round(value, 6), planned.job) for value in at]
    return with_entry(text, "joint", {"tubes": [first.name, second.name], "at": place})


def meeting(one: Centreline, other: Centreline) -> tuple[Vec3, float]:
    """Give the place half-way between two centrelines where they come nearest, and the gap, in mm.

    The nearest of places 1 mm apart is taken up and put exactly by turns; a crossing is found
    within a thousandth of a millimetre, for lines that run side by side any place of theirs is.
    """
    places = sample(one, FINE)
    _, off = nearest_along(other, places)
    at = places[int(np.argmin(off))][None]
    here = at
    for _ in range(200):
        along, _ = nearest_along(other, here)
        there, _ = places_at(other, along)
        along, _ = nearest_along(one, there)
        moved, _ = places_at(one, along)
        if np.abs(moved - here).max() < 1e-6:
            break
        here = moved
    there, _ = places_at(other, nearest_along(other, here)[0])
    return vec((here[0] + there[0]) / 2), float(np.linalg.norm(here - there))


def with_weight(
    text: str, planned: JobPlan, tube: str, where: str, mass: str, times: float, case: str
) -> str:
    """Let a tube carry a weight at one of `PLACES`, `times` as heavy as it is where it slams.

    Raises
    ------
    ValueError
        It is no weight, or how many times is not above 0.
    """
    plan = _drawn(planned, tube)
    if not parse_mass(mass.strip()) > 0:
        raise ValueError(f"expected a weight above 0, found {mass[:40]!r}")
    if not 0 < times <= 1000:
        raise ValueError("times its weight: expected a number above 0, at most 1000")
    along = np.array([PLACES[where] * length(plan.shape)])
    at = vec(places_at(plan.shape, along)[0][0])
    entry = {
        "case": case.strip() or "load",
        "at": [bare(round(value, 6), planned.job) for value in at],
        "onto": [plan.name],
        "mass": mass.strip(),
    }
    if times != 1:
        entry["g"] = [0, 0, -times]
    return with_entry(text, "load", entry)


def _drawn(planned: JobPlan, name: str) -> TubePlan:
    plan = next((one for one in planned.planned if one.name == name), None)
    if plan is None:
        raise ValueError(f"{name} has no shape yet")
    return plan
