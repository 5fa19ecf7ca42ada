"""What must hold of any gap: neither where the origin is nor which end is A changes it."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.fit.clearance import Clearance, KeepOut, clearances
from soapstone.fit.motion import Hinge
from soapstone.fit.self_clearance import self_clearance
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.distance import TOLERANCE
from soapstone.geometry.measure import length
from soapstone.geometry.moves import move, reverse
from soapstone.geometry.solids import Ball, Cylinder, HalfSpace, Mesh, Rod, Solid
from soapstone.geometry.vectors import Array, Vec3, turn, unit
from tests.truth.random_keepouts import random_hinges, random_line, random_solid

OD = 30.0
KINDS = ("cylinder", "ball", "halfspace", "rod", "closed mesh", "open mesh")

seeds = st.integers(0, 10_000)
moves = st.tuples(
    st.tuples(*[st.floats(-2000, 2000)] * 3),
    st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda a: sum(x * x for x in a) > 0.1),
    st.floats(-180, 180),
)


def case(seed: int) -> tuple[Centreline, KeepOut]:
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    return random_line(rng), KeepOut(
        kind, random_solid(rng, kind), 5.0, random_hinges(rng, seed // len(KINDS) % 2)
    )


def gap(line: Centreline, keepout: KeepOut) -> Clearance:
    return clearances(line, OD, [keepout])[0]


def moved_points(points: Array, by: Vec3, axis: Vec3, angle: float) -> Array:
    turned = turn(points, unit(np.array(axis)), np.radians(np.float64(angle)))
    return turned + np.array(by)


def moved_keepout(keepout: KeepOut, by: Vec3, axis: Vec3, angle: float) -> KeepOut:
    def point(p: Vec3) -> Vec3:
        return vec(moved_points(np.array(p), by, axis, angle))

    def way(v: Vec3) -> Vec3:
        return vec(moved_points(np.array(v), (0.0, 0.0, 0.0), axis, angle))

    hinges = [Hinge(point(h.through), way(h.along), h.start, h.stop) for h in keepout.hinges]
    solid: Solid = keepout.solid
    match solid:
        case Cylinder():
            solid = Cylinder(point(solid.start), point(solid.end), solid.diameter)
        case Ball():
            solid = Ball(point(solid.at), solid.diameter)
        case HalfSpace():
            solid = HalfSpace(point(solid.at), way(solid.normal))
        case Rod():
            solid = Rod(move(solid.line, by, axis, angle), solid.diameter)
        case Mesh():
            corners = moved_points(solid.triangles().reshape(-1, 3), by, axis, angle)
            solid = Mesh(corners, np.arange(len(corners)).reshape(-1, 3))
    return KeepOut(keepout.name, solid, keepout.gap, tuple(hinges))


@settings(max_examples=60, deadline=None)
@given(seeds, moves)
def test_moving_everything_changes_no_gap(seed: int, moved: tuple[Vec3, Vec3, float]) -> None:
    line, keepout = case(seed)
    here, there = gap(line, keepout), gap(move(line, *moved), moved_keepout(keepout, *moved))
    assert abs(here.gap - there.gap) < 1.5 * TOLERANCE
    np.testing.assert_allclose(
        np.linalg.norm(np.subtract(there.nearest, there.point)), abs(there.high + OD / 2), atol=0.01
    )


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_travelled_from_its_b_end_a_tube_has_the_same_gap(seed: int) -> None:
    line, keepout = case(seed)
    here, there = gap(line, keepout), gap(reverse(line), keepout)
    assert abs(here.gap - there.gap) < 1.5 * TOLERANCE
    assert 0 <= there.along <= length(line) + 1e-9


@settings(max_examples=60, deadline=None)
@given(seeds, st.floats(0.1, 40.0))
def test_a_thicker_tube_is_nearer_by_what_its_radius_gains(seed: int, more: float) -> None:
    line, keepout = case(seed)
    thick = clearances(line, OD + 2 * more, [keepout])[0]
    assert abs(gap(line, keepout).gap - more - thick.gap) < 1.5 * TOLERANCE


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_a_hinge_that_stands_still_changes_nothing(seed: int) -> None:
    line, keepout = case(seed)
    still = KeepOut("it", keepout.solid, 5.0, (Hinge((9.0, 8.0, 7.0), (1.0, 2.0, 3.0), 0.0, 0.0),))
    free = KeepOut("it", keepout.solid, 5.0)
    assert abs(gap(line, still).gap - gap(line, free).gap) < 1.5 * TOLERANCE


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_a_tube_reversed_is_as_near_to_itself(seed: int) -> None:
    line = random_line(np.random.default_rng(seed))
    here, there = self_clearance(line, OD), self_clearance(reverse(line), OD)
    assert (here is None) == (there is None)
    if here is not None and there is not None:
        assert abs(here.gap - there.gap) < 1.5 * TOLERANCE
