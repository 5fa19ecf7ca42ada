"""Routes of a job: the tubes whose wish is to get from here to there past what is in the way."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapstone.bench.setup import Setup
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.fit.keepouts import keepouts_for, mirrored
from soapstone.fit.route.design import design
from soapstone.fit.route.problem import End, Route, RouteProblem, RouteResult, Via
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3
from soapstone.exchange.job_toml import with_points
from soapstone.job.files import bench_of, read_job
from soapstone.job.model import Job
from soapstone.job.tube import Route as Wish
from soapstone.job.tube import RouteEnd, Tube
from soapstone.plan.as_json import problems_json
from soapstone.shape.resolve import resolve, setups_for
from soapstone.textfiles import write_whole

WIDEST = 170.0
"""Degrees: corners of wider bends lie too far out to draw by."""

SLIGHTEST = 1.0
"""Degrees: a bend of less is not worth a set-up."""


@dataclass(frozen=True, slots=True)
class RoutedTube:
    """One tube of the job that was to be routed, and what was found."""

    name: str
    result: RouteResult

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm and degrees; `bends` is their number."""
        route = self.result.route
        return {
            "name": self.name,
            "found": route is not None,
            **_route_json(route),
            "seconds": self.result.seconds,
            "first_seconds": self.result.first_seconds,
            "starts": self.result.starts,
            "alternatives": [
                {
                    "what": one.what,
                    "longer": one.longer,
                    "more_bends": one.more_bends,
                    **_route_json(one.route),
                }
                for one in self.result.alternatives
            ],
            "reasons": list(self.result.reasons),
        }


def _route_json(route: Route | None) -> dict[str, Any]:
    if route is None:
        keys = ("bends", "length", "clearance", "nearest")
        return {"points": [], **dict.fromkeys(keys)}
    return {
        "points": [list(point) for point in route.corners],
        "bends": route.bends,
        "angles": list(route.line.angles),
        "rotations": list(route.line.rotations),
        "legs": list(route.line.legs),
        "length": route.length,
        "clearance": route.clearance,
        "nearest": route.nearest,
    }


@dataclass(frozen=True, slots=True)
class RoutedJob:
    """A job whose routes have been looked for; `file` is where it was written with them, if so."""

    job: Job
    tubes: tuple[RoutedTube, ...]
    findings: tuple[Finding, ...]
    file: Path | None = None

    @property
    def sound(self) -> bool:
        """Whether every route was found."""
        return all(tube.result.found for tube in self.tubes)

    def as_json(self) -> dict[str, Any]:
        """Give the routes as a JSON object."""
        return {
            "job": self.job.name,
            "tubes": [tube.as_json() for tube in self.tubes],
            "findings": problems_json(self.findings),
            "file": str(self.file) if self.file else None,
            "sound": self.sound,
        }


def route_job(
    path: Path,
    seconds: float,
    seed: int,
    out: Path | None,
    on_better: Callable[[str, Route], object] | None = None,
) -> RoutedJob:
    """Find the route of every tube of a job that asks for one, in the job's order.

    A tube keeps clear of the tubes before it where a keep-out says so, and a tube with a mirror
    image of what its image must keep clear of too. `seconds` bounds the search for each. With
    `out` the job is written there, its routes replaced by corners.
    """
    if not 0 < seconds <= 3600:
        raise InputError("--seconds: expected a number of seconds above 0, at most 3600")
    job = read_job(path)
    bench = bench_of(job)
    setups = setups_for(job, bench)
    rods = {
        shape.name: (shape.line, setup.od)
        for shape, setup in resolve(job, bench)
        if shape.line is not None
    }
    routed = []
    for tube in job.tubes:
        if tube.route is None:
            continue
        problem = problem_of(tube, tube.route, job, setups[tube.name], rods)
        better = None if on_better is None else _named(on_better, tube.name)
        result = design(problem, seconds, seed, better)
        routed.append(RoutedTube(tube.name, result))
        if result.route is not None:
            rods[tube.name] = (result.route.line, setups[tube.name].od)
    findings = () if routed else (Finding("note", "job", "no tube of it asks for a route"),)
    found = RoutedJob(job, tuple(routed), findings)
    return found if out is None else replace(found, file=_write(path, out, routed))


def _named(
    on_better: Callable[[str, Route], object], name: str
) -> Callable[[Route], object]:
    return lambda route: on_better(name, route)


def problem_of(
    tube: Tube,
    wish: Wish,
    job: Job,
    setup: Setup,
    rods: Mapping[str, tuple[Centreline, float]],
) -> RouteProblem:
    """Say what a tube's route must satisfy: its wish, the die's straights, and what is about."""
    keepouts = list(keepouts_for(job, tube, rods))
    for image in job.tubes:
        if image.mirror is not None and image.mirror.of == tube.name:
            at, normal = image.mirror.plane
            others = {name: rod for name, rod in rods.items() if name != tube.name}
            keepouts += [mirrored(one, at, normal) for one in keepouts_for(job, image, others)]
    most = min(WIDEST, setup.max_angle / (1 + setup.calibration.springback))
    low, high = wish.angles or (SLIGHTEST, most)
    return RouteProblem(
        start=_end(wish.start),
        end=_end(wish.end),
        od=setup.od,
        clr=setup.clr_free,
        through=tuple(Via(via.at, via.within) for via in wish.through),
        keepouts=tuple(keepouts),
        min_first=_or(wish.min_first, setup.clamp),
        min_straight=_or(wish.min_straight, setup.clamp),
        min_last=_or(wish.min_last, setup.follower),
        angles=(max(low, SLIGHTEST), min(high, most)),
        max_bends=wish.max_bends,
    )


def _or(given: float | None, usual: float) -> float:
    return usual if given is None else given


def _end(end: RouteEnd) -> End:
    return End(end.at, end.along, end.within)


def _write(path: Path, out: Path, routed: list[RoutedTube]) -> Path:
    """Write the job with its routes filled in, its remarks and layout kept."""
    points: dict[str, tuple[Vec3, ...]] = {
        tube.name: tube.result.route.corners for tube in routed if tube.result.route is not None
    }
    folders = (path.absolute().parent, out.absolute().parent)
    text = with_points(path.read_text(encoding="utf-8-sig"), points, folders)
    write_whole(out, text.encode())
    return out.absolute()
