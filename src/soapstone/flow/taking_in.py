"""Tubes found in a drawing made a job: their corners, with tubing and die written in place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from soapstone.bench.model import Bench, fits
from soapstone.bench.setup import setup_for
from soapstone.errors import InputError
from soapstone.exchange.step import FoundTube, read_step
from soapstone.findings import Finding
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import SPLIT_ABOVE, corners
from soapstone.geometry.vectors import Vec3
from soapstone.job.files import bench_of
from soapstone.job.model import Job
from soapstone.job.tooling import die_of, tubing_of
from soapstone.job.tube import Bends, InlineDie, InlineTubing, Tube
from soapstone.quantities import Units, bare_length, format_size, parse_length
from soapstone.textfiles import one_line

USUAL_MATERIAL = "1010"
"""Taken where nobody says: a plain carbon steel tube."""

SAME_RADIUS = 0.05
"""mm that the radii of a tube's bends may differ and be of one die."""

LIKE = 0.01
"""Part of a radius, or of a wall, that the bench's own may differ and be what is meant."""


@dataclass(frozen=True, slots=True)
class AskedAs:
    """What whoever reads the findings knows wall, material and the bench's own by."""

    wall: str = "--wall"
    material: str = "--material"
    choose: str = "name it in the job"


OPTIONS = AskedAs()


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A job made of what a drawing holds, and what there is to say of it."""

    job: Job
    findings: tuple[Finding, ...]


def job_from_step(
    source: Path,
    units: Units,
    wall: float | None = None,
    material: str = "",
    *,
    as_drawn: bool,
    bench: Bench | None = None,
    asked_as: AskedAs = OPTIONS,
) -> TakenIn:
    """Read the tubes of a STEP file as a job.

    Parameters
    ----------
    units
        The job's units.
    wall
        Wall in mm of what the file has as solid bars.
    material
        What the tubes are made of.
    as_drawn
        Whether bends keep the radius they are drawn with when they are released. Otherwise the
        radius is taken for the die's, as drawings mostly mean it; corners stay either way.
    bench
        The bench whose dies and tubing are told of; left out, the shop's own.
    asked_as
        How the findings name what can be given.

    Raises
    ------
    InputError
        The file cannot be read, or holds no tube; one line names it.
    """
    found = read_step(source)
    findings = list(found.left_out)
    bench = bench or bench_of(Job(units=units))
    tubes = []
    for one in found.tubes:
        findings += one.findings
        thick = wall if one.wall is None else one.wall
        if thick is None or thick >= one.od / 2:
            findings.append(_no_wall(one, wall, units, asked_as.wall))
            continue
        tube, notes = _tube(one, thick, material or USUAL_MATERIAL, units, bench, as_drawn)
        tubes.append(tube)
        findings += notes
    if not tubes:
        said = "; ".join(map(str, findings[:5])) or "the file has no solid"
        raise InputError(one_line(f"{source}: expected tubes, found none: {said}"))
    if not material:
        what = f"what the tubes are made of is not in the file: {USUAL_MATERIAL} is taken"
        findings.insert(0, Finding("note", "material", what, f"give {asked_as.material}"))
    job = Job(name=source.stem[:200], units=units, tubes=tuple(tubes)).at_path(source)
    return TakenIn(job, (*findings, *_of_the_bench(job, bench, asked_as.choose)))


def _no_wall(tube: FoundTube, wall: float | None, units: Units, asked_as: str) -> Finding:
    size = format_size(tube.od, units)
    if tube.wall is None and wall is None:
        what = f"left out: it is a solid bar of {size} in the file, without a bore"
    else:
        what = f"left out: the wall is not under half its outside diameter {size}"
    return Finding("stop", tube.name, what, f"give the tube's wall with {asked_as}")


def _tube(
    found: FoundTube, wall: float, material: str, units: Units, bench: Bench, as_drawn: bool
) -> tuple[Tube, list[Finding]]:
    line, notes = _one_radius(found, units)
    tubing = InlineTubing(od=_tidy(found.od, units), wall=_tidy(wall, units), material=material)
    tube = Tube(name=found.name, tubing=tubing, points=_corners(line, units))
    if not line.angles:
        return tube, notes
    wide = max(line.angles) > SPLIT_ABOVE
    drawn = _tidy(line.radii[0], units)
    clr = _die_for(tube, line.radii[0], units, bench) if wide or as_drawn else drawn
    tube = tube.model_copy(update={"die": InlineDie(clr=clr, od=tubing.od)})
    if wide:
        shape = Bends(
            legs=tuple(_rounded(leg, units, 7) for leg in line.legs),
            angles=tuple(round(angle, 7) for angle in line.angles),
            rotations=tuple(round(rotation, 7) + 0.0 for rotation in line.rotations),
            **{"from": [_rounded(x, units, 7) for x in line.start]},
            along=[round(x, 10) + 0.0 for x in line.along],
            up=[round(x, 10) + 0.0 for x in line.up],
        )
        tube = tube.model_copy(update={"points": None, "bends": shape})
        if not as_drawn:
            what = (
                f"a bend of {max(line.angles):.1f}° has no corner: it is written by legs and "
                f"bends, its die's CLR so that it springs back to {format_size(drawn, units)}"
            )
            notes.append(Finding("note", found.name, what))
    return tube, notes


def _tidy(length: float, units: Units) -> float:
    """Round a length to a ten-thousandth of a mm or to as little in inches, for a file to read."""
    return _rounded(length, units, 4 if units == "mm" else 6)


def _corners(line: Centreline, units: Units) -> tuple[Vec3, ...]:
    """Corners rounded to what no drawing means, a hundred-thousandth of a mm."""
    digits = 5 if units == "mm" else 7
    return tuple(
        (_rounded(x, units, digits), _rounded(y, units, digits), _rounded(z, units, digits))
        for x, y, z in corners(line)
    )


def _rounded(mm: float, units: Units, digits: int) -> float:
    """Round a length to digits of its units; in mm, as a file with those digits is read."""
    return parse_length(f"{bare_length(mm, units) + 0.0:.{digits}f}", units) + 0.0


def _one_radius(found: FoundTube, units: Units) -> tuple[Centreline, list[Finding]]:
    """Give the centreline with the radius that most of its bends have; a job has one die a tube."""
    line = found.line
    radii = sorted(line.radii)
    if not radii or radii[-1] - radii[0] < SAME_RADIUS:
        return line, []
    usual = max(radii, key=lambda r: sum(abs(r - other) < SAME_RADIUS for other in radii))
    if max(line.angles) > SPLIT_ABOVE:
        mend = "draw it with one radius: it has a bend wider than a corner can be"
    else:
        mend = "see that its straights, which change, still do"
    listed = ", ".join(dict.fromkeys(format_size(r, units) for r in radii))
    what = (
        f"its bends have radii of {listed}, and one die bends them all: "
        f"{format_size(usual, units)} is taken, the corners stay"
    )
    same = Centreline(
        line.start,
        line.along,
        line.up,
        line.legs,
        line.angles,
        line.rotations,
        (usual,) * len(radii),
    )
    return (line if max(line.angles) <= SPLIT_ABOVE else same), [
        Finding("warn", found.name, what, mend)
    ]


def _die_for(tube: Tube, free: float, units: Units, bench: Bench) -> float:
    """Give the CLR in mm of the die that leaves a bend with a radius once it is released."""
    clr = free
    for _ in range(6):
        job = Job(units=units, tubes=(tube.model_copy(update={"die": InlineDie(clr=clr)}),))
        (one,) = job.tubes
        setup = setup_for(bench, die_of(job, one, bench), tubing_of(job, one, bench), units)
        clr *= free / setup.clr_free
    return clr


def _of_the_bench(job: Job, bench: Bench, mend: str) -> Iterator[Finding]:
    """Say which of the bench's own dies and tubing look like what was drawn."""
    said: set[str] = set()
    for tube in job.tubes:
        if not isinstance(tube.tubing, InlineTubing):
            continue
        like = _like(tube, tube.tubing, bench)
        if like and like not in said:
            said.add(like)
            yield Finding("note", tube.name, f"the bench has {like}", mend)


def _like(tube: Tube, tubing: InlineTubing, bench: Bench) -> str:
    walls = [
        f'the tubing "{one.name}"'
        for one in bench.tubings
        if fits(one.od, tubing.od) and abs(one.wall - tubing.wall) < LIKE * tubing.wall
    ]
    dies: Sequence[str] = ()
    if isinstance(tube.die, InlineDie):
        clr = tube.die.clr
        dies = [
            f'the die "{die.name}"'
            for die in bench.dies_for(tubing.od)
            if abs(die.clr - clr) < 3 * LIKE * clr
        ]
    return " and ".join([*walls[:1], *dies[:1]])
