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
from soapstone.plan.order import Order, Turn, changes_lead, check_order, in_turn
from soapstone.plan.review import review
from soapstone.plan.rolls import Levels, Stick, levels, rolls
from soapstone.plan.seam import SeamPlace, place_seam
from soapstone.plan.stock import StickLayout, lay_out, round_down_to, round_to, straights
from soapstone.shape.model import Shape

LEVEL_ENOUGH = 0.05
"""Degrees: a straight that slopes less than this reads level, whichever end is the higher."""


def plan_tubes(
    shapes: Sequence[Shape],
    setups: Sequence[Setup],
    say: Say = say_mm,
    orders: Sequence[Order | None] | None = None,
) -> list[TubePlan | Unplanned]:
    """Plan every shape with the setup beside it; results come in the same order.

    `say` writes lengths in findings. `orders` has for each shape the order in which its bends are
    made and which end leads at each, or None for in turn from A, as all are when it is left out;
    a ValueError tells of one that is no order of the shape's bends. A shape without a centreline
    gives an `Unplanned`.
    """
    groups: dict[tuple[int, Order], list[int]] = defaultdict(list)
    results: dict[int, TubePlan | Unplanned] = {}
    wanted = [None] * len(shapes) if orders is None else orders
    for i, (shape, setup, order) in enumerate(zip(shapes, setups, wanted, strict=True)):
        if shape.line is None:
            results[i] = Unplanned(shape.name, shape.points, shape.findings, shape.of)
        else:
            count = len(shape.line.angles)
            if order is not None:
                check_order(order, count)
            groups[id(setup), in_turn(count) if order is None else order].append(i)
    for (_, order), members in groups.items():
        group = [shapes[i] for i in members]
        plans = _plan_group(group, setups[members[0]], say, order)
        results.update(zip(members, plans, strict=True))
    return [results[i] for i in range(len(shapes))]


@dataclass(frozen=True, slots=True)
class _Group:
    """The arrays of tubes planned together; bends in order A to B."""

    setup: Setup
    order: Order
    along: Array
    up: Array
    legs: Array
    angles: Array
    rotations: Array
    radii: Array
    loaded: Array
    layout: StickLayout
    way: Walk


def _plan_group(group: Sequence[Shape], setup: Setup, say: Say, order: Order) -> list[TubePlan]:
    arrays = _arrays(group, setup, order)
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


def _arrays(group: Sequence[Shape], setup: Setup, order: Order) -> _Group:
    lines = [_line(shape) for shape in group]

    def column(name: str) -> Array:
        return np.array([getattr(line, name) for line in lines], dtype=float)

    legs, angles = column("legs"), column("angles")
    rotations, radii = column("rotations"), column("radii")
    loaded = setup.calibration.loaded(angles)
    along, up = column("along"), column("up")
    way = walk_arrays(column("start"), along, up, legs, angles, rotations, radii)
    layout = lay_out(legs, loaded, setup, order)
    return _Group(setup, order, along, up, legs, angles, rotations, radii, loaded, layout, way)


def _steps(group: _Group) -> list[tuple[BendStep, ...]]:
    """Bend steps of every tube of a group, in the order made."""
    setup, layout = group.setup, group.layout
    if not group.order:
        return [()] * len(group.angles)
    order = np.array([turn.n - 1 for turn in group.order])
    ahead, behind = straights(layout, group.order)
    angles = group.angles[:, order]
    dial = setup.calibration.dial(angles)
    low, high = setup.calibration.interval(angles)
    first = round_down_to(setup.calibration.first_stops(angles, setup.tolerance), setup.dial_step)
    columns = (
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
        rolls(group.rotations, group.order),
        group.radii[:, order],
        layout.arc_from[:, order],
        layout.arc_to[:, order],
        ahead,
        behind,
    )
    readings = _readings(_levels(group))
    changed = changes_lead(group.order)
    made = []
    for place, turn in enumerate(group.order):
        rows = zip(*(column[:, place].tolist() for column in columns), strict=True)
        made.append(
            [
                _step(turn, changed[place], level, setup, *row)
                for level, row in zip(readings[place], rows, strict=True)
            ]
        )
    return list(zip(*made, strict=True))


def _levels(group: _Group) -> Levels:
    layout = group.layout
    legs = group.legs.copy()
    legs[:, 0] += layout.cut_a
    legs[:, -1] += layout.stock - layout.cut_b
    arcs = layout.arc_to - layout.arc_from
    stick = Stick(group.along, group.up, group.angles, group.rotations, legs, arcs)
    return levels(stick, group.setup, group.order)


def _step(
    turn: Turn,
    end_for_end: bool,
    level: LevelReading | None,
    setup: Setup,
    mark: float,
    on_tape: float,
    leg: float,
    rotation: float,
    angle: float,
    loaded: float,
    dial: float,
    low: float,
    high: float,
    stop: float,
    first: float,
    roll: float,
    clr_free: float,
    arc_from: float,
    arc_to: float,
    ahead: float,
    behind: float,
) -> BendStep:
    return BendStep(
        n=turn.n,
        lead=turn.lead,
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
        clr_free=clr_free,
        arc_from=arc_from,
        arc_to=arc_to,
        ahead=ahead,
        behind=behind,
        end_for_end=end_for_end,
    )


def strokes(loaded: float, setup: Setup) -> tuple[float, ...]:
    """Dial readings at which the ram is re-pinned on the way to a loaded angle."""
    if setup.stroke <= 0:
        return ()
    pins = int(np.ceil(loaded / setup.stroke - 1e-9))
    zero = setup.calibration.dial_zero
    return tuple(k * setup.stroke + zero for k in range(1, pins))


def _readings(made: Levels) -> list[list[LevelReading | None]]:
    """Readings by place in the order made, then by tube."""

    def reading(leg: int, slope: float, sharpness: float) -> LevelReading | None:
        if leg < 0:
            return None
        rises = "" if abs(slope) < LEVEL_ENOUGH else "B" if slope > 0 else "A"
        return LevelReading(leg + 1, abs(slope), rises, sharpness)

    columns = (made.leg.astype(int).T, made.slope.T, made.sharpness.T)
    return [
        [reading(*values) for values in zip(*(row.tolist() for row in rows), strict=True)]
        for rows in zip(*columns, strict=True)
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
    place: SeamPlace = place_seam(group.angles, group.rotations, group.setup, group.order)
    columns = (place.clock.tolist(), place.from_neutral.tolist(), (place.worst + 1).tolist())
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
