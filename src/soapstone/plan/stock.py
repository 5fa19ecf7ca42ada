"""The loaded shape: stock each bend uses, where bends and cuts lie on the straight stick.

Arrays: legs (..., n + 1), loaded angles (..., n), for any number of tubes of one setup.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array


@dataclass(frozen=True, slots=True)
class StickLayout:
    """Places on the straight stick, in mm from the stock's A end.

    `arc_from`, `arc_to`, `marks` are (..., n); `cut_a`, `cut_b`, `stock` are (...). The part is
    what lies between the cuts; what lies outside them is grip, to be cut off after bending.
    """

    arc_from: Array
    arc_to: Array
    marks: Array
    cut_a: Array
    cut_b: Array
    stock: Array


def lay_out(legs: Array, loaded: Array, setup: Setup, lead: str) -> StickLayout:
    """Lay legs and bends out along the stick, with grips where an end leg is too short.

    A bend uses (1 - stretch) R t of stock, t the loaded angle on the die. It starts at its lead
    end, where the die grips, and draws stock from the tail; the index line lies `mark_offset`
    further toward the lead end.
    """
    arcs = (1 - setup.stretch) * setup.clr * np.radians(loaded)
    ahead, behind = grips(legs[..., 0], legs[..., -1], setup, lead, bent=loaded.shape[-1] > 0)
    cut_a = _up_to(ahead, setup.tape.step_mm)
    before = cut_a[..., None] + np.cumsum(legs[..., :-1], axis=-1)
    arc_to = before + np.cumsum(arcs, axis=-1)
    arc_from = arc_to - arcs
    cut_b = cut_a + legs.sum(axis=-1) + arcs.sum(axis=-1)
    stock = np.where(behind > 0, _up_to(cut_b + behind, setup.tape.step_mm), cut_b)
    marks = arc_from - setup.mark_offset if lead == "A" else arc_to + setup.mark_offset
    return StickLayout(arc_from, arc_to, marks, cut_a, cut_b, stock)


def grips(
    first: Array, last: Array, setup: Setup, lead: str, *, bent: bool = True
) -> tuple[Array, Array]:
    """Length missing at the A end and at the B end for clamp (lead end) and follower (tail).

    The lead end must also reach the index line, so that the first mark lies on the stick.
    """
    at_lead = max(setup.clamp, setup.mark_offset) if bent else 0.0
    at_tail = max(setup.follower, -setup.mark_offset) if bent else 0.0
    at_a, at_b = (at_lead, at_tail) if lead == "A" else (at_tail, at_lead)
    return np.maximum(at_a - first, 0), np.maximum(at_b - last, 0)


def _up_to(length: Array, step: float) -> Array:
    """Round up to the tape, so that a grip ends on a graduation; an exact length stays."""
    result: Array = np.ceil(length / step - 1e-9) * step + 0.0
    return result


def round_to(value: Array, step: float) -> Array:
    """Round to the nearest graduation, halves upward."""
    result: Array = np.floor(np.asarray(value) / step + 0.5) * step + 0.0
    return result
