"""How each end of a tube stands in the bender, for every set of bends made in it; compiled."""

from math import hypot, sqrt

import numpy as np

from soapstone.bend.laying import LEAD, TAIL, lay
from soapstone.bend.search import side_of
from soapstone.bend.steps import AXIS, CLR, SIDE
from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array


@compiled
def look_of_ends(
    tube: Array, stock: float, sizes: Array, needs: float, best: float, least: float
) -> Array:
    """Look at each end as lead and as tail, loaded for each bend, some bends of it made.

    Parameters
    ----------
    needs, best, least
        As levels are chosen in `plan.rolls`: the least length in mm that one lies on, the length
        from which more is no better, and the least score.

    Returns
    -------
    Array
        (2, 2, sets, 3), lead or tail, A end or B end, and `search.side_of`: for a lead, how far it
        reaches from the die's axis in mm, for a tail, how far from its own; then the score of the
        straight that shows the roll best, and how sharply.
    """
    bends = len(tube)
    looks = np.zeros((2, 2, 1 << bends, 3))
    rows, starts = np.empty((2 * bends + 1, 10)), np.empty(2 * bends + 2)
    side, axis = sizes[SIDE : SIDE + 3], sizes[AXIS : AXIS + 3]
    centre = sizes[CLR] * side
    tail_axis = np.array([1.0, 0.0, 0.0])
    for n in range(bends):
        for end in range(2):
            beyond = n if end == 0 else bends - 1 - n
            for bits in range(1 << beyond):
                made = bits if end == 0 else bits << (n + 1)
                which = side_of(made, n, end == 0, bends)
                for part in range(2):
                    way = LEAD if part == 0 else TAIL
                    k = lay(tube, stock, made, n, end == 0, way, side, 0.0, rows, starts)
                    look = looks[part, end, which]
                    if part == 0:
                        look[0] = _reach(rows, starts, k, centre, axis)
                    else:
                        look[0] = _reach(rows, starts, k, np.zeros(3), tail_axis)
                    _sharpest(rows, starts, k, needs, best, least, look)
    return looks


@compiled
def _reach(rows: Array, starts: Array, count: int, centre: Array, axis: Array) -> float:
    """Farthest end of a straight from an axis, in mm."""
    most = 0.0
    for i in range(count):
        if rows[i, 0] == 0:
            for s in (0.0, starts[i + 1] - starts[i]):
                x = rows[i, 1] + s * rows[i, 4] - centre[0]
                y = rows[i, 2] + s * rows[i, 5] - centre[1]
                z = rows[i, 3] + s * rows[i, 6] - centre[2]
                along = x * axis[0] + y * axis[1] + z * axis[2]
                most = max(most, x * x + y * y + z * z - along * along)
    return sqrt(most)


@compiled
def _sharpest(
    rows: Array, starts: Array, count: int, needs: float, best: float, least: float, look: Array
) -> None:
    """Write the score and the sharpness of the straight that shows the roll best."""
    score = 0.0
    for i in range(count):
        length = starts[i + 1] - starts[i]
        if rows[i, 0] != 0 or length < needs:
            continue
        aside = abs(rows[i, 5])
        flat = hypot(aside, rows[i, 4])
        sharp = aside / flat if flat > 1e-6 else 1.0
        if sharp * min(1.0, length / best) > max(score, least):
            score = sharp * min(1.0, length / best)
            look[1], look[2] = score, sharp
