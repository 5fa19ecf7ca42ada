"""Plan tubes: from free shapes and their setups to marks, cuts, dial stops, rolls and levels.

Tubes of one setup and one number of bends are planned together on arrays, so that one tube and
ten thousand variants go the same way.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.findings import Say, say_mm
from soapstone.geometry.centreline import Centreline, Walk
from soapstone.geometry.chain import SPLIT_ABOVE, corners, tangent_length, walk_arrays
from soapstone.geometry.vectors import Array, Vec3
from soapstone.plan.model import BendStep, Cut, LevelReading, Seam, TubePlan, Unplanned
from soapstone.plan.review import review
from soapstone.plan.rolls import Levels, levels, rolls
from soapstone.plan.seam import SeamPlace, place_seam
from soapstone.plan.stock import StickLayout, lay_out, round_down_to, round_to
from soapstone.shape.model import Shape

LEVEL_ENOUGH = 0.05
"""Degrees: a straight that slopes less than this reads level, whichever end is the higher."""


def plan_tubes(
    shapes: Sequence[Shape], setups: Sequence[Setup], say: Say = say_mm, lead: str = "A"
) -> list[TubePlan | Unplanned]:
    """Plan every shape with the setup beside it; results come in the same order.

    `say` writes lengths in findings; `lead` is the end that goes through the die first, and bends
    are made from that end on. A shape without a centreline gives an `Unplanned`.
    """
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    results: dict[int, TubePlan | Unplanned] = {}
    for i, (shape, setup) in enumerate(zip(shapes, setups, strict=True)):
        if shape.line is None:
            results[i] = Unplanned(shape.name, shape.points, shape.findings, shape.of)
        else:
            groups[id(setup), len(shape.line.angles)].append(i)
    for members in groups.values():
        group = [shapes[i] for i in members]
        plans = _plan_group(group, setups[members[0]], say, lead)
        results.update(zip(members, plans, strict=True))
    return [results[i] for i in range(len(shapes))]


@dataclass(frozen=True, slots=True)
class _Group:
    """The arrays of tubes planned together; bends in order A to B."""

    setup: Setup
    lead: str
    legs: Array
    angles: Array
    rotations: Array
    radii: Array
    loaded: Array
    layout: StickLayout
    way: Walk


def _plan_group(group: Sequence[Shape], setup: Setup, say: Say, lead: str) -> list[TubePlan]:
    arrays = _arrays(group, setup, lead)
    steps = _steps(arrays)
    cuts = _cuts(arrays)
    seams = _seams(arrays)
    points = _points(group, arrays)
    arcs = arrays.radii * np.radians(arrays.angles)
    lengths = arrays.legs.sum(axis=-1) + arcs.sum(axis=-1)
    masses = lengths * setup.area * setup.density * 1e-9
    rows = zip(
        group,
        points,
        lengths.tolist(),
        arrays.layout.stock.tolist(),
        round_to(arrays.layout.stock, setup.tape.step_mm).tolist(),
        masses.tolist(),
        steps,
        cuts,
        seams,
        strict=True,
    )
    plans = []
    for shape, corner_points, length, stock, on_tape, mass, bends, cut, seam in rows:
        line = _line(shape)
        findings = (*shape.findings, *review(shape.name, line, bends, stock, setup, say))
        plans.append(
            TubePlan(
                name=shape.name,
                setup=setup,
                shape=line,
                points=corner_points,
                length=length,
                stock=stock,
                stock_tape=on_tape,
                mass=mass,
                bends=bends,
                cuts=cut,
                seam=seam,
                problems=findings,
                of=shape.of,
            )
        )
    return plans


def _arrays(group: Sequence[Shape], setup: Setup, lead: str) -> _Group:
    lines = [_line(shape) for shape in group]

    def column(name: str) -> Array:
        return np.array([getattr(line, name) for line in lines], dtype=float)

    legs, angles = column("legs"), column("angles")
    rotations, radii = column("rotations"), column("radii")
    loaded = setup.calibration.loaded(angles)
    placed = column("start"), column("along"), column("up")
    way = walk_arrays(*placed, legs, angles, rotations, radii)
    layout = lay_out(legs, loaded, setup, lead)
    return _Group(setup, lead, legs, angles, rotations, radii, loaded, layout, way)


def _steps(group: _Group) -> list[tuple[BendStep, ...]]:
    """Bend steps of every tube of a group, in the order made."""
    setup, lead, layout = group.setup, group.lead, group.layout
    tubes, count = group.angles.shape
    if count == 0:
        return [()] * tubes
    order = np.arange(count) if lead == "A" else np.arange(count)[::-1]
    straight = group.legs.copy()
    straight[:, 0] += layout.cut_a
    straight[:, -1] += layout.stock - layout.cut_b
    made = levels(group.way.directions, group.way.axes, straight, setup, lead)
    angles = group.angles[:, order]
    dial = setup.calibration.dial(angles)
    low, high = setup.calibration.interval(angles)
    first = round_down_to(setup.calibration.first_stops(angles, setup.tolerance), setup.dial_step)
    columns = (
        np.broadcast_to(order + 1, angles.shape),
        layout.marks[:, order],
        round_to(layout.marks[:, order], setup.tape.step_mm),
        group.legs[:, order],
        group.rotations[:, order],
        angles,
        group.loaded[:, order],
        dial,
        low,
        high,
        round_to(dial, setup.dial_step),
        first,
        rolls(group.rotations, lead),
        group.radii[:, order],
        layout.arc_from[:, order],
        layout.arc_to[:, order],
    )
    rows = zip(*(column.tolist() for column in columns), strict=True)
    readings = _readings(made)
    return [
        tuple(
            _step(values, level, setup, lead)
            for values, level in zip(zip(*row, strict=True), tube_levels, strict=True)
        )
        for row, tube_levels in zip(rows, readings, strict=True)
    ]


def _step(
    values: tuple[float, ...], level: LevelReading | None, setup: Setup, lead: str
) -> BendStep:
    n, mark, on_tape, leg, rotation, angle, loaded, dial, low, high, stop, first, roll = values[:13]
    return BendStep(
        n=int(n),
        lead=lead,
        mark=mark,
        stock_mark=on_tape,
        leg=leg,
        rotation=rotation,
        angle=angle,
        loaded=loaded,
        dial=dial,
        dial_low=low,
        dial_high=high,
        dial_stop=stop,
        first_stop=None if math.isnan(first) else max(first, 0.0),
        roll=roll,
        strokes=strokes(loaded, setup),
        level=level,
        clr_free=values[13],
        arc_from=values[14],
        arc_to=values[15],
    )


def strokes(loaded: float, setup: Setup) -> tuple[float, ...]:
    """Dial readings at which the ram is re-pinned on the way to a loaded angle."""
    if setup.stroke <= 0:
        return ()
    pins = int(np.ceil(loaded / setup.stroke - 1e-9))
    zero = setup.calibration.dial_zero
    return tuple(k * setup.stroke + zero for k in range(1, pins))


def _readings(made: Levels) -> list[list[LevelReading | None]]:
    def reading(leg: int, slope: float, sharpness: float) -> LevelReading | None:
        if leg < 0:
            return None
        rises = "" if abs(slope) < LEVEL_ENOUGH else "B" if slope > 0 else "A"
        return LevelReading(leg + 1, abs(slope), rises, sharpness)

    columns = (made.leg.astype(int).tolist(), made.slope.tolist(), made.sharpness.tolist())
    return [
        [reading(*values) for values in zip(*row, strict=True)]
        for row in zip(*columns, strict=True)
    ]


def _cuts(group: _Group) -> list[tuple[Cut, Cut]]:
    layout, tape = group.layout, group.setup.tape.step_mm
    columns = (
        layout.cut_a,
        round_to(layout.cut_a, tape),
        layout.cut_b,
        round_to(layout.cut_b, tape),
        layout.stock - layout.cut_b,
    )
    return [
        (Cut("A", a, a_tape, "B", a), Cut("B", b, b_tape, "A", rest))
        for a, a_tape, b, b_tape, rest in zip(*(c.tolist() for c in columns), strict=True)
    ]


def _seams(group: _Group) -> list[Seam | None]:
    tubes, count = group.angles.shape
    if not group.setup.seam or count == 0:
        return [None] * tubes
    made = group.angles if group.lead == "A" else group.angles[:, ::-1]
    place: SeamPlace = place_seam(made, rolls(group.rotations, group.lead), group.setup)
    worst = place.worst + 1 if group.lead == "A" else count - place.worst
    columns = (place.clock.tolist(), place.from_neutral.tolist(), worst.tolist())
    return [Seam(*values) for values in zip(*columns, strict=True)]


def _points(group: Sequence[Shape], arrays: _Group) -> list[tuple[Vec3, ...]]:
    """Corners of every tube: on arrays, save for tubes with a bend wider than a corner can show."""
    way, angles = arrays.way, arrays.angles
    reach = tangent_length(arrays.radii, np.minimum(angles, SPLIT_ABOVE))
    meets = way.nodes[:, 1:-1:2] + reach[..., None] * way.directions[:, :-1]
    points = np.concatenate((way.nodes[:, :1], meets, way.nodes[:, -1:]), axis=1)
    wide = np.any(angles > SPLIT_ABOVE, axis=-1)
    return [
        corners(_line(shape)) if split else tuple((x, y, z) for x, y, z in rows)
        for shape, rows, split in zip(
            group, points.tolist(), np.atleast_1d(wide).tolist(), strict=True
        )
    ]


def _line(shape: Shape) -> Centreline:
    if shape.line is None:
        raise ValueError("only shapes with a centreline have a plan")
    return shape.line
