"""A STEP file's solids, each where its assembly puts it, in mm, by the Open CASCADE kernel."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.exchange.kernel import hush, kernel_missing
from soapstone.exchange.step.model import Body
from soapstone.textfiles import refuse_file

MOST_INSTANCES = 20_000
DEEPEST = 100
"""Instances, and assemblies within one another: beyond is a file made to hurt."""


def bodies(path: Path) -> list[Body]:
    """Look at all solids of a STEP file; see `solids` for what is refused.

    The kernel breaks down on some damaged files and takes its process with it: see `apart`.
    """
    from soapstone.exchange.step.rounds import body_of

    return [body_of(name, shape, closed=closed) for name, shape, closed in solids(path)]


def solids(path: Path) -> list[tuple[str, Any, bool]]:
    """Give the solids of a STEP file: name, the kernel's shape in mm, whether it is closed.

    Where the file has surfaces that are no solid's, each open shell comes as one.

    Raises
    ------
    InputError
        The kernel is not installed, or the file is none it can read; one line names it.
    """
    try:
        from OCP.STEPCAFControl import STEPCAFControl_Reader
    except ImportError:
        raise kernel_missing() from None
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document

    hush()
    document = TDocStd_Document(TCollection_ExtendedString("soapstone"))
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    try:
        if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
            raise refuse_file(path, "expected STEP, found text that is none; export it anew")
        if not reader.Transfer(document):
            raise refuse_file(path, "the STEP file holds no shape that can be read")
        return list(_named(document, path))
    except InputError:
        raise
    except Exception as error:  # noqa: BLE001 - the kernel raises kinds of its own
        told = type(error).__name__
        raise refuse_file(path, f"the STEP file cannot be read ({told}); export it anew") from None


def _named(document: Any, path: Path) -> Iterator[tuple[str, Any, bool]]:
    """Go through the assemblies down to their solids."""
    from OCP.collections import Sequence_TDF_Label
    from OCP.TDF import TDF_Label
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

    tops = Sequence_TDF_Label()
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).GetFreeShapes(tops)
    todo = [(label, TopLoc_Location(), "", 0) for label in reversed(list(_items(tops)))]
    count = 0
    while todo:
        label, place, above, depth = todo.pop()
        count += 1
        if count > MOST_INSTANCES or depth > DEEPEST:
            raise refuse_file(path, f"expected at most {MOST_INSTANCES} parts in its assemblies")
        name = _name(label) or above
        if XCAFDoc_ShapeTool.IsAssembly_s(label):
            parts = Sequence_TDF_Label()
            XCAFDoc_ShapeTool.GetComponents_s(label, parts)
            below = [(part, place, name, depth + 1) for part in _items(parts)]
            todo += reversed(below)
            continue
        if XCAFDoc_ShapeTool.IsReference_s(label):
            part = TDF_Label()
            XCAFDoc_ShapeTool.GetReferredShape_s(label, part)
            moved = place * XCAFDoc_ShapeTool.GetLocation_s(label)
            todo.append((part, moved, name, depth + 1))
            continue
        shape = XCAFDoc_ShapeTool.GetShape_s(label)
        for solid, closed in _parts(shape):
            yield name, solid.Moved(place, False), closed


def _items(sequence: Any) -> Iterator[Any]:
    return (sequence.Value(i) for i in range(1, sequence.Length() + 1))


def _parts(shape: Any) -> Iterator[tuple[Any, bool]]:
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SHELL, TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer

    nothing_above = {TopAbs_SOLID: None, TopAbs_SHELL: TopAbs_SOLID, TopAbs_FACE: TopAbs_SHELL}
    for kind, above in nothing_above.items():
        found = TopExp_Explorer(shape, kind, above) if above else TopExp_Explorer(shape, kind)
        while found.More():
            yield found.Current(), kind == TopAbs_SOLID
            found.Next()


def _name(label: Any) -> str:
    """What the file calls a part; nothing where a program only numbered it."""
    from OCP.TDataStd import TDataStd_Name

    attribute = TDataStd_Name()
    if not label.FindAttribute(TDataStd_Name.GetID_s(), attribute):
        return ""
    text = str(attribute.Get().ToExtString()).strip()
    plain = text.upper()
    numbered = plain.startswith(("=>[", "OPEN CASCADE STEP")) or plain in UNNAMED
    return "" if numbered else text


UNNAMED = {"", "NAUO1", "SOLID", "COMPOUND", "SHELL", "FACE", "ASSEMBLY", "NONE", "PRODUCT"}
"""What programs call a part that nobody named."""
