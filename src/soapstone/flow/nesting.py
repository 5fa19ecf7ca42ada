"""A file of sticks and pieces becomes a cut list."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.textfiles import one_line
from soapstone.yard.cut_list import CutList, read_cut_list
from soapstone.yard.nesting import Nest, Way, nest


@dataclass(frozen=True, slots=True)
class CutPlan:
    """What is cut from which stick."""

    asked: CutList
    nest: Nest

    def row(self, way: Way) -> dict[str, Any]:
        """Give one stick, its pieces' names in the order cut, and what is left, in mm."""
        asked = self.asked
        stick = asked.sticks[way.stick].length
        taken = list(zip(asked.pieces, way.takes, strict=True))
        used = sum((piece.length + asked.kerf) * n for piece, n in taken)
        pieces = [
            {"name": piece.name, "length": piece.length} for piece, n in taken for _ in range(n)
        ]
        return {"stick": stick, "pieces": pieces, "offcut": max(0.0, round(stick - used, 6))}

    def as_json(self) -> dict[str, Any]:
        """Give the cut list as a JSON object in mm."""
        return {
            "sticks_used": len(self.nest.ways),
            "layout": [self.row(way) for way in self.nest.ways],
            "bound": self.nest.bound,
            "optimal": self.nest.optimal,
            "cost": self.nest.cost,
            "cost_bound": self.nest.least_cost,
        }


def nest_file(path: Path) -> CutPlan:
    """Read a file of sticks and pieces and cut them for the least money."""
    asked = read_cut_list(path)
    try:
        return CutPlan(asked, nest(asked.sticks, asked.pieces, asked.kerf))
    except InputError as error:
        raise InputError(one_line(f"{path}: {error}")) from None
