"""A tube made a million times over, each time a little differently."""

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from soapstone.bench.accuracy import WITHIN
from soapstone.bench.calibrate import SAME_BEND
from soapstone.check.making import Making, mark_spread
from soapstone.geometry.chain import walk, walk_arrays
from soapstone.geometry.vectors import Array, cross, turn

if TYPE_CHECKING:
    from soapstone.check.budget.repeated import Shop

AT_ONCE = 10_000
"""Pairs of tubes made at once by one processor: few enough to lie near it, and worth handing."""


class Landings(NamedTuple):
    """Where made tubes land: (N,) each, `ends` (3, N), `places` (p, N). mm and degrees.

    `off` how far the B end is from where it is drawn, `turn` how far its last leg is turned,
    `apart` the ends' distance less as drawn, `between` the angle between end legs less as drawn,
    `ends` the B ends less where it is drawn; all with the A end held. With the B end and the plane
    of the last bend held instead, `back` is how far the A end is off and `back_turn` how far the
    first leg is turned. `places` are how far places on the tube are off, with the A end held.
    """

    off: Array
    turn: Array
    apart: Array
    between: Array
    ends: Array
    back: Array
    back_turn: Array
    places: Array


def landings(
    making: Making, count: int, seed: int, places: Sequence[tuple[int, float]] = ()
) -> Landings:
    """Make a tube `count` times, with normal errors, and say where each lands.

    Errors come in pairs of opposite sign, so that what is odd in them cancels in every mean.
    `places` are pieces, straights even and arcs odd from the A end, and the shares of them.
    """
    from soapstone.check.budget.repeated import PLACES, make_pairs

    half = (count + 1) // 2
    shop = shop_of(making, places)
    out = np.empty((PLACES + len(places), 2 * half))
    scattered = [place for place, cause in enumerate(making.causes) if "scatter" in cause.kind]
    lows = range(0, half, AT_ONCE)
    seeds = np.random.SeedSequence(seed).spawn(len(lows))

    def make(low: int, own: np.random.SeedSequence) -> None:
        rng = np.random.Generator(np.random.SFC64(own))
        many = min(AT_ONCE, half - low)
        causes = rng.standard_normal((many, len(making.causes)))
        causes[:, scattered] *= _scatters(making, many, rng)[:, None]
        make_pairs(*shop, causes, out, low)

    # each lot of tubes has errors of its own, so it makes no difference which is made when
    with ThreadPoolExecutor(os.cpu_count() or 1) as hands:
        list(hands.map(make, lows, seeds))
    out = out[:, :count]
    off, turned, apart, between = out[:4]
    ends = _frame(making).T @ out[4:7]
    return Landings(off, turned, apart, between, ends, out[7], out[8], out[PLACES:])


def shop_of(making: Making, places: Sequence[tuple[int, float]] = ()) -> "Shop":
    """Bring a plan and how it is made to the numbers that compiled code works with."""
    from soapstone.check.budget.repeated import Shop

    crept = making.creep
    end, ways, noted = _as_drawn(making, places)
    return Shop(
        number=np.array(list(_numbers(making)), dtype=float),
        bends=_bend_rows(making),
        turned=making.turned,
        second=np.zeros((0, 2)) if crept is None else crept.second,
        drawn=np.concatenate((end, ways.ravel(), ways @ end)),
        places=noted,
    )


def _numbers(making: Making) -> Iterator[float]:
    """Give `Shop.number`, in the order in which its places are named."""
    setup, known, truth = (
        making.plan.setup,
        making.plan.setup.calibration,
        making.plan.setup.accuracy,
    )
    yield from (known.dial_zero, known.springback, known.belief.line.centre)
    yield sqrt(float(known.belief.weight @ known.belief.sigma**2))
    yield setup.dial_step / sqrt(12)
    yield from (truth.index_line / WITHIN, truth.stretch / WITHIN, setup.stretch)
    yield from (mark_spread(setup), truth.cut / WITHIN, setup.clr)
    yield from (sqrt(SAME_BEND), sqrt(1 - SAME_BEND), truth.protractor / WITHIN)
    from_a, to_b = making.plan.cuts
    yield from (from_a.stock_mark, float(from_a.offcut > 0))
    # a stick that is not sawn at its B end was cut there to its length
    yield from (to_b.stock_mark if to_b.offcut > 0 else making.plan.stock_tape, 1.0)
    yield from making.spread.ravel().tolist()


def _bend_rows(making: Making) -> Array:
    """Give `Shop.bends`."""
    rows = []
    for dial, bend in zip(making.dials.tolist(), making.bends, strict=True):
        turned, angle = np.radians(bend.rotation), np.radians(bend.angle)
        lead = 1.0 if bend.lead == "A" else -1.0
        told = (dial, bend.stock_mark, bend.arc_from - bend.mark, bend.arc_to - bend.mark, lead)
        drawn = (bend.rotation, bend.angle, np.cos(turned), np.sin(turned))
        rows.append((*told, *drawn, np.cos(angle), np.sin(angle), -1.0, 0.0, 0.0, 0.0, 1.0))
    result = np.array(rows, dtype=float).reshape(making.count, 16)
    crept = making.creep
    if crept is None:
        return result
    for j, place in enumerate(crept.places):
        seen = crept.seen[j]
        result[place, -5:] = (
            j,
            crept.first[j],
            crept.asked[j],
            seen[0],
            (len(seen) - 1) / (seen[-1] - seen[0]),
        )
    return result


def _as_drawn(making: Making, places: Sequence[tuple[int, float]]) -> tuple[Array, Array, Array]:
    """The drawn tube from its A end along x: B end (3,), its ways (3, 3), `places` of a shop."""
    shape = making.plan.shape
    begin, along, up = np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    columns = (shape.legs, shape.angles, shape.rotations, shape.radii)
    way = walk_arrays(begin, along, up, *(np.array(c, dtype=float) for c in columns))
    rows = np.zeros((len(places), 5))
    for row, (piece, share) in zip(rows, places, strict=True):
        i, node = piece // 2, way.nodes[piece]
        if piece % 2 == 0:
            point = node + share * shape.legs[i] * way.directions[i]
        else:
            turned = np.radians(share * shape.angles[i])
            point = way.centres[i] + turn(node - way.centres[i], way.axes[i], turned)
        row[:] = (piece, share, *point)
    axis, ahead = way.axes[-1], way.directions[-1]
    return way.nodes[-1], np.stack((ahead, cross(axis, ahead), axis)), rows


def _frame(making: Making) -> Array:
    """(3, 3): in rows, the drawn tube's way out at A, the side it bends to, and their cross."""
    way = walk(making.plan.shape)
    along, axis = way.directions[0], way.axes[0]
    return np.stack((along, np.cross(axis, along), axis))


def _scatters(making: Making, many: int, rng: np.random.Generator) -> Array:
    """Draw how much wider or narrower than usual bends scatter, (many,): trials leave it open.

    All bends of a tube share it.
    """
    belief = making.plan.setup.calibration.belief
    usual = sqrt(float(belief.weight @ belief.sigma**2))
    drawn: Array = rng.choice(belief.sigma, size=many, p=belief.weight / belief.weight.sum())
    return drawn / usual
