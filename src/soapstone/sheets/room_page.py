"""The page that shows what the tubes keep clear of: views, legend, and a table of gaps."""

import math
from collections.abc import Sequence
from typing import Any

from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, Solid
from soapstone.sheets.contents import PackContents
from soapstone.sheets.cover import WIDTH
from soapstone.sheets.lettering import text_width
from soapstone.sheets.room_marks import Note
from soapstone.sheets.room_view import BETWEEN, Room, draw_room
from soapstone.sheets.room_words import Place, fine, gap_words, hinge_cell, places_of, swing_words
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.words import breakable, shortened

_TALLEST, _LEAST = 185.0, 105.0
"""Page mm of the views together, at most and at least."""

_SMALLER = 0.8
"""The views as they are drawn when the table takes more room than was foreseen."""

_TYPE_AREA = {"A4": 268.0, "Letter": 250.4}
"""Page mm from the first line to the last."""

_HEAD, _TABLE_HEAD, _LINE, _AIR = 14.0, 7.5, 3.9, 2.6
"""Page mm of the page's own head and foot, the table's head, its lines and the air of a row."""

_NAME = 38.0
"""Page mm of a column of names."""


def room_page(contents: PackContents) -> dict[str, Any] | None:
    """Give the data of the page; None when nothing was checked for clearance."""
    around = contents.surroundings
    if around is None or not around.keepouts or not contents.tubes:
        return None
    places, more = places_of(contents)
    notes = [Note(place, gap_words(place, contents)) for place in places if place.number]
    rooms = draw_room(contents.tubes, around.keepouts, notes, WIDTH, _heights(contents, places))
    return {
        "kind": "room",
        "job": breakable(shortened(contents.job, 60)),
        "between": BETWEEN,
        "pictures": [_picture(room) for room in rooms],
        "moves": any(keepout.hinges for keepout in around.keepouts),
        "keepouts": [
            {
                "name": breakable(shortened(keepout.name, 40)),
                "what": f"{_kind(keepout.solid)}, {swing_words(keepout.hinges)}",
            }
            for keepout in around.keepouts
        ],
        "rows": [
            _row(place, contents, first=i == 0 or places[i - 1].tube is not place.tube)
            for i, place in enumerate(places)
        ],
        "more": _more(more),
        "foot": f"{shortened(contents.job, 60)}  ·  room around the tubes",
    }


def _heights(contents: PackContents, places: Sequence[Place]) -> tuple[float, float]:
    """Foresee how tall the views can be above the table, and give a smaller choice too."""
    lines = [
        max(
            math.ceil(text_width(shortened(name, 60), 3.7, 600) / _NAME)
            for name in (place.tube.name, place.gap.keepout, "x")
        )
        for place in places
    ]
    table = _TABLE_HEAD + sum(_AIR + _LINE * count for count in lines)
    left = _TYPE_AREA[contents.paper] - _HEAD - table
    tallest = min(max(left, _LEAST / _SMALLER), _TALLEST)
    return tallest, _SMALLER * tallest


def _picture(room: Room) -> list[dict[str, Any]]:
    return [to_data(sketch, page) for sketch, page in zip(room.sketches, room.pages, strict=True)]


def _more(count: int) -> str:
    if not count:
        return ""
    gaps = "1 gap is" if count == 1 else f"{count} gaps are"
    return f"{gaps} not listed: the same tube has less to spare at those that are."


def _row(place: Place, contents: PackContents, *, first: bool) -> dict[str, Any]:
    gap, units = place.gap, contents.units
    return {
        "n": str(place.number or ""),
        "first": first,
        "tube": breakable(shortened(place.tube.name, 60)) if first else "",
        "keepout": breakable(shortened(gap.keepout, 60)),
        "gap": fine(gap.gap, units).replace("-", "\u2212"),
        "wanted": fine(gap.wanted, units),
        "at": contents.numbers.length(gap.along),
        "hinges": hinge_cell(gap.angles),
        "short": place.short,
    }


def _kind(solid: Solid) -> str:
    match solid:
        case Box():
            return "box"
        case Cylinder():
            return "cylinder"
        case Ball():
            return "ball"
        case HalfSpace():
            return "half-space"
        case Mesh():
            return "mesh"
        case Rod():
            return "tube"
