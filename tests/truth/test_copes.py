"""Copes against the closed form for two cylinders, a published flat cut, and a CAD kernel.

The closed form (two cylinders, descriptive geometry) is derived in any text on pipe fitting:
s = (sqrt(R2 - (e + r sin p)2) - r cos p cos a) / sin a, p from the obtuse side.
"""

import numpy as np
import pytest

from soapstone.check.cope.profile import EndFrame, onto_plate, onto_tube
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import unit

ANGLES = np.arange(0.0, 360.0, 45.0)


def crossing(radius, angle, offset):
    """A branch along +y-ish at an angle to a main tube along x, its axis passing `offset` by."""
    main = Centreline((-400.0, 0.0, 0.0), (1, 0, 0), (0, 1, 0), (800.0,))
    turned = np.radians(angle)
    back = np.array([np.cos(turned), np.sin(turned), 0.0])
    # the obtuse side leans back along the main tube, away from the branch's own lean
    zero = np.array([-np.sin(turned), np.cos(turned), 0.0])
    zero = zero if zero[0] < 0 or angle == 90 else -zero
    if angle == 90:
        zero = np.array([-1.0, 0.0, 0.0])
    return main, EndFrame(np.array([0.0, 0.0, offset]), back, zero, 300.0)


@pytest.mark.parametrize(
    ("r", "main", "angle", "offset", "wanted"),
    [
        # rows of a table reckoned from the closed form, 0 to 270 degrees by 45
        (19.05, 25.4, 90, 0, (25.4, 21.534, 16.801, 21.534, 25.4, 21.534, 16.801)),
        (19.05, 19.05, 90, 0, (19.05, 13.470, 0, 13.470, 19.05, 13.470, 0)),
        (19.05, 25.4, 45, 0, (16.871, 16.983, 23.760, 43.924, 54.971, 43.924, 23.760)),
        (16.942, 25.4, 90, 0, (25.4, 22.397, 18.924, 22.397, 25.4, 22.397, 18.924)),
    ],
)
def test_two_cylinders(r, main, angle, offset, wanted):
    line, end = crossing(r, angle, offset)
    found = onto_tube(end, r, ANGLES[:7], line, 2 * main)
    assert found == pytest.approx(wanted, abs=1.1e-3)


def test_an_offset_branch_is_cut_one_sided():
    line, end = crossing(19.05, 90, 5.0)
    found = onto_tube(end, 19.05, ANGLES[:7], line, 2 * 25.4)
    wanted = np.array([24.903, 17.436, 8.171, 17.436, 24.903, 23.946, 21.160])
    mirrored = wanted[[0, 5, 6, 5, 0, 1, 2]]
    assert np.allclose(found, wanted, atol=1.1e-3) or np.allclose(found, mirrored, atol=1.1e-3)


def test_a_flat_cut_unwraps_to_a_wave():
    # 200 mm pipe cut at 45 degrees: y = 100 cos(x / 100), mathcentral.uregina.ca
    back = unit(np.array([1.0, 0.0, 1.0]))
    end = EndFrame(np.zeros(3), back, unit(np.array([1.0, 0.0, -1.0])), 500.0)
    degrees = np.arange(0.0, 360.0, 10.0)
    found = onto_plate(end, 100.0, degrees, (0, 0, 0), (0, 0, 1))
    assert found == pytest.approx(100 * np.cos(np.radians(degrees)), abs=1e-9)


def random_pair(seed):
    rng = np.random.default_rng(seed)
    od, clr = rng.uniform(25, 60), rng.uniform(110, 200)
    main = Centreline(
        (0, 0, 0),
        (1, 0, 0),
        (0, 1, 0),
        (150.0, float(rng.uniform(60, 150)), 150.0),
        (float(rng.uniform(40, 110)), float(rng.uniform(40, 110))),
        (0.0, float(rng.uniform(-180, 180))),
        (clr, clr),
    )
    way = walk(main)
    bend = int(rng.integers(2))
    turned = np.radians(main.angles[bend]) * rng.uniform(0.3, 0.7)
    spoke = way.nodes[2 * bend + 1] - way.centres[bend]
    across = np.cross(way.axes[bend], spoke)
    place = way.centres[bend] + np.cos(turned) * spoke + np.sin(turned) * across
    tangent = unit(np.cos(turned) * across - np.sin(turned) * spoke)
    out = unit(np.cos(turned) * spoke + np.sin(turned) * across)
    up = np.cross(tangent, out)
    phi = rng.uniform(-1.9, 1.9)  # not from within the bend, where its other leg is in the way
    back = np.cos(phi) * out + np.sin(phi) * up + 0.5 * rng.normal() * tangent
    back = unit(back)
    side = unit(np.cross(back, tangent))
    r = od / 2 * rng.uniform(0.3, 0.85)
    shift = rng.uniform(-1, 1) * (od / 2 - r) * 0.8 * side
    end = EndFrame(place + shift, back, unit(np.cross(side, back)), 260.0)
    return main, end, od, r


@pytest.mark.parametrize("seed", range(12))
def test_onto_bends_as_a_cad_kernel_has_it(seed):
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeTorus
    from OCP.gp import gp_Ax2, gp_Dir, gp_Lin, gp_Pnt
    from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector

    main, end, od, r = random_pair(seed)
    way = walk(main)

    def point(a):
        return gp_Pnt(*map(float, a))

    def direction(a):
        return gp_Dir(*map(float, a))

    solids = [
        BRepPrimAPI_MakeCylinder(
            gp_Ax2(point(way.nodes[2 * i]), direction(way.directions[i])), od / 2, leg
        ).Shape()
        for i, leg in enumerate(main.legs)
    ]
    for i, angle in enumerate(main.angles):
        spoke = way.nodes[2 * i + 1] - way.centres[i]
        axes = gp_Ax2(point(way.centres[i]), direction(way.axes[i]), direction(spoke))
        solids.append(
            BRepPrimAPI_MakeTorus(axes, main.radii[i], od / 2, float(np.radians(angle))).Shape()
        )
    degrees = np.arange(0.0, 360.0, 15.0)
    found = onto_tube(end, r, degrees, main, od)
    starts = end.at + end.straight * end.back + r * end.ways(degrees)
    compared = 0
    for start, ours in zip(starts, found, strict=True):
        ray = gp_Lin(point(start), direction(-end.back))
        first = np.inf
        for solid in solids:
            look = IntCurvesFace_ShapeIntersector()
            look.Load(solid, 1e-7)
            look.Perform(ray, 0.0, 1000.0)
            hits = [look.WParameter(k + 1) for k in range(look.NbPnt())]
            first = min(first, *hits) if hits else first
        if np.isfinite(first):
            compared += 1
            assert ours == pytest.approx(end.straight - first, abs=0.02)
        else:
            assert np.isnan(ours)
    assert compared > 12
