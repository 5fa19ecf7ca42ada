"""The loaded shape: stock each bend uses, where bends and cuts lie on the straight stick.

Arrays: legs (..., n + 1), loaded angles (..., n), for any number of tubes of one setup.
"""

from dataclasses import dataclass

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.geometry.vectors import Array
from soapstone.plan.order import Order, Turn, neighbours


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


def lay_out(legs: Array, loaded: Array, setup: Setup, order: Order) -> StickLayout:
    """Lay legs and bends out along the stick, with grips where an end leg is too short.

    A bend uses (1 - stretch) R t of stock, t the loaded angle on the die. It starts at its lead
    end, where the die grips, and draws stock from the tail; the index line lies `mark_offset`
    further toward the lead end.
    """
    arcs = stock_of(loaded, setup)
    ahead, behind = grips(legs, arcs, setup, order)
    cut_a = _up_to(ahead, setup.tape.step_mm)
    before = np.cumsum(arcs, axis=-1) - arcs
    arc_from = cut_a[..., None] + np.cumsum(legs[..., :-1], axis=-1) + before
    arc_to = arc_from + arcs
    cut_b = cut_a + legs.sum(axis=-1) + arcs.sum(axis=-1)
    stock = np.where(behind > 0, _up_to(cut_b + behind, setup.tape.step_mm), cut_b)
    led_by_a = np.array([turn.lead == "A" for turn in sorted(order, key=_number)], dtype=bool)
    marks = np.where(led_by_a, arc_from - setup.mark_offset, arc_to + setup.mark_offset)
    return StickLayout(arc_from, arc_to, marks, cut_a, cut_b, stock)


def stock_of(loaded: Array, setup: Setup) -> Array:
    """Stock in mm that bends use, by their loaded angles."""
    used: Array = (1 - setup.stretch) * setup.clr * np.radians(loaded)
    return used


def grips(legs: Array, arcs: Array, setup: Setup, order: Order) -> tuple[Array, Array]:
    """Length missing at the A end and at the B end for clamp (lead end) and follower (tail).

    A bend needs straight up to the stock's end only while no bend is made on that side of it. The
    stick must also reach the index line at every bend, so that every mark lies on it. `arcs`
    (..., n) is the stock of each bend.
    """
    at_a, at_b = np.zeros(legs.shape[:-1]), np.zeros(legs.shape[:-1])
    run = np.cumsum(legs[..., :-1], axis=-1) + np.cumsum(arcs, axis=-1)
    whole = legs.sum(axis=-1) + arcs.sum(axis=-1)
    for turn, (toward_a, toward_b) in zip(order, neighbours(order), strict=True):
        i = turn.n - 1
        lead, tail = setup.mark_offset, -setup.mark_offset - arcs[..., i]
        clamp, follower = max(setup.clamp, lead), np.maximum(setup.follower, tail)
        a_leads = turn.lead == "A"
        # past a bend already made the mark alone counts; toward the tail it lies on the arc first
        need_a = (clamp if a_leads else follower) if toward_a == 0 else lead if a_leads else tail
        need_b = follower if a_leads else clamp
        if toward_b <= len(order):
            need_b = tail if a_leads else lead
        at_a = np.maximum(at_a, need_a - (run[..., i] - arcs[..., i]))
        at_b = np.maximum(at_b, need_b - (whole - run[..., i]))
    return at_a, at_b


def straights(layout: StickLayout, order: Order) -> tuple[Array, Array]:
    """Straight ahead of each bend and behind it when it is made, in mm; (..., n) in order made.

    It reaches to the next bend that is made already, or to the stock's end.
    """
    ends = np.concatenate((np.zeros((*layout.stock.shape, 1)), layout.arc_to), axis=-1)
    starts = np.concatenate((layout.arc_from, layout.stock[..., None]), axis=-1)
    bends = [turn.n - 1 for turn in order]
    beside = neighbours(order)
    toward_a = layout.arc_from[..., bends] - ends[..., [a for a, _ in beside]]
    toward_b = starts[..., [b - 1 for _, b in beside]] - layout.arc_to[..., bends]
    led_by_a = np.array([turn.lead == "A" for turn in order], dtype=bool)
    ahead = np.where(led_by_a, toward_a, toward_b)
    return ahead, np.where(led_by_a, toward_b, toward_a)


def _number(turn: Turn) -> int:
    return turn.n


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
