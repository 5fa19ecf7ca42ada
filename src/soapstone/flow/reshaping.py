"""Changes to what a job is made of, each from the text of the job file to the next.

What is typed on a page, or moved in the room, becomes a change of the file: its remarks, order and
layout stay, and lengths are written in the job's own units.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench, Die, Tubing, fits
from soapstone.bench.setup import setup_for
from soapstone.bench.values import written
from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_entry, with_value, without_entry
from soapstone.exchange.job_toml import with_points
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import SPLIT_ABOVE, corners
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.quantities import bare_length, parse_length
from soapstone.shape.measured import Bent
from soapstone.shape.resolve import resolve
from soapstone.shape.starter import starter_shape


def number_of(job: Job, tube: str) -> int:
    """Give the place of a tube in its job, from 0; an InputError names the nearest ones."""
    return job.tubes.index(job.tube(tube))


def bare(length: float, job: Job) -> float | int:
    """Give a length in mm as a job file writes it: a number in the job's units."""
    return written(bare_length(length, job.units))


def with_length(
    text: str, job: Job, place: Sequence[str | int], typed: str, *, may_be_none: bool = False
) -> str:
    """Put a length as typed, "12 3/8 in" or a bare number in the job's units, where `place` leads.

    Nothing typed takes the key away where it `may_be_none`.

    Raises
    ------
    ValueError
        It is no length.
    """
    if not typed.strip() and may_be_none:
        return with_value(text, tuple(place), None)
    return with_value(text, tuple(place), bare(parse_length(typed, job.units), job))


def with_legs(
    text: str,
    job: Job,
    bench: Bench,
    tube: str,
    legs: Sequence[float],
    angles: Sequence[float],
    rotations: Sequence[float],
) -> str:
    """Give a tube other straights, angles and rotations (mm, degrees); its A end stays.

    A tube given by its corners gets new corners, one given by legs and angles new ones of those; a
    bend too far round to have a corner makes the former one of the latter.

    Raises
    ------
    ValueError
        Its shape comes from elsewhere.
    """
    wish = job.tube(tube)
    if wish.bends is not None:
        place = ("tube", number_of(job, tube), "bends")
        text = with_value(text, (*place, "legs"), [bare(leg, job) for leg in legs])
        text = with_value(text, (*place, "angles"), [written(angle) for angle in angles])
        return with_value(text, (*place, "rotations"), [written(turn) for turn in rotations])
    line = line_of(job, bench, tube)
    if wish.points is None or line is None:
        raise ValueError(f"{tube}: change the tube that its shape comes from")
    radius = line.radii[0] if line.radii else 0.0
    changed = replace(
        line,
        legs=tuple(legs),
        angles=tuple(angles),
        rotations=tuple(rotations),
        radii=(radius,) * len(angles),
    )
    half_round = any(angle > SPLIT_ABOVE for angle in angles)
    return with_points(text, {tube: changed if half_round else corners(changed)})


def line_of(job: Job, bench: Bench, tube: str) -> Centreline | None:
    """Give the shape of a tube of a job; None where it has none yet."""
    return next(shape.line for shape, _ in resolve(job, bench) if shape.name == tube)


def with_corner(text: str, job: Job, tube: str, after: int) -> str:
    """Put a corner half-way between corner `after`, from 0, and the next one."""
    points = _corners(job, tube)
    if not 0 <= after < len(points) - 1:
        raise ValueError(f"{tube}: no leg {after + 1}")
    a, b = points[after], points[after + 1]
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)
    return with_points(text, {tube: (*points[: after + 1], middle, *points[after + 1 :])})


def without_corner(text: str, job: Job, tube: str, corner: int) -> str:
    """Take a corner away; the ends stay."""
    points = _corners(job, tube)
    if not 0 < corner < len(points) - 1:
        raise ValueError(f"{tube}: only corners between the ends can be taken away")
    return with_points(text, {tube: (*points[:corner], *points[corner + 1 :])})


def _corners(job: Job, tube: str) -> tuple[Vec3, ...]:
    points = job.tube(tube).points
    if points is None:
        raise ValueError(f"{tube}: its shape is not given by corners")
    return points


def with_shape(
    text: str, job: Job, bench: Bench, shape: str, numbers: Mapping[str, float], name: str
) -> str:
    """Add a tube that has a starter shape, or is straight for the shape "straight".

    It is of the tubing and die of the job's first drawn tube, else of the bench's first.

    Raises
    ------
    ValueError
        The numbers make no such shape: the text says why.
    """
    first = next((tube for tube in job.tubes if tube.mirror is None), None)
    if first is not None:
        setup = next(setup for _, setup in resolve(job.with_tubes((first,)), bench))
        choice: dict[str, Any] = {
            key: value for key in ("tubing", "die") if (value := _choice(first, key)) is not None
        }
    else:
        die, tubing = first_fitting(bench)
        setup = setup_for(bench, die, tubing, job.units)
        choice = {"tubing": tubing.name, "die": die.name}
    points = starting_points(shape, Bent(setup.od, setup.clr_free), numbers)
    corner_list = [[bare(value, job) for value in point] for point in points]
    entry = {"name": free_tube_name(job, name or shape), **choice, "points": corner_list}
    return with_entry(text, "tube", entry)


def first_fitting(bench: Bench) -> tuple[Die, Tubing]:
    """Give the first die of a bench that has tubing to fit it, with that tubing.

    Raises
    ------
    ValueError
        There is none.
    """
    for die in bench.dies:
        for tubing in bench.tubings:
            if fits(die.od, tubing.od):
                return die, tubing
    raise ValueError("the bench has no die with tubing that fits it; add them to the bench first")


def starting_points(shape: str, bent: Bent, numbers: Mapping[str, float]) -> tuple[Vec3, ...]:
    """Give the corners of a starter shape, or of a straight tube for the shape "straight".

    Raises
    ------
    ValueError
        The numbers make no such shape: the text says why.
    """
    if shape == "straight":
        return ((0.0, 0.0, 0.0), (0.0, 0.0, 1000.0))
    made = starter_shape(shape, bent, numbers)
    if not made.points:
        raise ValueError("; ".join(str(finding) for finding in made.findings))
    return made.points


def _choice(tube: Tube, key: str) -> Any:
    """Give a tube's tubing or die as its file names or writes it."""
    value = getattr(tube, key)
    if value is None or isinstance(value, str):
        return value
    return value.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True)


def with_other_hand(text: str, job: Job, tube: str, across: str) -> str:
    """Add the mirror image of a tube across one of the planes "xy", "yz", "xz"."""
    of = job.tube(tube)
    name = free_tube_name(job, _other_side(of.name))
    return with_entry(text, "tube", {"name": name, "mirror": {"of": of.name, "across": across}})


SIDES = (("port", "starboard"), ("left", "right"), ("near", "far"), ("front", "rear"))


def _other_side(name: str) -> str:
    for one, other in (*SIDES, *((b, a) for a, b in SIDES)):
        if one in name:
            return name.replace(one, other, 1)
    return f"{name}, other hand"


def without_tube(text: str, job: Job, tube: str) -> str:
    """Take a tube out of the job.

    Raises
    ------
    ValueError
        Something of the job still needs it: the text says what.
    """
    needed = [image.name for image in job.tubes if image.mirror and image.mirror.of == tube]
    needed += [one.name for one in job.keepouts if one.tube == tube]
    needed += [f"a {what}" for what, uses in _uses(job).items() if tube in uses]
    if needed:
        raise ValueError(f"{tube} is still needed by {', '.join(needed)}; take those out first")
    if len(job.tubes) == 1:
        raise ValueError("a job keeps at least one tube")
    return without_entry(text, "tube", number_of(job, tube))


def _uses(job: Job) -> dict[str, set[str]]:
    """Say which tubes the parts of a job name."""
    onto = {one.onto for one in job.copes if isinstance(one.onto, str)}
    return {
        "support": {one.tube for one in job.supports},
        "joint": {name for one in job.joints for name in one.tubes},
        "load": {name for one in job.loads for name in one.onto if isinstance(name, str)},
        "cope": {one.tube for one in job.copes} | onto,
    }


def free_tube_name(job: Job, wanted: str) -> str:
    """Give a name like the one wanted that no tube of the job has."""
    taken = {tube.name for tube in job.tubes}
    name, number = wanted, 2
    while name in taken:
        name, number = f"{wanted} {number}", number + 1
    return name


def with_keepout_value(text: str, keepout: str, place: Sequence[str | int], value: Any) -> str:
    """Put a value into a keep-out, by its name, where `place` leads in it; None takes it away.

    Raises
    ------
    ValueError
        There is no keep-out of that name any more.
    """
    number, _ = _keepout(text, keepout)
    return with_value(text, ("keepout", number, *place), value)


def with_keepout_part(
    text: str, keepout: str, place: Sequence[str | int], axis: int, values: Sequence[float]
) -> str:
    """Put one of three numbers, `values[axis]`, into a keep-out; the file's own others stay.

    Raises
    ------
    ValueError
        There is no keep-out of that name any more.
    """
    number, found = _keepout(text, keepout)
    for step in place:
        found = found.get(step) if isinstance(found, dict) else found[int(step)]
    whole = ("keepout", number, *place)
    if isinstance(found, list) and len(found) == len(values):
        return with_value(text, (*whole, axis), values[axis])
    return with_value(text, whole, list(values))


def without_keepout(text: str, keepout: str) -> str:
    """Take a keep-out away, by its name; a ValueError says when it is gone already."""
    return without_entry(text, "keepout", _keepout(text, keepout)[0])


def _keepout(text: str, name: str) -> tuple[int, Any]:
    """Place in the file and table of a keep-out, by its name."""
    rows = tomllib.loads(text).get("keepout", [])
    for number, row in enumerate(rows):
        if isinstance(row, dict) and str(row.get("name", "")).strip() == name:
            return number, row
    raise ValueError(f"{name} is not in the room any more; look at the page again")


KEEPOUT_FORMS = ("box", "round bar", "ball", "floor", "scan")
"""What can be put into a room, as said on a page."""


def with_keepout(text: str, job: Job, form: str, scan: Path | None = None) -> str:
    """Put a keep-out of one of `KEEPOUT_FORMS` into the room, to be given its place after.

    `scan` is the file of a scan, in the job's own folder.
    """
    size = 300.0 if job.units == "mm" else 304.8
    nought, half, whole = (bare(share * size, job) for share in (0.0, 0.5, 1.0))
    middle = [nought, nought, half]
    solids: dict[str, dict[str, Any]] = {
        "box": {"box": {"at": middle, "size": [whole, whole, whole]}},
        "round bar": {"cylinder": {"from": [nought] * 3, "to": middle, "diameter": half}},
        "ball": {"ball": {"at": middle, "diameter": whole}},
        "floor": {"halfspace": {"at": [nought] * 3, "normal": [0, 0, 1]}},
        "scan": {"mesh": {"file": scan.name if scan else "", "units": job.units}},
    }
    if form not in solids:
        raise InputError(f"expected one of {', '.join(KEEPOUT_FORMS)}, found {form[:40]}")
    taken = {one.name for one in job.keepouts}
    name = next(n for n in (form, *(f"{form} {k}" for k in range(2, 1000))) if n not in taken)
    return with_entry(text, "keepout", {"name": name, **solids[form]})
