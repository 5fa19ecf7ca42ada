"""Packs to print in tests: a made-up job with known numbers, and jobs drawn by lot."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soapstone.check.inspect.choosing import check_distances
from soapstone.findings import Finding
from soapstone.fit.clearance import KeepOut, clearances
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import corners
from soapstone.geometry.measure import bounds
from soapstone.geometry.moves import mirror
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Rod,
    Solid,
    box_mesh,
)
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, unit
from soapstone.plan.model import TubePlan
from soapstone.plan.order import Order, Turn, in_turn
from soapstone.plan.tubes import plan_tubes
from soapstone.quantities import Tape, parse_tape
from soapstone.shape.model import Shape
from soapstone.sheets.contents import PackContents, Surroundings
from tests.setups import setup

TAPES = {"mm": ("1 mm", "0.5 mm"), "in": ("1/16 in", "1/32 in")}


def line(legs, angles, rotations, clr, start=(0.0, 0.0, 0.0)) -> Centreline:
    """A centreline that sets off upward and turns first toward x."""
    radii = (clr,) * len(angles)
    up = (1.0, 0.0, 0.0)
    return Centreline(
        start, (0.0, 0.0, 1.0), up, tuple(legs), tuple(angles), tuple(rotations), radii
    )


def planned(shapes: Sequence[Shape], with_setup, lead="A") -> tuple[TubePlan, ...]:
    orders = [in_turn(len(shape.line.angles), lead) for shape in shapes]
    return in_order(shapes, with_setup, orders)


def in_order(shapes: Sequence[Shape], with_setup, orders) -> tuple[TubePlan, ...]:
    plans = plan_tubes(shapes, [with_setup] * len(shapes), orders=orders)
    assert all(isinstance(plan, TubePlan) for plan in plans)
    return tuple(plans)


def named(name: str, shape: Centreline, of: str = "") -> Shape:
    return Shape(name, shape, corners(shape), of)


def contents(tubes, **changes) -> PackContents:
    """A pack of these tubes with quiet words around them."""
    base = PackContents(
        job="Invented rail",
        units="mm",
        tape=parse_tape("1 mm"),
        dial_step=0.5,
        paper="A4",
        bender="floor bender",
        tubes=tuple(tubes),
        date="12 March",
        distances={tube.name: check_distances(tube) for tube in tubes},
    )
    return replace(base, **changes)


def turns(order: str) -> Order:
    """An order written short: "2A 1B"."""
    return tuple(Turn(int(bend[:-1]), bend[-1]) for bend in order.split())


def pair(order: str = "1A 2A 3A", **changes) -> tuple[TubePlan, ...]:
    """A leg with three bends and its mirror image, planned."""
    with_setup = setup(springback=0.02, stroke=45.0, **changes)
    free = with_setup.clr * 1.02
    leg = line([300, 220, 250, 180], [80, 35, 60], [0, 90, -40], free, start=(0.0, 400.0, 0.0))
    other = mirror(leg, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    shapes = [named("port leg", leg), named("starboard leg", other, "port leg")]
    return in_order(shapes, with_setup, [turns(order)] * 2)


def drawn_by_lot(seed: int, tubes: int = 4) -> PackContents:
    """A job with tubes, units, paper and bender drawn by lot."""
    rng = np.random.default_rng(seed)
    units = str(rng.choice(["mm", "in"]))
    tape: Tape = parse_tape(str(rng.choice(TAPES[units])))
    od = float(rng.choice([9.5, 19.05, 25.4, 38.1, 60.3, 101.6]))
    clr = od * float(rng.uniform(2.2, 5.0))
    plane, swing = str(rng.choice(["horizontal left", "horizontal right", "vertical up"])).split()
    bent_with = setup(
        springback=float(rng.uniform(0.0, 0.05)),
        dial_zero=float(rng.choice([0.0, -3.0, 2.5])),
        od=od,
        die_od=od,
        clr=clr,
        wall=od * 0.05,
        clamp=od * 1.5,
        follower=od * 2.5,
        mark_offset=float(rng.choice([0.0, 12.0])),
        stroke=float(rng.choice([0.0, 45.0, 30.0])),
        plane=plane,
        swing=swing,
        tape=tape,
        tubing=f"304 {od:g} x {od * 0.05:.2f}",
        die=f"{od:g} on {clr:.0f}",
    )
    shapes: list[Shape] = []
    while len(shapes) < tubes:
        shapes += _tube_by_lot(rng, len(shapes), bent_with.clr_free, od)
    plans = in_order(shapes[:tubes], bent_with, _orders_by_lot(rng, shapes[:tubes]))
    stop = Finding("stop", plans[0].name, "leg 2 is 12 mm too short for the clamp", "lengthen it")
    return contents(
        plans,
        units=units,
        tape=tape,
        dial_step=float(rng.choice([0.1, 0.5, 1.0])),
        paper=str(rng.choice(["A4", "Letter"])),
        findings=(stop,) if rng.random() < 0.3 else (),
        calibrations={
            plan.name: "The dial is known to ±0.4° from 5 trial bends." for plan in plans
        },
        note="All data are invented." if rng.random() < 0.5 else "",
    )


def _orders_by_lot(rng: np.random.Generator, shapes: Sequence[Shape]) -> list[Order]:
    """In turn from either end or in no order at all; a mirror image goes by its tube."""
    orders: dict[str, Order] = {}
    for shape in shapes:
        count = len(shape.line.angles)
        way = str(rng.choice(["A", "B", "mixed"]))
        order = in_turn(count, way)
        if way == "mixed":
            leads = rng.choice(["A", "B"], count)
            numbers = rng.permutation(count) + 1
            order = tuple(Turn(int(n), str(end)) for n, end in zip(numbers, leads, strict=True))
        orders[shape.name] = orders.get(shape.of, order)
    return [orders[shape.name] for shape in shapes]


def _tube_by_lot(rng: np.random.Generator, number: int, clr: float, od: float) -> list[Shape]:
    bends = int(rng.integers(0, 8))
    angles = [float(a) for a in rng.uniform(5, 150, bends)]
    turns = [0.0, *(float(rng.choice([0, 90, 180, -90, rng.uniform(-179, 179)])) for _ in angles)]
    legs = [float(leg) for leg in rng.uniform(4 * od, 12 * od + 300, bends + 1)]
    if rng.random() < 0.4:
        legs[0] = od * 0.5  # too short for the clamp: grip that is cut off
    if rng.random() < 0.4:
        legs[-1] = od * 0.5
    start = (0.0, 150.0 * number + 80.0, 0.0)
    shape = line(legs, angles, turns[:bends], clr, start)
    name = f"tube {number + 1}"
    if rng.random() < 0.5:
        return [named(name, shape)]
    image = mirror(shape, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    return [named(name, shape), named(f"{name} the other hand", image, name)]


def length_text(value: float, contents_: PackContents) -> str:
    """A length as it should stand on the page, worked out here from the tape alone."""
    step = contents_.tape.step_mm
    count = math.floor(value / step + 0.5)
    if contents_.units == "mm":
        return f"{count * step:g}"
    per_inch = round(25.4 / step)
    whole, rest = divmod(count, per_inch)
    divisor = math.gcd(rest, per_inch)
    part = f"{rest // divisor}/{per_inch // divisor}"
    return str(whole) if not rest else f"{whole} {part}" if whole else part


def surrounded(pack: PackContents, seed: int, names: Sequence[str] = ()) -> PackContents:
    """The same pack with keep-outs of all kinds drawn by lot about its tubes, truly checked."""
    rng = np.random.default_rng(seed)
    boxes = np.array([bounds(tube.shape, tube.setup.od) for tube in pack.tubes])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    count = len(names) or int(rng.integers(1, 9))
    keepouts = tuple(
        _keepout_by_lot(rng, names[i] if names else f"thing {i + 1}", low, high)
        for i in range(count)
    )
    gaps = {
        tube.name: clearances(tube.shape, tube.setup.od, keepouts, tolerance=0.5)
        for tube in pack.tubes
    }
    return replace(pack, surroundings=Surroundings(keepouts, gaps))


def _keepout_by_lot(rng: np.random.Generator, name: str, low: Array, high: Array) -> KeepOut:
    size = float((high - low).max())

    def place() -> Vec3:
        return vec(rng.uniform(low - 0.3 * size, high + 0.3 * size))

    direction = vec(unit(rng.normal(size=3)))
    box = Box(place(), vec(rng.uniform(0.02, 0.3, 3) * size), vec(rng.uniform(-90, 90, 3)))
    way = Centreline(place(), direction, vec(any_perpendicular(np.array(direction))), (size,))
    solids: list[Solid] = [
        box,
        box_mesh(box),
        Cylinder(place(), place(), 0.1 * size),
        Ball(place(), 0.2 * size),
        HalfSpace(place(), direction),
        HalfSpace(vec(low - 10.0), (0.0, 0.0, 1.0)),
        Rod(way, 0.03 * size),
    ]
    hinges = tuple(
        Hinge(
            place(),
            (0.0, 1.0, 0.0) if rng.random() < 0.5 else vec(rng.normal(size=3)),
            float(rng.choice([0.0, -30.0])),
            float(rng.uniform(5, 90)),
        )
        for _ in range(int(rng.choice([0, 0, 1, 1, 2])))
    )
    solid = solids[int(rng.integers(len(solids)))]
    return KeepOut(name, solid, float(rng.choice([0.0, 10.0, 40.0])), hinges)
