"""Length, volume, centre of mass and box agree with a CAD kernel's solids.

Outside source: Open CASCADE (the general-purpose geometry kernel in cadquery-ocp-novtk). It sweeps
the ring section along a wire of lines and circular arcs and measures the solid; the arcs are given
to it by three points, so nothing but the nodes comes from the code under test.
"""

import math

import numpy as np
import pytest

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.measure import bounds, length, mass
from tests.truth.centrelines import random_centrelines

OD, WALL = 38.1, 1.65


def wire(line: Centreline):
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.GC import GC_MakeArcOfCircle, GC_MakeSegment
    from OCP.gp import gp_Pnt

    def point(at):
        return gp_Pnt(*map(float, at))

    nodes = walk(line).nodes
    maker = BRepBuilderAPI_MakeWire()
    for i in range(len(nodes) - 1):
        start, end = nodes[i], nodes[i + 1]
        if i % 2 == 0:
            curve = GC_MakeSegment(point(start), point(end)).Value()
        else:
            middle = arc_middle(line, i // 2)
            curve = GC_MakeArcOfCircle(point(start), point(middle), point(end)).Value()
        maker.Add(BRepBuilderAPI_MakeEdge(curve).Edge())
    assert maker.IsDone()
    return maker.Wire()


def arc_middle(line: Centreline, bend: int):
    """Half-way round an arc: the B end of the same tube cut off there."""
    cut = Centreline(
        line.start,
        line.along,
        line.up,
        (*line.legs[: bend + 1], 0.0),
        (*line.angles[:bend], line.angles[bend] / 2),
        line.rotations[: bend + 1],
        line.radii[: bend + 1],
    )
    return walk(cut).nodes[-1]


def solid(line: Centreline):
    from OCP.BRepBuilderAPI import (
        BRepBuilderAPI_MakeEdge,
        BRepBuilderAPI_MakeFace,
        BRepBuilderAPI_MakeWire,
    )
    from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

    axes = gp_Ax2(gp_Pnt(*line.start), gp_Dir(*line.along))

    def ring(radius):
        edge = BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge()
        return BRepBuilderAPI_MakeWire(edge).Wire()

    face = BRepBuilderAPI_MakeFace(ring(OD / 2))
    bore = ring(OD / 2 - WALL)
    bore.Reverse()
    face.Add(bore)
    return BRepOffsetAPI_MakePipe(wire(line), face.Face()).Shape()


LINES = random_centrelines(seed=20, count=30)


@pytest.mark.parametrize("line", LINES, ids=range(len(LINES)))
def test_measures_agree_with_the_kernels_solid(line):
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    shape = solid(line)
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props, 1e-9)
    ours = mass(line, OD, WALL, 8000.0)
    size = length(line)
    assert math.isclose(ours.volume, abs(props.Mass()), rel_tol=1e-6)
    centre = props.CentreOfMass()
    assert np.allclose(ours.centre, (centre.X(), centre.Y(), centre.Z()), atol=1e-6 * size)

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    least, greatest = box.CornerMin(), box.CornerMax()
    low, high = bounds(line, OD)
    assert np.allclose(low, (least.X(), least.Y(), least.Z()), atol=1e-6 * size)
    assert np.allclose(high, (greatest.X(), greatest.Y(), greatest.Z()), atol=1e-6 * size)

    along = GProp_GProps()
    BRepGProp.LinearProperties_s(wire(line), along)
    assert math.isclose(size, along.Mass(), rel_tol=1e-9)
