"""Which lengths of tube must be painted again because something farther was painted over them.

Tubes are painted whole, farthest first; where that is wrong (a tube that crosses itself, two that
are each in front of the other) the nearer length is painted once more at the end.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.sheets.strand import Strand

NEIGHBOURS = 3.0
"""Lengths of one tube nearer to each other than this many diameters along it do not hide."""

END_ON = 0.8
"""Sine of the slope toward the viewer from which a tube counts as seen end on."""

Flags: TypeAlias = npt.NDArray[np.bool_]
Numbers: TypeAlias = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Nodes `first`..`last` of one tube of a list."""

    tube: int
    first: int
    last: int


def painting_order(strands: Sequence[Strand]) -> list[int]:
    """Give the tubes, the farthest first by the middle of each."""
    return sorted(range(len(strands)), key=lambda i: float(strands[i].seen[:, 2].mean()))


def to_repaint(strands: Sequence[Strand], order: Sequence[int]) -> list[Stretch]:
    """Find the stretches to paint again, in the order to do it, after painting in `order`."""
    if not strands:
        return []
    tube = np.concatenate([np.full(len(s.parts), i) for i, s in enumerate(strands)])
    place = np.concatenate([np.arange(len(s.parts)) for s in strands])
    hides = _hides(strands, tube)
    rank = np.empty(len(strands), dtype=int)
    rank[list(order)] = np.arange(len(strands))
    painted_later = rank[tube][:, None] > rank[tube][None, :]
    again = np.any(hides & ~painted_later, axis=1)
    steep = np.concatenate([_end_on(s) for s in strands])
    joined = (np.diff(tube) == 0) & (steep[1:] | steep[:-1])
    while True:
        # what lies over a length that is painted again must be painted again too, and lengths
        # seen end on go with their neighbours: a cut there would show
        grown = again | np.any(hides & again[None, :], axis=1)
        grown[1:] |= joined & again[:-1]
        grown[:-1] |= joined & again[1:]
        if bool(np.all(grown == again)):
            break
        again = grown
    return _stretches(_far_to_near(np.flatnonzero(again), tube, hides), tube, place)


def _end_on(s: Strand) -> Flags:
    """(k,) true where a tube runs mostly toward the viewer or away."""
    result: Flags = np.abs(s.going[:-1, 2] + s.going[1:, 2]) / 2 > END_ON
    return result


def _hides(strands: Sequence[Strand], tube: Numbers) -> Flags:
    """(k, k) true where length i lies over length j on the page and is nearer."""
    middle = np.concatenate([(s.seen[1:] + s.seen[:-1]) / 2 for s in strands])
    half = np.concatenate(
        [np.linalg.norm(np.diff(s.seen[:, :2], axis=0), axis=1) / 2 for s in strands]
    )
    radius = np.concatenate([np.full(len(s.parts), s.radius) for s in strands])
    along = np.concatenate([(s.along[1:] + s.along[:-1]) / 2 for s in strands])
    apart = np.hypot(
        middle[:, None, 0] - middle[None, :, 0], middle[:, None, 1] - middle[None, :, 1]
    )
    reach = radius + half / 2
    touching = apart < reach[:, None] + reach[None, :]
    same = tube[:, None] == tube[None, :]
    near_by = np.abs(along[:, None] - along[None, :]) < 2 * NEIGHBOURS * radius[:, None]
    nearer = middle[:, None, 2] > middle[None, :, 2] + 1e-6
    result: Flags = touching & nearer & ~(same & near_by)
    return result


def _far_to_near(chosen: Numbers, tube: Numbers, hides: Flags) -> list[int]:
    """Sort lengths so that each comes after all that it hides, going on along a tube if it can."""
    left = {int(k): int(hides[k, chosen].sum()) for k in chosen}
    ready = sorted((k for k, count in left.items() if count == 0), reverse=True)
    order: list[int] = []
    while ready:
        last = order[-1] if order else -2
        k = next(
            (n for n in (last + 1, last - 1) if n in ready and tube[n] == tube[last]), ready[-1]
        )
        ready.remove(k)
        order.append(k)
        for over in chosen[hides[chosen, k]]:
            left[int(over)] -= 1
            if left[int(over)] == 0:
                ready.append(int(over))
    return order


def _stretches(order: list[int], tube: Numbers, place: Numbers) -> list[Stretch]:
    """Join lengths that follow each other both in painting and along one tube."""
    runs: list[list[int]] = []
    for k in order:
        step = k - runs[-1][-1] if runs else 0
        going_on = bool(runs) and abs(step) == 1 and tube[k] == tube[runs[-1][-1]]
        if going_on and (len(runs[-1]) == 1 or step == runs[-1][-1] - runs[-1][-2]):
            runs[-1].append(k)
        else:
            runs.append([k])
    return [
        Stretch(int(tube[min(run)]), int(place[min(run)]), int(place[max(run)]) + 1) for run in runs
    ]
