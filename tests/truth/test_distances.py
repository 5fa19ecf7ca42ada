"""Gaps agree with a CAD kernel, and the certificate with gaps found by dense sampling.

Outside source: Open CASCADE's BRepExtrema (the general-purpose geometry kernel in
cadquery-ocp-novtk) between a wire of lines and circular arcs and a box, cylinder, ball or a second
wire. It finds least distances of things that stand; what it knows of a swing is asked at single
angles. The sampling is in `gaps`, in numpy, from the definition of each solid.
"""

import numpy as np
import pytest

from soapstone.fit.clearance import KeepOut, clearances, least_gap
from soapstone.fit.motion import swung
from soapstone.geometry.distance import (
    field_of,
    least_distance,
    line_pieces,
    pack,
)
from soapstone.geometry.solids import Ball, Box, Cylinder, Rod, Solid
from tests.truth.gaps import gap_at, rotation, sampled_gap, solid_distance
from tests.truth.random_keepouts import (
    KINDS,
    random_case,
    random_hinges,
    random_line,
    random_solid,
    round_about,
)
from tests.truth.test_cad_kernel import wire

ABOVE, BELOW = 0.02, 0.05
"""mm that the certificate may be above, and below, the gap found by sampling."""

COARSE = ((121,), (81, 31), (41, 11, 11))
"""Points of the sampling grid; the place that the certificate names is looked at besides."""

KERNEL = 1e-5
"""mm: the kernel's own tolerance is 1e-7; its extrema on arcs are found by iteration."""


def kernel_shape(solid: Solid):
    from OCP.BRepPrimAPI import (
        BRepPrimAPI_MakeBox,
        BRepPrimAPI_MakeCylinder,
        BRepPrimAPI_MakeSphere,
    )
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    match solid:
        case Box():
            rx, ry, rz = np.radians(solid.turn)
            turned = rotation([0, 0, 1], rz) @ rotation([0, 1, 0], ry) @ rotation([1, 0, 0], rx)
            corner = np.array(solid.at) - turned @ np.array(solid.size) / 2
            frame = gp_Ax2(gp_Pnt(*corner), gp_Dir(*turned[:, 2]), gp_Dir(*turned[:, 0]))
            return BRepPrimAPI_MakeBox(frame, *solid.size).Shape()
        case Cylinder():
            axis = np.subtract(solid.end, solid.start)
            frame = gp_Ax2(gp_Pnt(*solid.start), gp_Dir(*axis))
            length = float(np.linalg.norm(axis))
            return BRepPrimAPI_MakeCylinder(frame, solid.diameter / 2, length).Shape()
        case Ball():
            return BRepPrimAPI_MakeSphere(gp_Pnt(*solid.at), solid.diameter / 2).Shape()
        case Rod():
            return wire(solid.line)


def kernel_distance(a, b) -> float:
    from OCP.BRepExtrema import BRepExtrema_DistShapeShape

    found = BRepExtrema_DistShapeShape(a, b)
    assert found.IsDone()
    return found.Value()


@pytest.mark.parametrize("kind", ["box", "cylinder", "ball", "rod"])
def test_standing_gaps_agree_with_the_kernel(kind: str) -> None:
    rng, clear = np.random.default_rng(3), 0
    for _ in range(60):
        line, solid = random_line(rng), random_solid(rng, kind)
        thick = solid.diameter / 2 if isinstance(solid, Rod) else 0.0
        expected = kernel_distance(wire(line), kernel_shape(solid))
        found = least_distance(line_pieces(line), pack(solid))
        if expected == 0:  # to the kernel all that touches or overlaps is 0 apart
            assert found.low <= 0
            continue
        clear += 1
        assert found.low - KERNEL <= expected - thick <= found.high + KERNEL
        assert found.high - found.low < 0.02
    assert clear > 30


def test_swinging_gaps_agree_with_the_kernel_at_single_angles() -> None:
    """The tube is turned back into the drawn solid's frame, so the kernel's solid stands still."""
    rng = np.random.default_rng(11)
    for i in range(24):
        line, solid = random_line(rng), random_solid(rng, ("box", "cylinder")[i % 2])
        hinges = random_hinges(rng, 1 + i % 2)
        found = clearances(line, 0.0, [KeepOut("it", solid, 5.0, hinges)])[0]
        angles = [
            found.angles,
            *(tuple(rng.uniform(h.start, h.stop) for h in hinges) for _ in "abc"),
        ]
        seen = [kernel_at(line, solid, hinges, one) for one in angles]
        assert found.gap < min(seen) + KERNEL
        if found.gap > 0:
            assert seen[0] == pytest.approx(found.high, abs=KERNEL)


def kernel_at(line, solid, hinges, angles) -> float:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Trsf

    origin = swung(np.zeros(3), hinges, angles)
    m = (swung(np.eye(3), hinges, angles) - origin).T
    move = gp_Trsf()
    move.SetValues(*(value for row, o in zip(m, origin, strict=True) for value in (*row, o)))
    swung_shape = BRepBuilderAPI_Transform(kernel_shape(solid), move, True).Shape()
    return kernel_distance(wire(line), swung_shape)


@pytest.mark.parametrize("block", range(8))
def test_the_certificate_holds_against_dense_sampling(block: int) -> None:
    """Every kind of solid, standing and swinging; benchmarks/bench_clearance.py tries 1,000."""
    for seed in range(21 * block, 21 * block + 21):
        line, od, keepout = random_case(seed)
        found = least_gap(line, od, [keepout])
        assert found is not None
        sampled = sampled_gap(line, od, keepout, rounds=3, places=6, grid=COARSE)
        there = gap_at(line, od, keepout, found.along, found.angles)
        assert found.high == pytest.approx(there, abs=0.005), seed
        assert found.gap <= min(sampled, there) + ABOVE, seed
        assert found.gap >= min(sampled, there) - BELOW, seed


@pytest.mark.parametrize("seed", range(8))
def test_the_certificate_holds_inside_a_mesh_that_goes_all_round(seed: int) -> None:
    """Where walls are equally far on all sides, which is where a depth is hardest to bound."""
    line, od, keepout = round_about(seed, 120, 1)
    found = least_gap(line, od, [keepout])
    assert found is not None
    sampled = sampled_gap(line, od, keepout, rounds=3, places=4, grid=((61,), (41, 9)))
    there = gap_at(line, od, keepout, found.along, found.angles)
    assert found.high == pytest.approx(there, abs=0.005)
    assert found.gap <= min(sampled, there) + ABOVE
    assert found.gap >= min(sampled, there) - BELOW


@pytest.mark.parametrize("kind", KINDS)
def test_distances_of_many_points_and_their_gradients(kind: str) -> None:
    from soapstone.geometry.distance_field import field_distances

    rng = np.random.default_rng(2)
    solids = [random_solid(rng, kind) for _ in range(4)]
    still = np.tile(np.concatenate([np.eye(3).ravel(), np.zeros(3)]), (1, 1))
    field = field_of([pack(solid) for solid in solids], [still] * 4, [np.empty((1, 0))] * 4)
    points = rng.uniform(-700, 700, (80, 3))
    expected = np.stack([solid_distance(points, s, kind != "open mesh") for s in solids], axis=1)
    distances, gradients, _ = field_distances(field, points, np.inf)
    np.testing.assert_allclose(distances, expected, atol=0.003)
    for axis in range(3):
        ahead = points + 1e-4 * np.eye(3)[axis]
        slope = (field_distances(field, ahead, np.inf)[0] - distances) / 1e-4
        # on a ridge, where two surface points are equally near, there is no one slope
        assert np.mean(np.abs(slope - gradients[..., axis]) < 1e-2) > 0.98
