"""Sketches as data for the page templates, which draw them without reading any text as markup."""

from typing import Any

from soapstone.sheets.sketch import Box, Label, Mark, Path, Point, Sketch, bounds


def to_data(sketch: Sketch, box: Box | None = None) -> dict[str, Any]:
    """Give a sketch as lists and numbers that `draw` in the templates paints.

    `w` and `h` are the size in mm of the part shown (`box`; left out, all of it); places count
    from its top left corner, y down.
    """
    frame = box or bounds(sketch)
    marks = [_mark(mark, frame) for mark in sketch]
    return {"w": _n(frame.width), "h": _n(frame.height), "marks": marks}


def _mark(mark: Mark, frame: Box) -> dict[str, Any]:
    return _label(mark, frame) if isinstance(mark, Label) else _path(mark, frame)


def _label(label: Label, frame: Box) -> dict[str, Any]:
    return {
        "text": label.text,
        "x": _n(label.at[0] - frame.left),
        "y": _n(frame.top - label.at[1]),
        "size": _n(label.size),
        "fill": label.colour,
        "weight": label.weight,
        "anchor": label.anchor,
        "turn": _n(-label.turn),
    }


def _path(path: Path, frame: Box) -> dict[str, Any]:
    def at(p: Point) -> list[float]:
        return [_n(p[0] - frame.left), _n(frame.top - p[1])]

    start, *rest = path.knots
    if path.handles:
        pieces = zip(path.handles, rest, strict=True)
        steps = [[*at(a), *at(b), *at(end)] for (a, b), end in pieces]
    else:
        steps = [at(p) for p in rest]
    data: dict[str, Any] = {
        "from": at(start),
        "to": steps,
        "closed": path.closed,
        "fill": path.fill,
    }
    if path.pen:
        data["pen"] = {
            "width": _n(path.pen.width),
            "colour": path.pen.colour,
            "cap": "round" if path.pen.round else "butt",
            "dash": [_n(d) for d in path.pen.dash],
        }
    return data


def _n(value: float) -> float:
    """Round to a micrometre: finer than any printer."""
    return round(value, 3)
