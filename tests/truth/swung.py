"""Tubes of the virtual bender, loaded for a bend with others made, and dense samples of them."""

import numpy as np

from soapstone.bend.pose import Stick
from tests.truth.virtual_bender import Bender, Die, Step, bent, blank, loaded_into, rotation

CLR, OD, CLAMP, FOLLOWER, BACK = 100.0, 38.1, 60.0, 90.0, 0.03
SIZE = (60.0, 80.0, 50.0)
SWINGS = [("horizontal", "left"), ("horizontal", "right"), ("vertical", "up"), ("vertical", "down")]


def random_stick(rng: np.random.Generator, bends: int) -> Stick:
    free = rng.uniform(20, 90, bends)
    loaded = free * (1 + BACK)
    used, legs = np.radians(loaded) * CLR, rng.uniform(100, 350, bends + 1)
    ends = np.cumsum(legs[:-1] + used)
    rotations = rng.uniform(-180, 180, bends)
    rotations[0] = 0.0
    columns = (ends - used, ends, free, loaded, rotations, np.full(bends, CLR * (1 + BACK)))
    return Stick(float(ends[-1] + legs[-1]), *(tuple(map(float, column)) for column in columns))


def box_distance(points: np.ndarray, at: np.ndarray, size: np.ndarray | None = None) -> np.ndarray:
    """Signed distance of points to the box, written out."""
    over = np.abs(points - at) - np.array(SIZE if size is None else size) / 2
    return np.linalg.norm(np.maximum(over, 0), axis=-1) + np.minimum(over.max(axis=-1), 0)


def made_tube(stick: Stick, made: list[int], n: int, lead: str, bender: Bender, die: Die):
    """The tube of the virtual bender with some bends made, loaded for the next."""
    tube = blank(stick.stock)
    for m in [*made, n]:
        # rolled so that its plane lies against that of bend 1 as drawn; A leads while it is made
        mark = stick.arc_from[m - 1] if lead == "A" else stick.arc_to[m - 1]
        at_zero = loaded_into(tube, Step(m, lead, mark, 0.0, 0.0), die, bender)
        turned = roll_to(stick, made, m, lead, at_zero, bender)
        tube = at_zero if turned is None else at_zero.moved(rotation(np.array([1.0, 0, 0]), turned))
        if m != n:
            tube = bent(tube, die, bender, stick.loaded[m - 1], m)
    return tube


def roll_to(stick, made, m, lead, tube, bender):
    """Degrees about x until a bend made next to m stands to it as the rotations say."""
    arcs = {piece.n: piece for piece in tube.pieces if piece.n}
    if not arcs:
        return None
    other = min(arcs, key=lambda one: abs(one - m))
    # axis of a bend, for travel from A to B, carried straight from the neighbour to m
    wanted = -bender.die_axis if lead == "A" else bender.die_axis
    along = np.array([1.0, 0, 0]) if lead == "A" else np.array([-1.0, 0, 0])
    low, high = sorted((other, m))
    turn = sum(stick.rotations[low:high]) * (1 if other < m else -1)
    there = rotation(along, turn) @ arcs[other].axis
    sine = np.cross(there, wanted)[0]
    return float(np.degrees(np.arctan2(sine, there @ wanted)))


def samples(tube, keep) -> np.ndarray:
    points = [
        piece.at(part)[0]
        for piece in tube.pieces
        for part in np.linspace(0, 1, max(2, int(piece.stock / 2)))
        if keep(piece.stock_from + part * piece.stock)
    ]
    return np.array(points).reshape(-1, 3)


def points_at(tube, stock: np.ndarray) -> np.ndarray:
    """Where the metal with these stock coordinates lies, (n, 3)."""
    out = np.empty((len(stock), 3))
    for piece in tube.pieces:
        here = (stock >= piece.stock_from - 1e-9) & (stock <= piece.stock_to + 1e-9)
        part = (stock[here] - piece.stock_from)[:, None]
        if piece.n:
            inward = np.cross(piece.axis, piece.along)
            turned = np.radians(piece.angle) * part / piece.stock
            out[here] = piece.start + piece.radius * (
                np.sin(turned) * piece.along + (1 - np.cos(turned)) * inward
            )
        else:
            out[here] = piece.start + part * piece.along
    return out


def turned_about(axis: np.ndarray, centre: np.ndarray, points: np.ndarray, degrees: np.ndarray):
    """Points each turned about an axis through its centre, by Rodrigues' formula."""
    angle, arm = np.radians(degrees)[:, None], points - centre
    along = (arm @ axis)[:, None] * axis
    return (
        centre
        + np.cos(angle) * arm
        + np.sin(angle) * np.cross(axis, arm)
        + (1 - np.cos(angle)) * along
    )


def least(gap, spans, count: int = 24, rounds: int = 9) -> float:
    """Least of a function of arrays over a grid, made finer and finer about the best place."""
    low, high = np.array(spans, dtype=float).T
    first, last, best = low.copy(), high.copy(), np.inf
    for _ in range(rounds):
        axes = [np.linspace(a, b, count) for a, b in zip(first, last, strict=True)]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))
        found = gap(*grid.T)
        at = grid[np.argmin(found)]
        best = min(best, float(found.min()))
        step = 1.5 * (last - first) / (count - 1)
        first, last = np.maximum(low, at - step), np.minimum(high, at + step)
        count = min(count, 12)
    return best
