"""From a job's tubes as wished to free shapes, each with the setup that it is bent with."""

from collections.abc import Iterator
from dataclasses import replace

from soapstone.bench.model import Bench, fits
from soapstone.bench.setup import Setup, setup_for
from soapstone.errors import InputError
from soapstone.findings import Finding, Say, say_mm
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import corners
from soapstone.geometry.moves import mirror
from soapstone.job.model import Job
from soapstone.job.tooling import die_of, tubing_of
from soapstone.job.tube import Bends, Tube
from soapstone.quantities import Units, format_size
from soapstone.shape.corners import line_from_corners
from soapstone.shape.model import Shape


def resolve(job: Job, bench: Bench, say: Say = say_mm) -> list[tuple[Shape, Setup]]:
    """Give every tube of the job its shape and setup, in the job's order.

    Raises
    ------
    InputError
        One line with every tube whose tubing or die the bench does not have.
    """
    setups = setups_for(job, bench)
    shapes: dict[str, Shape] = {}
    for tube in _sources_first(job):
        misfit = _die_misfit(tube, setups[tube.name], job.units)
        shapes[tube.name] = _shape(tube, shapes, setups[tube.name], say, misfit)
    return [(shapes[tube.name], setups[tube.name]) for tube in job.tubes]


def setups_for(job: Job, bench: Bench) -> dict[str, Setup]:
    """Give each tube's setup by the tube's name; tubes bent alike share one."""
    faults: list[str] = []
    made: dict[tuple[str, str], Setup] = {}
    setups: dict[str, Setup] = {}
    for tube in job.tubes:
        try:
            tubing, die = tubing_of(job, tube, bench), die_of(job, tube, bench)
        except InputError as fault:
            faults.append(str(fault))
            continue
        key = (die.model_dump_json(), tubing.model_dump_json())
        if key not in made:
            made[key] = setup_for(bench, die, tubing)
        setups[tube.name] = made[key]
    if faults:
        raise InputError("; ".join(dict.fromkeys(faults)))
    return setups


def _sources_first(job: Job) -> Iterator[Tube]:
    """Give the job's tubes so that each comes after the tube it is the mirror image of."""
    given: set[str] = set()
    waiting = list(job.tubes)
    while waiting:
        ready = [t for t in waiting if t.mirror is None or t.mirror.of in given]
        if not ready:
            raise ValueError("the job has tubes that are mirror images of one another in a ring")
        yield from ready
        given.update(tube.name for tube in ready)
        waiting = [tube for tube in waiting if tube.name not in given]


def _shape(
    tube: Tube, shapes: dict[str, Shape], setup: Setup, say: Say, findings: tuple[Finding, ...]
) -> Shape:
    if tube.mirror is not None:
        at, normal = tube.mirror.plane
        source = shapes[tube.mirror.of]
        if source.line is None:
            why = Finding("stop", tube.name, f"{source.name}, which it mirrors, has no shape yet")
            return Shape(tube.name, None, (), source.name, (*findings, why))
        line = mirror(_with_radius(source.line, setup), at, normal)
        return Shape(tube.name, line, corners(line), source.name, findings)
    if tube.points is not None:
        found, faults = line_from_corners(tube.name, tube.points, setup.clr_free, say)
        return Shape(tube.name, found, tube.points, "", (*findings, *faults))
    if tube.bends is not None:
        line = _line_from_bends(tube.bends, setup)
        return Shape(tube.name, line, corners(line), "", findings)
    missing = Finding(
        "stop", tube.name, "it is a route that has yet to be found", "give its points or bends"
    )
    return Shape(tube.name, None, (), "", (*findings, missing))


def _with_radius(line: Centreline, setup: Setup) -> Centreline:
    """A mirror image bent on another die keeps its legs and has that die's radius."""
    return replace(line, radii=(setup.clr_free,) * len(line.angles))


def _line_from_bends(bends: Bends, setup: Setup) -> Centreline:
    return Centreline(
        start=bends.start,
        along=bends.along,
        up=bends.upright,
        legs=bends.legs,
        angles=bends.angles,
        rotations=bends.turns,
        radii=(setup.clr_free,) * len(bends.angles),
    )


def _die_misfit(tube: Tube, setup: Setup, units: Units) -> tuple[Finding, ...]:
    if tube.straight or fits(setup.die_od, setup.od):
        return ()
    cut_for, is_ = format_size(setup.die_od, units), format_size(setup.od, units)
    return (
        Finding(
            "stop",
            tube.name,
            f"{setup.die} is cut for {cut_for} tube, and this one is {is_}",
            "name a die of the tube's diameter",
        ),
    )
