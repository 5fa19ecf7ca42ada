"""Why no route was found: what stands in the way, and by how much the nearest miss fails."""

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from soapstone.findings import Say, say_mm
from soapstone.fit.clearance import piece_clearance
from soapstone.fit.route.certify import CERTAIN, line_of
from soapstone.fit.route.exact import rays_meet, straight_leads
from soapstone.fit.route.hairpin import BESIDE, apart, is_opposite
from soapstone.fit.route.polyline import FIXED
from soapstone.fit.route.problem import End, RouteProblem
from soapstone.fit.route.search import Search
from soapstone.fit.route.unknowns import mode
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import tangent_length, turns
from soapstone.geometry.distance import line_pieces
from soapstone.geometry.measure import length
from soapstone.geometry.solids import HalfSpace
from soapstone.geometry.vectors import Array, angle_between, any_perpendicular, norm, unit

SHOWN = 0.05
"""mm and degrees: what fails by less is not named."""

PER_DEGREE = 5.0
"""mm that a degree off counts for, where misses are ranked."""

WILD = 200.0
"""mm: a tube whose own straights and bends are this much off is no near miss, and is not told."""

MEASURED, TOLD, LISTED = 10, 3, 5
"""How many misses are measured, how many are told at most, and how many faults of each."""


class Fault(NamedTuple):
    """One thing that a tube breaks: by how many mm it counts, and how it is said.

    `own`: it is about the tube's own shape, not about what stands around it. `about`: the keep-out
    it is too near to, or what of the tube is wrong.
    """

    off: float
    text: str
    own: bool = False
    about: str = ""


class Miss(NamedTuple):
    """A tube that was nearly a route: its bends, and all that it breaks."""

    bends: int
    faults: list[Fault]

    @property
    def off(self) -> float:
        """How far off it is, in mm."""
        return sum(fault.off for fault in self.faults)

    @property
    def wild(self) -> bool:
        """Whether its own straights and bends are too far off for a near miss."""
        return sum(fault.off for fault in self.faults if fault.own) >= WILD


def hopeless(problem: RouteProblem) -> bool:
    """Whether no tube whatever can be a route: what it must pass cannot be passed, or is too far.

    `reasons` tells it all without a near miss, so that a search would only use up its time.
    """
    if _apart(problem) > problem.longest:
        return True
    places = (_mirror_reasons(problem), _through_reasons(problem, say_mm))
    if any(True for reason in places for _ in reason):
        return True
    return any(
        True
        for end in (problem.start, problem.end)
        for _ in _too_near(problem, _stub(end, 0.0, 1.0))
    )


def reasons(search: Search, say: Say = say_mm) -> tuple[str, ...]:
    """Say why nothing was found: what no route can mend, then the nearest miss."""
    problem = search.problem
    through = [*_mirror_reasons(problem), *_through_reasons(problem, say)]
    ends = list(_end_reasons(problem, say))
    found = [*(fault.text for fault in ends), *through]
    found += [*_straight_reasons(problem, say), *_ray_reasons(problem, say)]
    apart = _apart(problem)
    bent = _one_bend(problem)
    far = apart > problem.longest
    misses = _misses(search, say)
    if bent is not None and (far or problem.max_bends == 1):
        found += [f"with 1 bend: {fault.text}" for fault in _broken(problem, bent, say)]
    elif bent is not None:
        misses.append(Miss(1, list(_broken(problem, bent, say))))
    if far:
        if not any("longest stick" in one for one in found):
            longest = say(problem.longest)
            found.append(f"the ends are {say(apart)} apart, and the longest stick is {longest}")
    elif not through:
        found += _nearest(problem, misses, ends, say)
    if not found:
        found.append(_nothing(problem, misses, say))
    return tuple(found)


def _apart(problem: RouteProblem) -> float:
    return float(norm(np.subtract(problem.end.at, problem.start.at)))


def _one_bend(problem: RouteProblem) -> Array | None:
    """Corners of the one tube with a single bend between two fixed directions."""
    if problem.max_bends < 1 or not _stiff(problem):
        return None
    meeting = rays_meet(problem)
    if meeting is None or meeting[1] > SHOWN:
        return None
    return np.array([problem.start.at, meeting[0], problem.end.at], dtype=float)


def _stiff(problem: RouteProblem) -> bool:
    return mode(problem.start) == mode(problem.end) == FIXED


def _misses(search: Search, say: Say) -> list[Miss]:
    """What the tubes break that came nearest, for all numbers of bends.

    Measuring them takes its time with meshes; when that is up, what was measured has to do.
    """
    costs = [
        (cost, bends, y) for bends, known in sorted(search.misses.items()) for cost, y in known
    ]
    costs.sort(key=lambda one: one[0])
    found = []
    for _, bends, y in costs[:MEASURED]:
        corners = search.corners(search.task(bends)[0], y)
        found.append(Miss(bends, list(_broken(search.problem, corners, say))))
        if search.out_of_time():
            break
    return found


def _nearest(
    problem: RouteProblem, misses: list[Miss], ends: list[Fault], say: Say
) -> Iterator[str]:
    """Tell the misses that are least off, each if something else stands in its way the most.

    Where all are wild, tell only that there is too little room. What is said of the ends already
    is left out.
    """
    if any(not miss.faults for miss in misses):
        yield _nothing(problem, misses, say)
        return
    near = sorted((one for one in misses if not one.wild), key=lambda one: one.off)
    if not near and misses:
        yield _nothing(problem, misses, say)
    told: set[str] = set()
    for bends, faults in near:
        new = sorted(
            (fault for fault in faults if not _said(fault, ends)), key=lambda fault: -fault.off
        )
        if new and len(told) < TOLD and new[0].about not in told:
            which = "another" if told else "the nearest miss"
            yield f"{which}, with {_bends(bends)}: {_listed(new)}"
            told.add(new[0].about)


def _said(fault: Fault, ends: list[Fault]) -> bool:
    """Whether an end alone is too near to a keep-out by as much as the whole tube is."""
    return any(end.about == fault.about and fault.off < end.off + SHOWN for end in ends)


def _listed(faults: list[Fault]) -> str:
    """List faults; of many only the first."""
    texts = [fault.text for fault in faults[:LISTED]]
    if len(faults) > LISTED:
        texts.append(f"and {len(faults) - LISTED} more")
    return "; ".join(texts)


def _nothing(problem: RouteProblem, misses: list[Miss], say: Say) -> str:
    """Say the least that is true: there is no room for the straights, or nothing came near."""
    hair = [bends for bends, faults in misses if not faults]
    if not misses and problem.max_bends == 0:
        hair = [0]
    if hair:
        return f"with {_bends(hair[0])} less than {SHOWN:g} mm or degrees is missing"
    if not misses:
        return "it was stopped before any tube was tried"
    bends = min(bends for bends, _ in misses)
    straights = problem.min_first + (bends - 1) * problem.min_straight + problem.min_last
    least = straights + bends * problem.clr * float(np.radians(problem.angles[0]))
    apart = _apart(problem)
    if apart < least:
        need = "needs" if bends == 1 else "need"
        return (
            f"{_bends(bends)} {need} more room: the ends are {say(apart)} apart, "
            f"the die's straights and least bends take {say(least)}"
        )
    return f"no tube with up to {_bends(problem.max_bends)} comes near"


def _bends(count: int) -> str:
    return "1 bend" if count == 1 else f"{count} bends"


def _through_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    """Points to go through that no tube can come near enough to, past the keep-outs."""
    for i, via in enumerate(problem.through, 1):
        pieces = line_pieces(_stub(End(via.at), 0.0, 1.0))
        for keepout in problem.keepouts:
            gap = piece_clearance(pieces, problem.od, keepout, CERTAIN, keepout.gap).high
            short = keepout.gap - gap - via.within
            if short <= SHOWN:
                continue
            if gap + problem.od / 2 < 0 and keepout.counts == 1:
                yield f'point {i} to go through lies inside "{keepout.name}"'
            elif gap + problem.od / 2 >= 0:
                short *= keepout.counts
                yield f'point {i} to go through is {say(short)} too near to "{keepout.name}"'


def _mirror_reasons(problem: RouteProblem) -> Iterator[str]:
    """Places beyond the plane that the tube's own mirror image is mirrored in."""
    ends = (("the A end", problem.start.at, 0.0), ("the B end", problem.end.at, 0.0))
    vias = ((f"point {i}", via.at, via.within) for i, via in enumerate(problem.through, 1))
    places = (*ends, *vias)
    for keepout in problem.keepouts:
        if keepout.counts == 1 or not isinstance(keepout.solid, HalfSpace):
            continue
        for name, at, within in places:
            over = float(np.dot(np.subtract(at, keepout.solid.at), keepout.solid.normal))
            if over + within < 0:
                yield (
                    f'{name} lies on the far side of the mirror plane of "{keepout.name}": a tube '
                    "that goes through the plane meets its own mirror image there; move it to "
                    "the A end's side"
                )


def _straight_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    """Why the straight from end to end will not do, where it is the only tube or a likely one."""
    a, b = problem.start, problem.end
    if _apart(problem) < SHOWN:
        yield "both ends are at the same point"
        return
    corners = np.array([a.at, b.at], dtype=float)
    if not straight_leads(problem):
        if problem.max_bends > 0:
            return
        if a.along is not None and b.along is not None:
            turned = float(angle_between(np.array(a.along, float), np.array(b.along, float)))
            if turned > a.within + b.within + SHOWN:
                yield (
                    "without a bend it cannot turn from one direction to the other "
                    f"(by {turned:.1f}°)"
                )
                return
    long = _apart(problem)
    if long < problem.shortest - SHOWN:
        asked = say(problem.shortest)
        yield f"without a bend: it is {say(long)}, and a straight of {asked} is asked for"
    for fault in _broken(problem, corners, say):
        yield f"without a bend: {fault.text}"


def _end_reasons(problem: RouteProblem, say: Say) -> Iterator[Fault]:
    """Keep-outs that an end, or the straight it must have, is too near to."""
    for name, end, least, sign in (
        ("A", problem.start, problem.min_first, 1.0),
        ("B", problem.end, problem.min_last, -1.0),
    ):
        fixed = mode(end) == FIXED
        stub = _stub(end, least if fixed else 0.0, sign)
        for keepout, short in _too_near(problem, stub):
            place = f"the {name} end"
            if fixed and least > 0 and not _blocks_point(problem, end, keepout):
                place = f"the straight of {say(least)} that the {name} end needs"
            text = f'blocked by "{keepout}": {place} is {say(short)} too near to it'
            yield Fault(short, text, about=keepout)


def _blocks_point(problem: RouteProblem, end: End, keepout: str) -> bool:
    return any(name == keepout for name, _ in _too_near(problem, _stub(end, 0.0, 1.0)))


def _stub(end: End, least: float, sign: float) -> Centreline:
    along = unit(np.array(end.along if end.along is not None else (0.0, 0.0, 1.0), dtype=float))
    along = sign * along
    return Centreline(end.at, vec(along), vec(any_perpendicular(along)), (max(least, 1e-3),))


def _too_near(problem: RouteProblem, line: Centreline) -> Iterator[tuple[str, float]]:
    """Names of keep-outs that a line is too near to, and by how many mm."""
    pieces = line_pieces(line)
    for keepout in problem.keepouts:
        clear = piece_clearance(pieces, problem.od, keepout, SHOWN, keepout.gap)
        if clear.high < keepout.gap - SHOWN:
            yield keepout.name, (keepout.gap - clear.high) * keepout.counts


def _ray_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    if problem.max_bends != 1 or not _stiff(problem):
        return
    meeting = rays_meet(problem)
    if is_opposite(problem):
        yield from _u_turn_reasons(problem, say)
    elif meeting is None:
        yield "the directions of the two ends are parallel: no single bend joins them"
    elif meeting[1] > SHOWN:
        missed = say(meeting[1])
        yield f"the rays of the two ends miss each other by {missed}: one bend cannot join them"


def _u_turn_reasons(problem: RouteProblem, say: Say) -> Iterator[str]:
    high = problem.angles[1]
    if high < 180.0:
        yield f"one bend would have to turn by 180°, at most {high:.1f}° can be bent"
        return
    off = apart(problem) - 2 * problem.clr
    if abs(off) > BESIDE:
        yield (
            f"one bend of 180° puts its legs {say(2 * problem.clr)} apart, and the ends ask for "
            f"{say(apart(problem))}, {abs(off):.2f} mm {'more' if off > 0 else 'less'}"
        )


def _broken(problem: RouteProblem, corners: Array, say: Say) -> Iterator[Fault]:
    """What a polyline breaks: straights, angles, ends, clearances, points and the stick."""
    if len(corners) > 2:
        yield from _off_bends(problem, corners, say)
    yield from _off_direction(problem, corners)
    line = line_of(corners, problem.clr)
    lines = [line] if line is not None else [_leg_line(a, b) for a, b in pairwise(corners)]
    worst: dict[str, float] = {}
    for one in lines:
        for name, short in _too_near(problem, one):
            worst[name] = max(worst.get(name, 0.0), short)
    for name, short in sorted(worst.items(), key=lambda item: -item[1]):
        yield Fault(short, f'blocked by "{name}": {say(short)} too near', about=name)
    yield from _off_points(problem, corners, say)
    if line is not None and length(line) > problem.longest:
        needs, longest = length(line), problem.longest
        text = f"it needs {say(needs)}, and the longest stick is {say(longest)}"
        yield Fault(needs - longest, text, about="the stick")


def _off_bends(problem: RouteProblem, corners: Array, say: Say) -> Iterator[Fault]:
    """Legs that are too short, and bends of an angle that cannot be bent."""
    turned = turns(corners)
    reach = tangent_length(np.full_like(turned.angles, problem.clr), turned.angles)
    legs = turned.lengths - np.append(reach, 0.0) - np.insert(reach, 0, 0.0)
    last = len(legs) - 1
    for i, leg in enumerate(legs):
        least = problem.min_straight
        least = problem.min_first if i == 0 else problem.min_last if i == last else least
        if leg < least - SHOWN:
            short = least - float(leg)
            yield Fault(short, f"leg {i + 1} is {say(short)} short", True, "its legs")
    low, high = problem.angles
    for i, angle in enumerate(float(one) for one in turned.angles):
        if angle > high + SHOWN:
            text = f"bend {i + 1} is {angle:.1f}°, at most {high:g}° can be bent"
            yield Fault(PER_DEGREE * (angle - high), text, True, "its bends")
        elif angle < low - SHOWN:
            text = f"bend {i + 1} is {angle:.1f}°, less than {low:g}°"
            yield Fault(PER_DEGREE * (low - angle), text, True, "its bends")


def _leg_line(a: Array, b: Array) -> Centreline:
    along = unit(b - a)
    return Centreline(vec(a), vec(along), vec(any_perpendicular(along)), (float(norm(b - a)),))


def _off_direction(problem: RouteProblem, corners: Array) -> Iterator[Fault]:
    steps = ((problem.start, corners[1] - corners[0]), (problem.end, corners[-1] - corners[-2]))
    for name, (end, step) in zip("AB", steps, strict=True):
        if end.along is not None:
            lean = float(angle_between(step, np.array(end.along, dtype=float))) - end.within
            if lean > SHOWN:
                text = f"the {name} end leans {lean:.1f}° too much"
                yield Fault(PER_DEGREE * lean, text, True, f"the {name} end")


def _off_points(problem: RouteProblem, corners: Array, say: Say) -> Iterator[Fault]:
    for i, via in enumerate(problem.through):
        point = np.array(via.at, dtype=float)
        a, step = corners[:-1], np.diff(corners, axis=0)
        share = np.einsum("ij,ij->i", point - a, step) / np.maximum(norm(step) ** 2, 1e-12)
        near = a + np.clip(share, 0, 1)[:, None] * step
        off = float(norm(near - point).min()) - via.within
        if off > SHOWN:
            text = f"it passes point {i + 1} of those to go through {say(off)} too far off"
            yield Fault(off, text, about=f"point {i + 1}")
