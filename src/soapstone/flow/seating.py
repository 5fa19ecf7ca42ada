"""What the ends of a job's tubes sit on: how each is cut, and changes to the job's file.

An end is named by tube and letter, and what it sits on by its place among those of that end: others
may have put in or taken out copes of other ends meanwhile.
"""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from soapstone.check.cope.joint import Cope, End
from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_entry, with_value, without_entry
from soapstone.exchange.job_toml import with_points
from soapstone.flow.cope_ends import copes_of
from soapstone.flow.planning import JobPlan
from soapstone.flow.reshaping import bare
from soapstone.geometry.along import nearest_along
from soapstone.geometry.vectors import Array, Vec3, dot, norm
from soapstone.job.model import Job
from soapstone.job.tube import Plane, Tube
from soapstone.plan.model import TubePlan, Unplanned

ENDS: tuple[End, End] = ("A", "B")

Onto: TypeAlias = str | Plane
"""What an end sits on: a tube by its name, or a plate."""


@dataclass(frozen=True, slots=True)
class Seat:
    """One thing that an end sits on, and the cut for it; `cut` is None where that cannot be told.

    `number` counts those of the end, from 0.
    """

    end: End
    number: int
    onto: Onto
    cut: Cope | None


@dataclass(frozen=True, slots=True)
class Seats:
    """What the ends of one tube sit on; `trouble` says why no cut can be told."""

    seats: tuple[Seat, ...]
    trouble: str = ""

    def of(self, end: End) -> tuple[Seat, ...]:
        """Give those of one end; none where it is cut square."""
        return tuple(seat for seat in self.seats if seat.end == end)


def seats_of(planned: JobPlan, tube: str) -> Seats:
    """Give what the ends of a tube sit on, with the cut of each."""
    job, trouble = planned.job, ""
    cuts: Sequence[Cope | None] = [None] * len(job.copes)
    try:
        cuts = copes_of(job, planned.tubes)
    except InputError as error:
        trouble = str(error)
    seats: list[Seat] = []
    for wish, cut in zip(job.copes, cuts, strict=True):
        if wish.tube == tube:
            before = sum(seat.end == wish.end for seat in seats)
            seats.append(Seat(wish.end, before, wish.onto, cut))
    return Seats(tuple(seats), trouble if seats else "")


def nearest_first(planned: JobPlan, tube: str, end: End) -> tuple[str, ...]:
    """Name the other tubes of a job, the one nearest to an end first, as long as they have shapes.

    Those without come last, and all in the job's order where this tube has none itself.
    """
    others = [one for one in planned.tubes if one.name != tube]
    plan = next((one for one in planned.planned if one.name == tube), None)
    if plan is None:
        return tuple(one.name for one in others)
    here = np.array(plan.points[0 if end == "A" else -1], dtype=float)[None]

    def far(one: TubePlan | Unplanned) -> float:
        if not isinstance(one, TubePlan):
            return math.inf
        return float(nearest_along(one.shape, here)[1][0])

    return tuple(one.name for one in sorted(others, key=far))


def plate_at(plan: TubePlan, end: End) -> Plane:
    """Give a plate through an end of a tube, square to the axis that the tube runs along most."""
    here, next_to = plan.points[:2] if end == "A" else (plan.points[-1], plan.points[-2])
    way = [b - a for a, b in zip(here, next_to, strict=True)]
    axis = max(range(3), key=lambda k: abs(way[k]))
    normal = [0.0, 0.0, 0.0]
    normal[axis] = 1.0 if way[axis] > 0 else -1.0
    return Plane(at=here, normal=(normal[0], normal[1], normal[2]))


def with_seat(
    text: str, job: Job, tube: str, end: End, onto: Onto, number: int | None = None
) -> str:
    """Let an end sit on something, in place of what it has at `number`, else beside what it has.

    Raises
    ------
    ValueError
        There is nothing at that number any more.
    """
    if onto == tube:
        raise ValueError(f"{tube}: an end cannot sit on its own tube")
    value = _written(onto, job)
    if number is None:
        return with_entry(text, "cope", {"tube": tube, "end": end, "onto": value})
    return with_value(text, ("cope", _place(text, tube, end, number), "onto"), value)


def without_seat(text: str, tube: str, end: End, number: int) -> str:
    """Take away what an end sits on at a number; an end that sits on nothing is cut square.

    Raises
    ------
    ValueError
        There is nothing at that number any more.
    """
    return without_entry(text, "cope", _place(text, tube, end, number))


def with_plate_part(
    text: str, tube: str, end: End, number: int, key: str, axis: int, values: Sequence[float]
) -> str:
    """Put one number, `values[axis]`, of a plate's "at" or "normal"; the file's own others stay.

    `values` are as a job file has them: a place in the job's units.

    Raises
    ------
    ValueError
        The end does not sit on a plate there any more.
    """
    row = _place(text, tube, end, number)
    onto = _rows(text)[row].get("onto")
    if not isinstance(onto, dict):
        raise ValueError(f"{tube}, {end} end: it does not sit on a plate; look at the page again")
    whole = ("cope", row, "onto", key)
    now = onto.get(key)
    if isinstance(now, list) and len(now) == len(values):
        return with_value(text, (*whole, axis), values[axis])
    return with_value(text, whole, list(values))


def with_longer_end(text: str, job: Job, tube: str, end: End, more: float) -> str:
    """Draw an end of a tube given by its corners farther out, along its own straight, by mm.

    Raises
    ------
    ValueError
        Its shape is not given by corners.
    """
    points = job.tube(tube).points
    if points is None:
        raise ValueError(f"{tube}: its shape is not given by corners; change it where it is")
    here, next_to = (
        np.array(point, dtype=float) for point in (points[:2] if end == "A" else points[:-3:-1])
    )
    moved = _vec(here + more * (here - next_to) / norm(here - next_to))
    longer = (moved, *points[1:]) if end == "A" else (*points[:-1], moved)
    return with_points(text, {tube: longer})


def with_ends_of_its_tube(text: str, job: Job, image: str) -> str:
    """Cut the ends of a mirror image as those of the tube it mirrors, in place of its own.

    Where that one sits on a tube, this one sits on its mirror image across the same plane, or on
    the very same tube where the job has no such image; plates are mirrored.

    Raises
    ------
    ValueError
        It is no mirror image, or the tube it mirrors has both ends square.
    """
    tube = job.tube(image)
    if tube.mirror is None:
        raise ValueError(f"{image}: it is no mirror image")
    theirs = [one for one in job.copes if one.tube == tube.mirror.of]
    if not theirs:
        raise ValueError(f"{tube.mirror.of}: both of its ends are cut square")
    for row in reversed([i for i, one in enumerate(job.copes) if one.tube == image]):
        text = without_entry(text, "cope", row)
    for one in theirs:
        text = with_seat(text, job, image, one.end, _other_side(job, tube, one.onto))
    return text


def _other_side(job: Job, image: Tube, onto: Onto) -> Onto:
    assert image.mirror is not None
    at, normal = (np.array(part, dtype=float) for part in image.mirror.plane)
    if isinstance(onto, Plane):
        place, way = np.array(onto.at), np.array(onto.normal)
        moved = place - 2 * dot(place - at, normal) * normal
        turned = way - 2 * dot(way, normal) * normal
        return Plane(at=_vec(moved), normal=_vec(turned))
    there = job.tube(onto).mirror
    if there is not None and there.plane == image.mirror.plane:
        return there.of
    for one in job.tubes:
        if one.mirror and one.mirror.of == onto and one.mirror.plane == image.mirror.plane:
            return one.name
    return onto


def _vec(values: Array) -> Vec3:
    x, y, z = (float(value) + 0.0 for value in values)
    return (x, y, z)


def _written(onto: Onto, job: Job) -> Any:
    if isinstance(onto, str):
        return job.tube(onto).name
    return {
        "at": [bare(value, job) for value in onto.at],
        "normal": [int(value) if float(value).is_integer() else value for value in onto.normal],
    }


def _rows(text: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = tomllib.loads(text).get("cope", [])
    return rows


def _place(text: str, tube: str, end: End, number: int) -> int:
    """Place in the file of what an end sits on at a number."""
    places = [
        row
        for row, entry in enumerate(_rows(text))
        if str(entry.get("tube", "")).strip() == tube and entry.get("end") == end
    ]
    if not 0 <= number < len(places):
        raise ValueError(f"{tube}, {end} end: it is cut square by now; look at the page again")
    return places[number]
