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

Three = tuple[float, float, float]

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

    `side` is the unit vector toward the die's centre, `off` how many mm of the first straight are
    left out, or all of it if it is shorter. Pieces are written to `rows` and `starts`, as in
    `distance_cells.Pieces`; gives how many there are.
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
            at = x + skip * ux, y + skip * uy, z + skip * uz
            _straight(rows[count], at, (ux, uy, uz))
            starts[count + 1] = starts[count] + leg - skip
            count += 1
        if whole:
            return count
        if leg > 0:
            x, y, z = x + leg * ux, y + leg * uy, z + leg * uz
        turned = tube[max(before, m), 4] - tube[min(before, m), 4]
        ax, ay, az = _rolled((ax, ay, az), (ux, uy, uz), turned)
        ix, iy, iz = ay * uz - az * uy, az * ux - ax * uz, ax * uy - ay * ux
        row, radius, angle = rows[count], tube[m, 5], tube[m, 2]
        _arc(row, radius, (x, y, z), (ux, uy, uz), (ix, iy, iz))
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
def _rolled(axis: Three, along: Three, turned: float) -> Three:
    """Turn an axis about a direction square to it."""
    (ax, ay, az), (ux, uy, uz) = axis, along
    c, s = cos(turned), sin(turned)
    return (
        c * ax + s * (uy * az - uz * ay),
        c * ay + s * (uz * ax - ux * az),
        c * az + s * (ux * ay - uy * ax),
    )


@compiled
def _straight(row: Array, at: Three, along: Three) -> None:
    row[0] = row[7] = row[8] = row[9] = 0.0
    for k in range(3):
        row[1 + k], row[4 + k] = at[k], along[k]


@compiled
def _arc(row: Array, radius: float, at: Three, along: Three, inward: Three) -> None:
    row[0] = 1 / radius
    for k in range(3):
        row[1 + k], row[4 + k], row[7 + k] = (
            at[k] + radius * inward[k],
            -radius * inward[k],
            radius * along[k],
        )
