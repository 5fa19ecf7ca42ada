"""Tubes as STEP solids (ISO 10303, AP214) by the Open CASCADE kernel, which is an extra."""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from soapstone.errors import InputError
from soapstone.exchange.kernel import hush, kernel_missing
from soapstone.exchange.solid_tube import SolidTube
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, walk
from soapstone.geometry.vectors import Array

LEAST = 1e-7
"""mm: a shorter straight is none."""


def to_step(tubes: Sequence[SolidTube]) -> bytes:
    """Give tubes as solids of cylinders and tori, exact, in mm, each by its name.

    Raises
    ------
    InputError
        The kernel is not installed, or it cannot write them.
    """
    try:
        from OCP.STEPCAFControl import STEPCAFControl_Writer
    except ImportError:
        raise kernel_missing() from None
    from OCP.Interface import Interface_Static
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    hush()
    document = TDocStd_Document(TCollection_ExtendedString("soapstone"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    for tube in tubes:
        label = shapes.AddShape(solid_of(tube), False)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(_plain(tube.name)))
    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.precision.mode", 1)
    writer.Transfer(document)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "tubes.step"
        writer.Write(str(file))
        if not file.exists():
            raise InputError("the STEP file could not be written")
        return file.read_bytes()


def _plain(name: str) -> str:
    """Keep to letters that every reader of STEP takes."""
    kept = "".join(c if c.isascii() and c.isprintable() and c not in "'\\" else "_" for c in name)
    return kept or "tube"


def solid_of(tube: SolidTube) -> Any:
    """Give a tube as one solid of the kernel: its faces are cylinders, tori and two flat rings."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeWire as MakeWire
    from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

    line = tube.line
    axes = gp_Ax2(gp_Pnt(*line.start), gp_Dir(*line.along))

    def ring(radius: float) -> Any:
        return MakeWire(BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge()).Wire()

    face = BRepBuilderAPI_MakeFace(ring(tube.od / 2))
    bore = ring(tube.od / 2 - tube.wall)
    bore.Reverse()
    face.Add(bore)
    return BRepOffsetAPI_MakePipe(_path(line), face.Face()).Shape()


def _path(line: Centreline) -> Any:
    """Give a centreline as the kernel's wire of straight and circular edges."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
    from OCP.GC import GC_MakeArcOfCircle, GC_MakeSegment
    from OCP.gp import gp_Pnt

    def point(at: Array) -> Any:
        return gp_Pnt(*map(float, at))

    way = walk(line)
    maker = BRepBuilderAPI_MakeWire()
    for i, leg in enumerate(line.legs):
        start, end = way.nodes[2 * i], way.nodes[2 * i + 1]
        if leg > LEAST:
            maker.Add(
                BRepBuilderAPI_MakeEdge(GC_MakeSegment(point(start), point(end)).Value()).Edge()
            )
        if i < len(line.angles):
            (middle,) = arc_points(way, i, np.radians([line.angles[i] / 2]))
            arc = GC_MakeArcOfCircle(point(end), point(middle), point(way.nodes[2 * i + 2])).Value()
            maker.Add(BRepBuilderAPI_MakeEdge(arc).Edge())
    return maker.Wire()
