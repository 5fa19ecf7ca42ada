"""Planted problems for the route designer: a tube is drawn first, then what stands around it.

Every problem has a solution, the planted tube: a random tube, not shortened. It is made hard:
solids fill the short cuts, plates swing close by, walls leave it a window, each as far off the tube
as is drawn by lot for it. What the designer finds with fewer bends while a problem is made is
blocked in turn. All data here is invented.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from soapstone.fit.clearance import KeepOut, least_gap
from soapstone.fit.motion import Hinge, combinations, swung
from soapstone.fit.route.problem import End, RouteProblem, RouteResult, Via
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import sample, walk
from soapstone.geometry.measure import length
from soapstone.geometry.solids import Ball, Box, Cylinder, Solid, turn_matrix
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, unit


@dataclass(frozen=True)
class Tier:
    """How large problems are: ranges of bends and solids, numbers of swings and walls."""

    name: str
    bends: tuple[int, int]
    solids: tuple[int, int]
    swings: int
    walls: int
    seconds: float


TIERS = (
    Tier("1", (1, 3), (3, 7), 0, 0, 0.3),
    Tier("2", (3, 5), (10, 20), 1, 0, 3.0),
    Tier("3", (5, 7), (40, 40), 2, 3, 20.0),
)

OD, CLR, GAP = 38.1, 115.0, 10.0
LEAST = 60.0
Air = tuple[float, float]
"""mm beyond the gap that the planted tube keeps from a solid, at least and at most."""

ROOM: Air = (5.0, 60.0)
"""Air drawn by lot for each solid and swing: what stands around a tube is not built to it."""

HUG: Air = (1.5, 1.5)
"""Next to none: solids hug the planted tube, and leave little to be gained on it."""

KEPT = 1.5
"""mm beyond the gap that the planted tube keeps from walls, whose windows are narrow always."""


@dataclass(frozen=True)
class Planted:
    """A problem and the tube that it was drawn around."""

    problem: RouteProblem
    line: Centreline

    @property
    def bends(self) -> int:
        """Bends of the planted tube."""
        return len(self.line.angles)

    @property
    def length(self) -> float:
        """Length of the planted tube in mm."""
        return length(self.line)


Solver = Callable[[RouteProblem, float], RouteResult]


def planted(tier: Tier, seed: int, solver: Solver | None = None, air: Air = ROOM) -> Planted:
    """Make one problem; with a solver it is hardened against it.

    `air`: mm beyond the gap that the planted tube keeps from each solid and swing, drawn by lot.
    """
    rng = np.random.default_rng([int(tier.name), seed])
    while True:
        line = _tube(int(rng.integers(tier.bends[0], tier.bends[1] + 1)), rng)
        keepouts = list(_walls(line, tier.walls, rng))
        if len(keepouts) < 4 * min(tier.walls, 2):
            continue
        total = int(rng.integers(tier.solids[0], tier.solids[1] + 1))
        keepouts += _swings(line, tier.swings, air, rng)
        spare = max((total - len(keepouts)) // 2, 0) if solver else 0
        _fill(line, keepouts, total - spare, air, rng)
        problem = _problem(line, keepouts, rng)
        if solver is not None:
            problem = _hardened(line, problem, total, solver, air, rng)
        keepouts = list(problem.keepouts)
        _fill(line, keepouts, total, air, rng)
        problem = replace(problem, keepouts=tuple(keepouts))
        least = least_gap(line, OD, problem.keepouts)
        if least is None or least.gap >= GAP + 0.5:
            return Planted(problem, line)


def _tube(bends: int, rng: np.random.Generator) -> Centreline:
    while True:
        legs = LEAST + rng.exponential(170.0, bends + 1)
        angles = rng.uniform(25, 110, bends)
        square = rng.random(bends) < 0.4
        rotations = np.where(
            square, rng.choice([0.0, 90.0, 180.0, -90.0], bends), rng.uniform(-180, 180, bends)
        )
        along = unit(rng.normal(size=3))
        line = Centreline(
            start=vec(rng.uniform(-300, 300, 3)),
            along=vec(along),
            up=vec(any_perpendicular(along)),
            legs=tuple(legs.tolist()),
            angles=tuple(angles.tolist()),
            rotations=(0.0, *rotations[1:].tolist()),
            radii=(CLR,) * bends,
        )
        points = sample(line, 20.0)
        apart = norm(points[:, None] - points[None])
        far = np.abs(np.arange(len(points))[:, None] - np.arange(len(points))) > 24
        if not far.any() or apart[far].min() > 4 * OD:
            return line


def _problem(line: Centreline, keepouts: list[KeepOut], rng: np.random.Generator) -> RouteProblem:
    way = walk(line)
    ends = []
    for at, along in ((way.nodes[0], way.directions[0]), (way.nodes[-1], way.directions[-1])):
        kind = rng.random()
        if kind < 0.75:
            ends.append(End(vec(at), vec(along)))
        elif kind < 0.9:
            lean = unit(along + 0.1 * rng.normal(size=3))
            ends.append(End(vec(at), vec(lean), within=30.0))
        else:
            ends.append(End(vec(at)))
    through = []
    if rng.random() < 0.2:
        points = sample(line, 10.0)
        passed = points[rng.integers(len(points) // 4, 3 * len(points) // 4)]
        through.append(Via(vec(passed + rng.uniform(-5, 5, 3)), 15.0))
    start, end = ends
    return RouteProblem(
        start,
        end,
        through=tuple(through),
        od=OD,
        clr=CLR,
        keepouts=tuple(keepouts),
        min_first=LEAST * 0.9,
        min_straight=LEAST * 0.9,
        min_last=LEAST * 0.9,
        angles=(5.0, 140.0),
    )


def gap_to(solid: Solid, hinges: tuple[Hinge, ...], points: Array, step: float = 1.5) -> float:
    """Least distance in mm of points (n, 3) to a solid over its travel, by dense sampling."""
    if not hinges:
        return float(distance(solid, points).min())
    least = np.inf
    for angles in combinations(hinges, step):
        # seen from the solid: undo the hinges, last first
        seen = points
        for hinge, angle in reversed(list(zip(hinges, angles, strict=True))):
            seen = swung(seen, (hinge,), (-float(angle),))
        least = min(least, float(distance(solid, seen).min()))
    return least


def distance(solid: Solid, points: Array) -> Array:
    """Signed distance of points (n, 3) to a box, cylinder or ball."""
    if isinstance(solid, Ball):
        return norm(points - np.array(solid.at)) - solid.diameter / 2
    if isinstance(solid, Box):
        local = np.abs((points - np.array(solid.at)) @ turn_matrix(solid.turn))
        q = local - np.array(solid.size) / 2
    else:
        assert isinstance(solid, Cylinder)
        start, end = np.array(solid.start), np.array(solid.end)
        axis = unit(end - start)
        along = (points - (start + end) / 2) @ axis
        across = norm(points - (start + end) / 2 - along[:, None] * axis)
        q = np.stack([across - solid.diameter / 2, np.abs(along) - norm(end - start) / 2], axis=1)
    result: Array = norm(np.maximum(q, 0)) + np.minimum(q.max(axis=1), 0)
    return result


def _clear(keepout: KeepOut, points: Array, air: float) -> bool:
    return gap_to(keepout.solid, keepout.hinges, points) >= OD / 2 + GAP + air


def _walls(line: Centreline, count: int, rng: np.random.Generator) -> Iterator[KeepOut]:
    """Walls of four boards each around a window that the tube goes through."""
    way, points = walk(line), sample(line, 5.0)
    order = [i for i in rng.permutation(len(line.legs)) if line.legs[i] > 100]
    made = 0
    for i in order:
        if made == count:
            return
        at = way.nodes[2 * i] + rng.uniform(0.3, 0.7) * (way.nodes[2 * i + 1] - way.nodes[2 * i])
        goal = unit(way.directions[i] + 0.25 * rng.normal(size=3))
        turn, frame = _turn_onto(goal, rng)
        half = OD / 2 + GAP + KEPT + rng.uniform(8, 25, 2)
        shift = rng.uniform(-4, 4, 2)
        for size in (4000.0, 2500.0, 1500.0, 900.0, 600.0):
            boards = list(_boards(f"wall {made + 1}", at, turn, frame, half, shift, size))
            if all(_clear(board, points, KEPT) for board in boards):
                yield from boards
                made += 1
                break


def _turn_onto(goal: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Degrees about x, y, z that bring z onto a direction, with a random spin; and the matrix."""
    spin = rng.uniform(-180, 180)
    x = any_perpendicular(goal)
    y = cross(goal, x)
    c, s = np.cos(np.radians(spin)), np.sin(np.radians(spin))
    frame = np.stack([c * x + s * y, -s * x + c * y, goal], axis=1)
    b = -np.arcsin(np.clip(frame[2, 0], -1, 1))
    a = np.arctan2(frame[2, 1], frame[2, 2])
    g = np.arctan2(frame[1, 0], frame[0, 0])
    return np.degrees([a, b, g]), frame


def _boards(
    name: str, at: Array, turn: Array, frame: Array, half: Array, shift: Array, size: float
) -> Iterator[KeepOut]:
    thick = 12.0
    for sign in (-1.0, 1.0):
        centre = at + frame @ np.array([shift[0] + sign * (half[0] + size / 2), shift[1], 0])
        box = Box(vec(centre), (size, 2 * half[1] + 2 * size, thick), vec(turn))
        yield KeepOut(f"{name} side {sign:+.0f}", box, GAP)
        centre = at + frame @ np.array([shift[0], shift[1] + sign * (half[1] + size / 2), 0])
        box = Box(vec(centre), (2 * half[0], size, thick), vec(turn))
        yield KeepOut(f"{name} end {sign:+.0f}", box, GAP)


def _swings(line: Centreline, count: int, air: Air, rng: np.random.Generator) -> list[KeepOut]:
    """Plates on hinges, as near to the tube as they get of many tries."""
    points = sample(line, 8.0)
    made: list[KeepOut] = []
    while len(made) < count:
        best: tuple[float, KeepOut] | None = None
        kept = rng.uniform(*air)
        for _ in range(25):
            turn, frame = _turn_onto(unit(rng.normal(size=3)), rng)
            size = np.array([rng.uniform(150, 400), rng.uniform(150, 400), rng.uniform(8, 40)])
            near = points[rng.integers(len(points))]
            at = near + unit(rng.normal(size=3)) * rng.uniform(80, 300)
            through = at - frame[:, 0] * size[0] / 2
            low = rng.uniform(-60, 0)
            hinge = Hinge(vec(through), vec(frame[:, 1]), low, low + rng.uniform(40, 90))
            keepout = KeepOut(
                f"flap {len(made) + 1}", Box(vec(at), vec(size), vec(turn)), GAP, (hinge,)
            )
            gap = gap_to(keepout.solid, keepout.hinges, points, 6.0)
            if gap > OD / 2 + GAP + kept + 3.5 and (best is None or gap < best[0]):
                best = gap, keepout
        if best is not None and _clear(best[1], sample(line, 4.0), kept):
            made.append(best[1])
    return made


def _fill(
    line: Centreline, keepouts: list[KeepOut], total: int, air: Air, rng: np.random.Generator
) -> None:
    """Add solids in the short cuts of the tube and close along it."""
    points = sample(line, 6.0)
    while len(keepouts) < total:
        kept = rng.uniform(*air)
        if rng.random() < 0.6:
            a, b = points[rng.integers(len(points), size=2)]
            at = a + rng.uniform(0.2, 0.8) * (b - a) + 30 * rng.normal(size=3)
        else:
            near = points[rng.integers(len(points))]
            at = near + unit(rng.normal(size=3)) * (rng.uniform(60, 250) + kept)
        solid = _fitting(at, points, kept, rng)
        if solid is not None:
            keepouts.append(KeepOut(f"solid {len(keepouts) + 1}", solid, GAP))


def _fitting(at: Array, points: Array, air: float, rng: np.random.Generator) -> Solid | None:
    """Give the largest of some solids at a place that keeps clear of the tube; None: none does."""
    need = OD / 2 + GAP + air
    if norm(points - at).min() < need + 15:
        return None
    turn, frame = _turn_onto(unit(rng.normal(size=3)), rng)
    shape = rng.uniform(0.25, 1.0, 3)
    kind = rng.integers(3)
    for size in (500.0, 350.0, 250.0, 180.0, 120.0, 80.0, 50.0, 30.0):
        solid: Solid
        if kind == 0:
            solid = Box(vec(at), vec(size * shape), vec(turn))
        elif kind == 1:
            reach = frame[:, 2] * size * shape[0]
            solid = Cylinder(vec(at - reach), vec(at + reach), size * shape[1] * 0.7)
        else:
            solid = Ball(vec(at), size * 0.8)
        if distance(solid, points).min() >= need:
            return solid
    return None


def _hardened(
    line: Centreline,
    problem: RouteProblem,
    total: int,
    solver: Solver,
    air: Air,
    rng: np.random.Generator,
) -> RouteProblem:
    """Block, solid by solid, what the solver finds with fewer bends than planted."""
    points = sample(line, 6.0)
    keepouts = list(problem.keepouts)
    bends = len(line.angles)
    for _ in range(2 * (total - len(keepouts))):
        if len(keepouts) >= total:
            break
        result = solver(replace(problem, keepouts=tuple(keepouts), max_bends=bends), 0.6)
        if result.route is None or (result.route.bends >= bends and rng.random() < 0.5):
            break
        found = sample(result.route.line, 10.0)
        off = norm(found[:, None] - points[None]).min(axis=1)
        weights = np.maximum(off - OD, 0) ** 2
        if weights.sum() <= 0:
            break
        at = found[rng.choice(len(found), p=weights / weights.sum())]
        solid = _fitting(at, points, rng.uniform(*air), rng)
        if solid is not None:
            keepouts.append(KeepOut(f"solid {len(keepouts) + 1}", solid, GAP))
    return replace(problem, keepouts=tuple(keepouts))
