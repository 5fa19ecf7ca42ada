"""STEP files made by the CAD kernel itself, in ways that soapstone does not write them.

The kernel (Open CASCADE) splits faces, turns them into B-splines, moves, mirrors and cuts solids,
places them by assemblies and writes inches; the centreline each was made from is known.
"""

from pathlib import Path

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, corners, walk
from soapstone.geometry.vectors import turn
from tests.truth.test_cad_kernel import wire


def swept(line: Centreline, od: float, wall: float | None, spine=None):
    """The ring (or the disc of a bar) swept along a centreline, or along another spine."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeWire as MakeWire
    from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

    axes = gp_Ax2(gp_Pnt(*line.start), gp_Dir(*line.along))

    def ring(radius):
        return MakeWire(BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge()).Wire()

    face = BRepBuilderAPI_MakeFace(ring(od / 2))
    if wall:
        bore = ring(od / 2 - wall)
        bore.Reverse()
        face.Add(bore)
    return BRepOffsetAPI_MakePipe(spine or wire(line), face.Face()).Shape()


def one_spline(line: Centreline):
    """The wire of a centreline as one B-spline edge: lines and arcs joined in one curve."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.BRepTools import BRepTools_WireExplorer
    from OCP.Geom import Geom_TrimmedCurve
    from OCP.GeomConvert import GeomConvert_CompCurveToBSplineCurve

    joined = GeomConvert_CompCurveToBSplineCurve()
    edges = BRepTools_WireExplorer(wire(line))
    while edges.More():
        part = BRepAdaptor_Curve(edges.Current())
        curve = BRep_Tool.Curve_s(edges.Current(), 0.0, 1.0)
        ends = part.FirstParameter(), part.LastParameter()
        assert joined.Add(Geom_TrimmedCurve(curve, *ends), 1e-6, True)
        edges.Next()
    edge = BRepBuilderAPI_MakeEdge(joined.BSplineCurve()).Edge()
    return BRepBuilderAPI_MakeWire(edge).Wire()


def quartered(shape):
    """Every face split so that none goes round more than a quarter turn."""
    from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle

    tool = ShapeUpgrade_ShapeDivideAngle(np.pi / 2 + 1e-6, shape)
    tool.Perform()
    return tool.Result()


def as_splines(shape):
    """Every surface as a rational B-spline."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return BRepBuilderAPI_NurbsConvert(shape, True).Shape()


def trsf(matrix, shift):
    """The kernel's transformation by a rotation matrix (3, 3), or a mirror, and a shift."""
    from OCP.gp import gp_Trsf

    made = gp_Trsf()
    rows = [[*map(float, row), float(by)] for row, by in zip(matrix, shift, strict=True)]
    made.SetValues(*rows[0], *rows[1], *rows[2])
    return made


def moved(shape, matrix, shift):
    """A solid carried there, its surfaces themselves."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform

    return BRepBuilderAPI_Transform(shape, trsf(matrix, shift), True).Shape()


def write(path: Path, parts, unit="MM"):
    """Write parts (name, shape, location or None) as STEP: a location makes an assembly."""
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("test"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    above = None
    for name, shape, place in parts:
        label = tool.AddShape(shape, False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(name))
        if place is not None:
            if above is None:
                above = tool.NewShape()
                TDataStd_Name.Set_s(above, TCollection_ExtendedString("frame"))
            part = tool.AddComponent(above, label, TopLoc_Location(trsf(*place)))
            TDataStd_Name.Set_s(part, TCollection_ExtendedString(name))
    tool.UpdateAssemblies()
    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.unit", unit)
    writer.Transfer(document)
    writer.Write(str(path))
    Interface_Static.SetCVal_s("write.step.unit", "MM")


def rotation(rng):
    """A random rotation matrix."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q * np.sign(np.linalg.det(q))


def same_corners(line: Centreline, found: Centreline) -> float:
    """How far apart the corners of two centrelines are at most, whichever end is A."""
    a, b = (np.array(corners(one)) for one in (line, found))
    if a.shape != b.shape:
        return float("inf")
    nodes = [walk(one).nodes for one in (line, found)]
    return min(
        max(np.abs(a - b).max(), np.abs(nodes[0] - nodes[1]).max()),
        max(np.abs(a - b[::-1]).max(), np.abs(nodes[0] - nodes[1][::-1]).max()),
    )


def lofted(line: Centreline, od: float, step: float):
    """A bar lofted smoothly through rings along a centreline, about `step` mm apart."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

    way = walk(line)
    places: list[tuple] = []
    for i, leg in enumerate(line.legs):
        along = way.directions[i]
        count = max(2, round(leg / step))
        run = np.linspace(0, leg, count + 1)
        places += [(way.nodes[2 * i] + at * along, along) for at in run]
        if i < len(line.angles):
            angle = np.radians(line.angles[i])
            count = max(2, round(angle * line.radii[i] / step))
            turned = angle * np.arange(1, count) / count
            round_it = turn(np.broadcast_to(along, (len(turned), 3)), way.axes[i], turned)
            places += list(zip(arc_points(way, i, turned), round_it, strict=True))
    maker = BRepOffsetAPI_ThruSections(True, False, 1e-6)
    for at, along in places:
        axes = gp_Ax2(gp_Pnt(*map(float, at)), gp_Dir(*map(float, along)))
        edge = BRepBuilderAPI_MakeEdge(gp_Circ(axes, od / 2)).Edge()
        maker.AddWire(BRepBuilderAPI_MakeWire(edge).Wire())
    maker.Build()
    return maker.Shape()
