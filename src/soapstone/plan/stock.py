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
    ahead, behind = grips(legs, arcs, setup, lead)
    cut_a = _up_to(ahead, setup.tape.step_mm)
    before = np.cumsum(arcs, axis=-1) - arcs
    arc_from = cut_a[..., None] + np.cumsum(legs[..., :-1], axis=-1) + before
    arc_to = arc_from + arcs
    cut_b = cut_a + legs.sum(axis=-1) + arcs.sum(axis=-1)
    stock = np.where(behind > 0, _up_to(cut_b + behind, setup.tape.step_mm), cut_b)
    marks = arc_from - setup.mark_offset if lead == "A" else arc_to + setup.mark_offset
    return StickLayout(arc_from, arc_to, marks, cut_a, cut_b, stock)


def grips(legs: Array, arcs: Array, setup: Setup, lead: str) -> tuple[Array, Array]:
    """Length missing at the A end and at the B end for clamp (lead end) and follower (tail).

    The stick must also reach the index line at its first and last bend, so that every mark lies
    on it; `arcs` (..., n) is the stock of each bend.
    """
    nothing = np.zeros(legs.shape[:-1])
    if arcs.shape[-1] == 0:
        return nothing, nothing
    # at the last bend made, a mark toward the tail lies on the arc first, then on the last leg
    last_arc = arcs[..., -1] if lead == "A" else arcs[..., 0]
    at_lead = nothing + max(setup.clamp, setup.mark_offset)
    at_tail = np.maximum(setup.follower, -setup.mark_offset - last_arc)
    at_a, at_b = (at_lead, at_tail) if lead == "A" else (at_tail, at_lead)
    return np.maximum(at_a - legs[..., 0], 0), np.maximum(at_b - legs[..., -1], 0)


def _up_to(length: Array, step: float) -> Array:
    """Round up to the tape, so that a grip ends on a graduation; an exact length stays."""
    result: Array = np.ceil(length / step - 1e-9) * step
    return np.round(result, 9) + 0.0


def round_to(value: Array, step: float) -> Array:
    """Round lengths or angles to the nearest graduation as a `Tape` does: halves upward.

    A billionth of a step short of half counts as half, so that rounding noise does not decide.
    """
    result: Array = np.floor(np.asarray(value) / step + (0.5 + 1e-9)) * step
    return np.round(result, 9) + 0.0


def round_down_to(value: Array, step: float) -> Array:
    """Round down to a graduation: for what must not be overshot."""
    result: Array = np.floor(np.asarray(value) / step + 1e-9) * step
    return np.round(result, 9) + 0.0
