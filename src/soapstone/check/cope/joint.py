"""A coped end as a fabricator needs it: angle, offset, the cut, where to saw, the weld."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from soapstone.check.cope.profile import EndFrame, onto_plate, onto_tube
from soapstone.findings import Finding, Say
from soapstone.geometry.along import nearest_along, places_at
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross, dot, norm, unit
from soapstone.plan.model import TubePlan

End = Literal["A", "B"]

STEP = 5
"""Degrees round the tube between the places of the table."""

FINE = 1
"""Degrees between the places of the drawn cut."""

ROUND: Array = np.arange(0.0, 360.0, FINE)
"""Those places, in degrees."""

OFF = 2.0
"""Diameters that an end may be drawn off what it sits on; farther is a slip."""

LEAST = 0.05
"""mm that a stick may be short: a saw cut is no truer."""

TOP_FROM_INSIDE = {"left": 90.0, "right": -90.0, "up": 0.0, "down": 180.0}
"""Degrees clockwise, seen from the tail, from a bend's inside to the top, by where it swings."""

THROUGH_WALL = 5
"""Depths in the wall at which the cut is looked at, inner and outer surface included."""


@dataclass(frozen=True, slots=True)
class Cope:
    """One coped end. Lengths in mm, angles in degrees.

    Attributes
    ----------
    tube, end, onto
        Which end sits on what.
    angle
        Between the tube and what it sits on, 0 to 90.
    offset
        How far the two axes pass each other by; 0 on a plate.
    profile
        (degrees round the tube, distance from the drawn end back to the cut) on the outside.
        0 degrees is on the obtuse side; seen from the end into the tube angles go clockwise.
    clear
        As `profile`, the farthest of all depths in the wall: cut straight in there, nothing fouls.
    zero
        Direction out of the tube at 0 degrees.
    from_bend
        Degrees from the inside of the bend next to this end round to 0 degrees, seen from the A
        end along the tube; None without a bend. It clocks two coped ends to the tube's bends.
    line
        Degrees round the tube, counted as in `profile`, of a straight line drawn along the top of
        the stick as it is loaded for its first bend: one line that serves both ends. A tube without
        bends may have it anywhere, so long as both ends use the same.
    tip
        The least of `clear`: saw the tube square there first.
    saw
        Where that is on the straight stick.
    weld
        Length of the weld, round the outside.
    short
        How much longer that end must be drawn for the stick to reach; 0 where it does.
    """

    tube: str
    end: End
    onto: str
    angle: float
    offset: float
    profile: tuple[tuple[float, float], ...]
    clear: tuple[tuple[float, float], ...]
    zero: Vec3
    from_bend: float | None
    line: float
    tip: float
    saw: float
    weld: float
    short: float = 0.0
    problems: tuple[Finding, ...] = ()

    @property
    def deepest(self) -> float:
        """How far in mm the cut reaches in from the square saw cut."""
        return max(depth for _, depth in self.clear) - self.tip

    @property
    def added(self) -> float:
        """How far in mm the tube reaches past its drawn end; less than 0 where it ends before."""
        return -self.tip


@dataclass(frozen=True, slots=True)
class Plate:
    """A plate to sit on."""

    at: Vec3
    normal: Vec3


def cope_onto_tube(
    plan: TubePlan, end: End, onto: str, line: Centreline, od: float, say: Say
) -> Cope:
    """Cope a tube's end onto another tube of outside diameter `od`, wherever it meets it."""
    at, back, straight = _end_of(plan, end)
    along, off = nearest_along(line, at[None])
    (place,), (tangent,) = places_at(line, along)
    angle = float(np.degrees(np.arccos(min(abs(float(dot(back, tangent))), 1.0))))
    normal = cross(back, tangent)
    size = float(norm(normal))
    offset = abs(float(dot(place - at, normal))) / size if size > 1e-9 else float(norm(place - at))
    # the obtuse side leans the way the other tube runs back from the tube's own direction
    lean = tangent * (-1.0 if dot(tangent, back) > 0 else 1.0)
    frame = EndFrame(at, back, _square_to(back, lean), straight)

    def cut(radius: float) -> Array:
        return _all_round(vec(at), vec(back), vec(frame.zero), straight, radius, line, od)

    far = float(off[0]) - od / 2
    return _coped(plan, end, onto, frame, cut, (angle, offset), far, say)


def cope_onto_plate(plan: TubePlan, end: End, plate: Plate, say: Say) -> Cope:
    """Cope a tube's end onto a plate."""
    at, back, straight = _end_of(plan, end)
    upright = unit(np.array(plate.normal, dtype=float))
    angle = float(np.degrees(np.arcsin(min(abs(float(dot(back, upright))), 1.0))))
    toward = upright * (1.0 if dot(back, upright) > 0 else -1.0)
    frame = EndFrame(at, back, _square_to(back, -toward), straight)

    def cut(radius: float) -> Array:
        return onto_plate(frame, radius, ROUND, plate.at, plate.normal)

    far = abs(float(dot(at - np.array(plate.at), upright)))
    return _coped(plan, end, "plate", frame, cut, (angle, 0.0), far, say)


@lru_cache(maxsize=256)
def _all_round(
    at: Vec3, back: Vec3, zero: Vec3, straight: float, radius: float, line: Centreline, od: float
) -> Array:
    """Cut one layer of the wall; kept, since most ends are as they were when a job is edited."""
    frame = EndFrame(np.array(at), np.array(back), np.array(zero), straight)
    depths = onto_tube(frame, radius, ROUND, line, od)
    depths.setflags(write=False)
    return depths


def _coped(
    plan: TubePlan,
    end: End,
    onto: str,
    frame: EndFrame,
    cut: Callable[[float], Array],
    met: tuple[float, float],
    far: float,
    say: Say,
) -> Cope:
    outer, inner = plan.setup.od / 2, plan.setup.od / 2 - plan.setup.wall
    outside = cut(outer)
    depths = np.array([cut(radius) for radius in np.linspace(inner, outer, THROUGH_WALL)])
    clear = depths.max(axis=0)
    known = np.nan_to_num(clear, nan=0.0)
    tip = float(known.min())
    points = frame.at + np.nan_to_num(outside)[:, None] * frame.back + outer * frame.ways(ROUND)
    weld = float(norm(np.roll(points, -1, axis=0) - points).sum())
    mark = next(one.mark for one in plan.cuts if one.end == end)
    saw = mark + tip if end == "A" else mark - tip
    problems = _problems(plan, end, onto, depths, frame.straight, far, say)
    short = 0.0 if problems else max(-saw, saw - plan.stock)
    if short > LEAST:
        what = f"the cope on its {end} end reaches {say(short)} beyond the stick"
        problems = (Finding("stop", plan.name, what, f"draw that end {say(short)} longer"),)
    return Cope(
        tube=plan.name,
        end=end,
        onto=onto,
        angle=met[0],
        offset=met[1],
        profile=_table(ROUND, outside),
        clear=_table(ROUND, clear),
        zero=(float(frame.zero[0]), float(frame.zero[1]), float(frame.zero[2])),
        from_bend=_from_bend(plan, end, frame.zero),
        line=_line(plan, end, frame.zero),
        tip=tip,
        saw=saw,
        weld=weld,
        short=short if short > LEAST else 0.0,
        problems=problems,
    )


def _problems(
    plan: TubePlan,
    end: End,
    onto: str,
    depths: Array,
    straight: float,
    far: float,
    say: Say,
) -> tuple[Finding, ...]:
    """Say why an end cannot be coped so; the first reason is enough."""

    def stop(what: str, mend: str) -> tuple[Finding, ...]:
        return (Finding("stop", plan.name, what, mend),)

    if far > OFF * plan.setup.od:
        what = f'its {end} end is drawn {say(far)} off "{onto}"'
        return stop(what, "move that end, or name the other one")
    if np.isnan(depths).any():
        what = f'its {end} end passes by "{onto}", runs off its end, or starts within it'
        return stop(what, "move the end nearer to its middle, or name the other end")
    deepest = float(depths.max())
    if deepest > straight:
        what = f"the cope on its {end} end runs {say(deepest - straight)} past its straight there"
        return stop(what, "give it a longer straight at that end")
    return ()


def _table(degrees: Array, values: Array) -> tuple[tuple[float, float], ...]:
    every = slice(None, None, STEP // FINE)
    return tuple(zip(degrees[every].tolist(), values[every].tolist(), strict=True))


def _end_of(plan: TubePlan, end: End) -> tuple[Array, Array, float]:
    """Where an end is drawn, the way back into the tube, and how long it is straight there."""
    way = walk(plan.shape)
    if end == "A":
        return way.nodes[0], way.directions[0], plan.shape.legs[0]
    return way.nodes[-1], -way.directions[-1], plan.shape.legs[-1]


def _square_to(back: Array, lean: Array) -> Array:
    """Give the part of a direction that is square to the tube; any, when there is none."""
    across = lean - dot(lean, back) * back
    return unit(across) if norm(across) > 1e-6 else any_perpendicular(back)


def _from_bend(plan: TubePlan, end: End, zero: Array) -> float | None:
    if not plan.shape.angles:
        return None
    way = walk(plan.shape)
    i, axis = (0, way.axes[0]) if end == "A" else (-1, way.axes[-1])
    along = way.directions[i]
    inside = cross(axis, along)
    return float(np.degrees(np.arctan2(dot(cross(inside, zero), along), dot(inside, zero))) % 360)


def _line(plan: TubePlan, end: End, zero: Array) -> float:
    """Give the degrees, as the end's own angles run, from its 0 to the line along the stick."""
    way = walk(plan.shape)
    if plan.bends:
        first = plan.bends[0]
        off = TOP_FROM_INSIDE[plan.setup.swing] * (1 if first.lead == "B" else -1)
        # both from the inside of bend 1, right-handed about the way from A to B
        top = math.fsum(plan.shape.rotations[: first.n]) + off
        here = _from_bend(plan, end, zero) or 0.0
        if end == "B":
            here += math.fsum(plan.shape.rotations)
    else:
        along, top = way.directions[0], 0.0
        some = any_perpendicular(along)
        here = float(np.degrees(np.arctan2(dot(cross(some, zero), along), dot(some, zero))))
    return (top - here if end == "A" else here - top) % 360
