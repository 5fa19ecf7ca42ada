"""Routes of a job: the tubes whose wish is to get from here to there past what is in the way."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from soapstone.bench.model import Bench
from soapstone.bench.setup import Setup
from soapstone.errors import InputError
from soapstone.exchange.job_toml import with_points
from soapstone.findings import Finding, Say, stops
from soapstone.fit.hands import all_hands_keepouts, hands_of, shapes_of_hands
from soapstone.fit.route import End, Route, RouteProblem, RouteResult, Via, design, mend
from soapstone.flow.fitting import check
from soapstone.flow.planning import plan
from soapstone.flow.remembering import bench_as_is
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.vectors import Vec3, unit
from soapstone.job.files import read_job
from soapstone.job.model import Job
from soapstone.job.tube import WAYS, Bends, RouteEnd, Tube
from soapstone.job.tube import Route as Wish
from soapstone.plan.as_json import problems_json
from soapstone.quantities import format_fine
from soapstone.shape.resolve import resolve
from soapstone.textfiles import LARGEST_TOML, read_text, refuse_unwritable, write_whole

LONGEST = 3600.0
"""Seconds that a search may be given."""

MOST_BENDS = 20
"""Bends that a route may be asked to have at most."""

LONGEST_STICK = 6000.0
"""mm of tube that a route may take where the tubing does not say in what lengths it is bought."""

WIDEST = 180.0
"""Degrees: no route turns further in one bend."""

SLIGHTEST = 1.0
"""Degrees: a bend of less is not worth a set-up."""


@dataclass(frozen=True, slots=True)
class RoutedTube:
    """One tube that was routed, or a drawn one that was mended, and what was found.

    `moved` says for a mended tube how many mm each inner corner moved, `added` how many bends had
    to be put in; both are empty for a route.
    """

    name: str
    result: RouteResult
    moved: tuple[float, ...] = ()
    added: int = 0

    def as_json(self) -> dict[str, Any]:
        """Give it as a JSON object, mm and degrees; `bends` is their number."""
        route = self.result.route
        return {
            "name": self.name,
            "found": route is not None,
            **_route_json(route),
            "seconds": self.result.seconds,
            "ready_seconds": self.result.ready_seconds,
            "first_seconds": self.result.first_seconds,
            "starts": self.result.starts,
            "finished": self.result.finished,
            "moved": list(self.moved),
            "added": self.added,
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
        """Whether every route was found, and can be made so, and its mirror image too."""
        return all(tube.result.found for tube in self.tubes) and not stops(self.findings)

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
    on_better: Callable[[str, Say, Route], object] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> RoutedJob:
    """Find the route of every tube of a job that asks for one, in the job's order.

    Tubes are routed in turn: each keeps clear of those before it where a keep-out says so of
    either, and a note tells that the first had no heed of the others. A tube with mirror images
    keeps clear of what they must keep clear of too, and of them, where that is asked for.
    `seconds` bounds the search for each; `cancel` is asked whether to make do with the best so
    far. With `out` the job is written there, its routes replaced by corners, unless none was found.
    """
    room = _Room.of_file(path, seconds, seed, out)
    routed: list[RoutedTube] = []
    unheeded: list[Finding] = []
    for tube in room.job.tubes:
        if tube.route is None:
            continue
        better = None if on_better is None else partial(on_better, tube.name, room.say)
        unheeded += room.unheeded(tube)
        problem = room.problem(tube, tube.route)
        result = design(problem, seconds, seed, better, cancel, room.say)
        routed.append(room.settle(tube, RoutedTube(tube.name, result)))
    done = room.finish(routed, path, out, "no tube of it asks for a route")
    return replace(done, findings=(*done.findings, *unheeded))


def mend_job(path: Path, seconds: float, seed: int, out: Path | None) -> RoutedJob:
    """Move the corners of drawn tubes that clash, or have a leg too short, as little as will do.

    Both ends stay, and the directions there; so do tubes that are sound. A mirror image follows
    its tube. With `out` the job is written there, with the mended corners.
    """
    room = _Room.of_file(path, seconds, seed, out)
    mended = _mended(room, room.job.tubes, seconds, seed)
    return room.finish(mended, path, out, "every drawn tube of it is sound")


def mend_tube(job: Job, bench: Bench, name: str, seconds: float, seed: int = 0) -> RoutedJob:
    """Mend one drawn tube of a job, as `mend_job` does; writes nothing."""
    _checked(seconds, seed)
    room = _Room.of(job, bench)
    mended = _mended(room, (job.tube(name),), seconds, seed)
    sound = Finding("note", name, "is sound as it is drawn; nothing is moved")
    return RoutedJob(job, mended, room.stops_of(mended) if mended else (sound,))


def _mended(
    room: "_Room", tubes: Sequence[Tube], seconds: float, seed: int
) -> tuple[RoutedTube, ...]:
    """Mend those of some tubes that are drawn and have a STOP, or an image that has one."""
    mended = []
    checks = {one.plan.name: one for one in check(plan(room.job, room.bench)).tubes}
    for tube in tubes:
        points = checks[tube.name].plan.points
        hands = (checks[hand.tube.name] for hand in hands_of(room.job, tube.name))
        if not any(stops(hand.problems) for hand in hands):
            continue
        if tube.mirror is not None or tube.route is not None:
            continue
        wish = wish_between(points, min(len(points) + 1, MOST_BENDS))
        found = mend(room.problem(tube, wish), points, seconds, seed, say=room.say)
        result = RouteResult(found.route, reasons=found.reasons, seconds=found.seconds)
        mended.append(room.settle(tube, RoutedTube(tube.name, result, found.moved, found.added)))
    return tuple(mended)


def route_tube(
    job: Job,
    bench: Bench,
    name: str,
    wish: Wish,
    seconds: float,
    seed: int = 0,
    on_better: Callable[[Say, Route], object] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> RoutedJob:
    """Find a route for one tube of a job, drawn or not, as `route_job` does; writes nothing.

    `wish` is what to look for in place of the tube's present shape.
    """
    _checked(seconds, seed)
    tube = job.tube(name)
    asked = tube.model_copy(update={**dict.fromkeys(WAYS), "route": wish})
    job = job.with_tubes(tuple(asked if one is tube else one for one in job.tubes))
    room = _Room.of(job, bench)
    better = None if on_better is None else partial(on_better, room.say)
    result = design(room.problem(asked, wish), seconds, seed, better, cancel, room.say)
    routed = room.settle(asked, RoutedTube(name, result))
    findings = room.stops_of([routed]) if routed.result.found else ()
    return RoutedJob(job, (routed,), findings)


def wish_between(points: Sequence[Vec3], max_bends: int) -> Wish:
    """Give the wish for a route with the ends of a drawn tube, and its directions there.

    A drawn tube may end where it starts, as no route that a file asks for may.
    """
    return Wish.model_construct(
        start=RouteEnd(at=points[0], along=_direction(points[0], points[1])),
        end=RouteEnd(at=points[-1], along=_direction(points[-2], points[-1])),
        max_bends=max_bends,
    )


def _direction(start: Vec3, end: Vec3) -> Vec3:
    return vec(unit(np.subtract(end, start)))


def _checked(seconds: float, seed: int) -> None:
    if not 0 < seconds <= LONGEST:
        raise InputError(f"--seconds: expected a number above 0, at most {LONGEST:g}")
    if seed < 0:
        raise InputError("--seed: expected a whole number of 0 or more")


@dataclass(frozen=True, slots=True)
class _Room:
    """A job, its setups, and the shapes its tubes have so far."""

    job: Job
    bench: Bench
    setups: Mapping[str, Setup]
    rods: dict[str, tuple[Centreline, float]]

    @classmethod
    def of_file(cls, path: Path, seconds: float, seed: int, out: Path | None) -> "_Room":
        _checked(seconds, seed)
        if out is not None:
            refuse_unwritable(out)
        job = read_job(path)
        return cls.of(job, bench_as_is(job))

    @classmethod
    def of(cls, job: Job, bench: Bench) -> "_Room":
        shaped = resolve(job, bench)
        rods = {
            shape.name: (shape.line, setup.od) for shape, setup in shaped if shape.line is not None
        }
        return cls(job, bench, {shape.name: setup for shape, setup in shaped}, rods)

    def say(self, length: float) -> str:
        return format_fine(length, self.job.units)

    def unheeded(self, tube: Tube) -> Iterator[Finding]:
        """Tell which tubes this one and they must clear each other, and have no shape as yet."""
        own = {hand.tube.name for hand in hands_of(self.job, tube.name)}
        named = {keepout.tube for keepout in self.job.keepouts}
        for later in self.job.tubes:
            if later.route is None or later.name in own or later.name in self.rods:
                continue
            theirs = {hand.tube.name for hand in hands_of(self.job, later.name)}
            if named & (own | theirs):
                what = f'was routed first; "{later.name}" came after and had to keep clear of it'
                mend = f'if "{later.name}" fares badly, put it before "{tube.name}" in the file'
                yield Finding("note", tube.name, what, mend)

    def problem(self, tube: Tube, wish: Wish) -> RouteProblem:
        return problem_of(tube, wish, self.job, self.setups[tube.name], self.rods)

    def settle(self, tube: Tube, routed: RoutedTube) -> RoutedTube:
        """Keep a found shape and its mirror images, for the tubes that come after."""
        if routed.result.route is not None:
            od = self.setups[tube.name].od
            self.rods.update(shapes_of_hands(self.job, tube.name, routed.result.route.line, od))
        return routed

    def stops_of(self, routed: Sequence[RoutedTube]) -> tuple[Finding, ...]:
        """Hold what was found, and its mirror images, against everything once more."""
        routes = {one.name: one.result.route for one in routed if one.result.route is not None}
        tubes = tuple(
            _drawn(tube, routes[tube.name]) if tube.name in routes else tube
            for tube in self.job.tubes
        )
        hands = {hand.tube.name for name in routes for hand in hands_of(self.job, name)}
        checked = check(plan(self.job.with_tubes(tubes), self.bench))
        return tuple(
            finding
            for tube in checked.tubes
            if tube.plan.name in hands
            for finding in stops(tube.problems)
        )

    def finish(
        self, routed: Sequence[RoutedTube], path: Path, out: Path | None, nothing: str
    ) -> RoutedJob:
        findings = self.stops_of(routed) if routed else (Finding("note", "job", nothing),)
        found = any(one.result.found for one in routed)
        if out is not None and routed and not found:
            note = Finding("note", "job", f"{out.name} was not written: there is nothing to put in")
            findings = (*findings, note)
        file = None if out is None or (routed and not found) else _write(path, out, routed)
        return RoutedJob(self.job, tuple(routed), findings, file)


def _drawn(tube: Tube, route: Route) -> Tube:
    found: dict[str, Any] = dict.fromkeys(("points", "route", "bends"))
    if _by_corners(route):
        found["points"] = route.corners
    else:
        line = route.line
        found["bends"] = Bends.model_construct(
            legs=line.legs,
            angles=line.angles,
            rotations=line.rotations,
            start=line.start,
            along=line.along,
            up=line.up,
        )
    return tube.model_copy(update=found)


def _by_corners(route: Route) -> bool:
    """Whether a route is told by its corners: one for each bend."""
    return len(route.corners) == route.bends + 2


def problem_of(
    tube: Tube,
    wish: Wish,
    job: Job,
    setup: Setup,
    rods: Mapping[str, tuple[Centreline, float]],
) -> RouteProblem:
    """Say what a tube's route must satisfy: its wish, the die's straights, and what is about."""
    most = min(WIDEST, setup.max_angle / (1 + setup.calibration.springback))
    low, high = wish.angles or (SLIGHTEST, most)
    return RouteProblem(
        start=_end(wish.start),
        end=_end(wish.end),
        od=setup.od,
        clr=setup.clr_free,
        through=tuple(Via(via.at, via.within) for via in wish.through),
        keepouts=all_hands_keepouts(job, tube.name, rods, wish.start.at),
        min_first=_or(wish.min_first, setup.clamp),
        min_straight=_or(wish.min_straight, setup.clamp),
        min_last=_or(wish.min_last, setup.follower),
        angles=(max(low, SLIGHTEST), min(high, most)),
        max_bends=wish.max_bends,
        longest=max(setup.sticks, default=LONGEST_STICK),
        shortest=max(_or(wish.min_first, 0.0), _or(wish.min_last, 0.0)),
    )


def _or(given: float | None, usual: float) -> float:
    return usual if given is None else given


def _end(end: RouteEnd) -> End:
    return End(end.at, end.along, end.within)


def _tidy(point: Vec3) -> Vec3:
    """Round off what no tape shows, such as 1e-17."""
    x, y, z = (round(value, 9) + 0.0 for value in point)
    return (x, y, z)


def _tidied(line: Centreline) -> Centreline:
    legs = tuple(round(leg, 9) for leg in line.legs)
    along, up = _tidy(line.along), _tidy(line.up)
    return replace(line, start=_tidy(line.start), along=along, up=up, legs=legs)


def _write(path: Path, out: Path, routed: Sequence[RoutedTube]) -> Path:
    """Write the job with its routes filled in, its remarks and layout kept."""
    points: dict[str, Sequence[Vec3] | Centreline] = {}
    for tube in routed:
        route = tube.result.route
        if route is not None:
            by_corners = tuple(map(_tidy, route.corners))
            points[tube.name] = by_corners if _by_corners(route) else _tidied(route.line)
    folders = (path.absolute().parent, out.absolute().parent)
    text = with_points(read_text(path, LARGEST_TOML), points, folders)
    write_whole(out, text.encode())
    return out.absolute()
