"""Lay one end of a tube in the bender, straight into arrays; compiled.

It gives the lines of `pose.lie` as `geometry.distance.line_pieces` brings them into arrays; a
search for an order lays tens of thousands of them.

A tube is an array of one row a bend, from A to B: where its stock begins and ends in mm from the
stock's A end; its free angle; the angle held on the die; the angle from the first bend's plane to
its own; these in radians; and its free radius. Bends count from 0 here. Which are made is one whole
number, with a bit for each.
"""

from math import cos, sin

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

LEAD, TAIL = -1.0, 1.0
"""Which way along x an end lies."""


@compiled
def lay(
    tube: Array,
    stock: float,
    made: int,
    n: int,
    to_a: bool,
    way: float,
    side: Array,
    off: float,
    rows: Array,
    starts: Array,
) -> int:
    """Lay the end toward A or toward B as lead or as tail, loaded for bend `n`.

    Parameters
    ----------
    side
        The unit vector toward the die's centre.
    off
        mm of the first straight that are left out, or all of it if it is shorter.
    rows, starts
        Where the pieces are written, as in `distance_cells.Pieces`.

    Returns
    -------
    int
        How many pieces there are.
    """
    step = -1 if to_a else 1
    x, y, z = (0.0, 0.0, 0.0) if way < 0 else (tube[n, 1] - tube[n, 0], 0.0, 0.0)
    ux, uy, uz = way, 0.0, 0.0
    ax, ay, az = 0.0, -way * side[2], way * side[1]
    place, before, m, count = 0.0, n, n + step, 0
    starts[0] = 0.0
    while True:
        while 0 <= m < len(tube) and not made >> m & 1:
            m += step
        whole = m < 0 or m >= len(tube)
        if to_a:
            leg = tube[n, 0] - (0.0 if whole else tube[m, 1]) - place
        else:
            leg = (stock if whole else tube[m, 0]) - tube[n, 1] - place
        skip = min(off, leg) if before == n else 0.0
        if leg > skip:
            _straight(rows[count], x + skip * ux, y + skip * uy, z + skip * uz, ux, uy, uz)
            starts[count + 1] = starts[count] + leg - skip
            count += 1
        if whole:
            return count
        if leg > 0:
            x, y, z = x + leg * ux, y + leg * uy, z + leg * uz
        turned = tube[max(before, m), 4] - tube[min(before, m), 4]
        c, s = cos(turned), sin(turned)
        ax, ay, az = (
            c * ax + s * (uy * az - uz * ay),
            c * ay + s * (uz * ax - ux * az),
            c * az + s * (ux * ay - uy * ax),
        )
        ix, iy, iz = ay * uz - az * uy, az * ux - ax * uz, ax * uy - ay * ux
        radius, angle = tube[m, 5], tube[m, 2]
        row = rows[count]
        row[0] = 1 / radius
        row[1], row[2], row[3] = x + radius * ix, y + radius * iy, z + radius * iz
        row[4], row[5], row[6] = -radius * ix, -radius * iy, -radius * iz
        row[7], row[8], row[9] = radius * ux, radius * uy, radius * uz
        starts[count + 1] = starts[count] + radius * angle
        count += 1
        c, s = cos(angle), sin(angle)
        x = row[1] + c * row[4] + s * row[7]
        y = row[2] + c * row[5] + s * row[8]
        z = row[3] + c * row[6] + s * row[9]
        ux, uy, uz = c * ux + s * ix, c * uy + s * iy, c * uz + s * iz
        place += leg + tube[m, 1] - tube[m, 0]
        before, m = m, m + step


@compiled
def _straight(row: Array, x: float, y: float, z: float, ux: float, uy: float, uz: float) -> None:
    row[0] = row[7] = row[8] = row[9] = 0.0
    row[1], row[2], row[3] = x, y, z
    row[4], row[5], row[6] = ux, uy, uz
