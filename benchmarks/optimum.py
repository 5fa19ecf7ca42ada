"""The shortest tube by another way than the designer's, to hold the designer's lengths against.

Sequential quadratic programming (SciPy's SLSQP) on the corners, with clearances from densely
sampled points and gradients by differences: slow, and nothing in it is the designer's. It starts
from the planted tube, from strays of it and from tubes it is given; what it ends with counts when
the certificate of `soapstone.fit.clearance` holds.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from planted import distance

from soapstone.fit.clearance import KeepOut, least_gap
from soapstone.fit.motion import combinations, swung
from soapstone.fit.route import End, RouteProblem
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.measure import length
from soapstone.geometry.vectors import Array, norm, unit
from soapstone.shape.corners import line_from_corners

ON_LEG, ON_ARC = 40, 16
"""Points at which a straight and an arc are looked at."""

NEAR = 120.0
"""mm: a keep-out further off than this from a start is looked at only when the tube comes to it."""

STEP = 1e-4
"""mm by which a corner is moved to see how everything changes."""

CERTAIN = 0.012
"""mm by which a certified gap may be short."""


@dataclass(frozen=True)
class Corners:
    """Inner corners of k bends from numbers: on the ray of a fixed end, else anywhere."""

    problem: RouteProblem
    bends: int

    def of(self, x: Array) -> Array:
        """Corners (m, k + 2, 3), ends included, of numbers (m, n)."""
        a, b = self.problem.start, self.problem.end
        all_ = np.empty((len(x), self.bends + 2, 3))
        all_[:, 0], all_[:, -1] = a.at, b.at
        at = 0
        for i in range(1, self.bends + 1):
            if i == 1 and is_fixed(a):
                all_[:, i] = np.array(a.at) + x[:, at, None] * unit(np.array(a.along))
                at += 1
            elif i == self.bends and is_fixed(b):
                all_[:, i] = np.array(b.at) - x[:, at, None] * unit(np.array(b.along))
                at += 1
            else:
                all_[:, i] = x[:, at : at + 3]
                at += 3
        return all_

    def numbers(self, corners: Array) -> Array:
        """Numbers of corners (k + 2, 3)."""
        a, b = self.problem.start, self.problem.end
        found: list[float] = []
        for i in range(1, self.bends + 1):
            if i == 1 and is_fixed(a):
                found.append(float((corners[1] - np.array(a.at)) @ unit(np.array(a.along))))
            elif i == self.bends and is_fixed(b):
                found.append(float((np.array(b.at) - corners[-2]) @ unit(np.array(b.along))))
            else:
                found.extend(corners[i].tolist())
        return np.array(found)


def is_fixed(end: End) -> bool:
    """Whether an end's direction is given, without leave to lean."""
    return end.along is not None and end.within == 0


@dataclass(frozen=True)
class Measured:
    """Tubes measured: straights, angles in radians, sampled points by piece, lengths; m tubes."""

    straights: Array
    angles: Array
    pieces: tuple[Array, ...]
    lengths: Array
    directions: Array


def measured(corners: Array, radius: float) -> Measured:
    """Measure tubes by their corners (m, k + 2, 3)."""
    steps = np.diff(corners, axis=1)
    size = norm(steps)
    along = steps / np.maximum(size, 1e-9)[..., None]
    cosine = np.einsum("mki,mki->mk", along[:, :-1], along[:, 1:])
    aside = along[:, 1:] - cosine[..., None] * along[:, :-1]
    sine = norm(aside)
    angles = np.arctan2(sine, cosine)
    reach = radius * np.tan(angles / 2)
    inward = aside / np.maximum(sine, 1e-9)[..., None]
    straights = size.copy()
    straights[:, :-1] -= reach
    straights[:, 1:] -= reach
    pieces = []
    count = corners.shape[1] - 2
    for i in range(count + 1):
        low = reach[:, i - 1] if i else np.zeros(len(corners))
        share = np.linspace(0, 1, ON_LEG)[None, :] * np.maximum(straights[:, i], 0)[:, None]
        share = share + low[:, None]
        pieces.append(corners[:, i, None] + share[..., None] * along[:, i, None])
        if i < count:
            phi = np.linspace(0, 1, ON_ARC)[None, :] * angles[:, i, None]
            start = corners[:, i + 1] - reach[:, i, None] * along[:, i]
            pieces.append(
                start[:, None]
                + radius * np.sin(phi)[..., None] * along[:, i, None]
                + radius * (1 - np.cos(phi))[..., None] * inward[:, i, None]
            )
    total = straights.sum(axis=1) + radius * angles.sum(axis=1)
    return Measured(straights, angles, tuple(pieces), total, along)


def gaps(keepout: KeepOut, points: Array) -> Array:
    """Least distance (m,) from points (m, p, 3) to a keep-out over its travel."""
    flat = points.reshape(-1, 3)
    if not keepout.hinges:
        standing: Array = distance(keepout.solid, flat).reshape(points.shape[:2]).min(axis=1)
        return standing
    least = np.full(len(points), np.inf)
    for angles in combinations(keepout.hinges, 2.0):
        seen = flat
        for hinge, angle in reversed(list(zip(keepout.hinges, angles, strict=True))):
            seen = swung(seen, (hinge,), (-float(angle),))
        found = distance(keepout.solid, seen).reshape(points.shape[:2]).min(axis=1)
        least = np.minimum(least, found)
    return least


@dataclass
class Programme:
    """One problem for the solver, for a number of bends and with margins in mm by keep-out."""

    shape: Corners
    margins: Array
    watched: list[tuple[int, int]]

    def broken(self, x: Array) -> Array:
        """What must be at least 0, (m, c), of numbers (m, n)."""
        problem = self.shape.problem
        tube = measured(self.shape.of(x), problem.clr)
        low, high = np.radians(problem.angles)
        rows = [tube.straights[:, :1] - problem.min_first]
        rows += [tube.straights[:, 1:-1] - problem.min_straight]
        rows += [tube.straights[:, -1:] - problem.min_last]
        rows += [problem.clr * (tube.angles - low), problem.clr * (high - tube.angles)]
        for end, at in ((problem.start, 0), (problem.end, -1)):
            if end.along is not None and not is_fixed(end):
                cosine = tube.directions[:, at] @ unit(np.array(end.along))
                rows.append(200 * (cosine - np.cos(np.radians(end.within)))[:, None])
        for via in problem.through:
            off = [norm(piece - np.array(via.at)).min(axis=1) for piece in tube.pieces]
            rows.append((via.within - np.min(off, axis=0))[:, None])
        for piece, i in self.watched:
            keepout = problem.keepouts[i]
            need = problem.od / 2 + keepout.gap + self.margins[i]
            rows.append((gaps(keepout, tube.pieces[piece]) - need)[:, None])
        return np.concatenate(rows, axis=1)

    def slopes(self, x: Array) -> Array:
        """How `broken` changes with each number (c, n)."""
        moved = np.concatenate([x[None] + STEP * np.eye(len(x)), x[None] - STEP * np.eye(len(x))])
        found = self.broken(moved)
        result: Array = ((found[: len(x)] - found[len(x) :]) / (2 * STEP)).T
        return result

    def length(self, x: Array) -> float:
        """Length in mm of the tube of numbers (n,)."""
        return float(measured(self.shape.of(x[None]), self.shape.problem.clr).lengths[0])

    def pull(self, x: Array) -> Array:
        """How the length changes with each number (n,)."""
        moved = np.concatenate([x[None] + STEP * np.eye(len(x)), x[None] - STEP * np.eye(len(x))])
        found = measured(self.shape.of(moved), self.shape.problem.clr).lengths
        result: Array = (found[: len(x)] - found[len(x) :]) / (2 * STEP)
        return result


def _watched(shape: Corners, x: Array, extra: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Pairs of piece and keep-out that are near each other."""
    problem = shape.problem
    pieces = measured(shape.of(x[None]), problem.clr).pieces
    near = set(extra)
    for i, keepout in enumerate(problem.keepouts):
        need = problem.od / 2 + keepout.gap
        for j, piece in enumerate(pieces):
            if gaps(keepout, piece)[0] < need + NEAR:
                near.add((j, i))
    return sorted(near)


def polish(problem: RouteProblem, corners: Array) -> Centreline | None:
    """Shorten one tube from its corners (k + 2, 3), ends included; None: it ends broken."""
    from scipy.optimize import minimize

    shape = Corners(problem, len(corners) - 2)
    x = shape.numbers(corners)
    margins = np.full(len(problem.keepouts), 0.02)
    watched: list[tuple[int, int]] = []
    for _ in range(4):
        watched = _watched(shape, x, watched)
        programme = Programme(shape, margins, watched)
        done = minimize(
            programme.length,
            x,
            jac=programme.pull,
            method="SLSQP",
            constraints={
                "type": "ineq",
                "fun": lambda x, p=programme: p.broken(x[None])[0],
                "jac": programme.slopes,
            },
            options={"maxiter": 60, "ftol": 1e-4},
        )
        x = done.x
        if not np.isfinite(x).all():
            return None
        line = kept(problem, shape.of(x[None])[0])
        if isinstance(line, Centreline):
            return line
        if line is None or line.max() > 60:
            return None
        margins = margins + line + 0.01 * (line > 0)
    return None


def kept(problem: RouteProblem, corners: Array) -> Centreline | Array | None:
    """Give the tube if it keeps everything; what each certified gap is short of; None: no tube."""
    tube = measured(corners[None], problem.clr)
    if not_bendable(problem, tube) or not_led(problem, tube) or crosses_itself(tube, problem.od):
        return None
    line = line_from_corners("tube", [vec(corner) for corner in corners], problem.clr)[0]
    if line is None:
        return None
    short = np.zeros(len(problem.keepouts))
    for i, keepout in enumerate(problem.keepouts):
        found = least_gap(line, problem.od, [keepout])
        if found is not None:
            short[i] = max(keepout.gap - found.gap - CERTAIN, 0.0)
    return short if short.any() else line


def not_bendable(problem: RouteProblem, tube: Measured) -> bool:
    """Whether a straight is too short, or an angle beyond its limits."""
    low, high = problem.angles
    least = np.full(tube.straights.shape[1], problem.min_straight)
    least[0], least[-1] = problem.min_first, problem.min_last
    degrees = np.degrees(tube.angles[0])
    if (tube.straights[0] < least - 0.01).any():
        return True
    return bool(degrees.min() < low - 0.01 or degrees.max() > high + 0.01)


def not_led(problem: RouteProblem, tube: Measured) -> bool:
    """Whether an end leans too far, or a via is passed too far off."""
    for end, at in ((problem.start, 0), (problem.end, -1)):
        if end.along is not None:
            cosine = tube.directions[0, at] @ unit(np.array(end.along))
            if not np.degrees(np.arccos(np.clip(cosine, -1, 1))) <= end.within + 0.01:
                return True
    points = np.concatenate([piece[0] for piece in tube.pieces])
    return any(norm(points - np.array(v.at)).min() > v.within + 0.1 for v in problem.through)


def crosses_itself(tube: Measured, od: float) -> bool:
    """Whether straights that do not follow each other come too near."""
    legs = [piece[0] for piece in tube.pieces[::2]]
    return any(
        norm(legs[i][:, None] - legs[j][None]).min() < od
        for i in range(len(legs))
        for j in range(i + 2, len(legs))
    )


def strays(corners: Array, count: int, rng: np.random.Generator) -> list[Array]:
    """Corners moved at random, ends kept."""
    found = []
    for i in range(count):
        moved = corners.copy()
        moved[1:-1] += (40.0, 100.0, 200.0)[i % 3] * rng.normal(size=moved[1:-1].shape)
        found.append(moved)
    return found


def optimum(
    problem: RouteProblem, given: Iterable[Array], bends: int, count: int, seed: int
) -> float:
    """Least length in mm that comes of tubes by their corners, and of `count` strays of each.

    Only tubes of `bends` bends count; from a tube with one more, each corner is left out in turn.
    Infinite where all end broken.
    """
    if bends == 0:
        return float(norm(np.subtract(problem.end.at, problem.start.at)))
    rng = np.random.default_rng(seed)
    starts: list[Array] = []
    for corners in given:
        if len(corners) - 2 == bends:
            starts += [corners, *strays(corners, count, rng)]
        elif len(corners) - 2 == bends + 1:
            starts += [np.delete(corners, i, axis=0) for i in range(1, len(corners) - 1)]
    best = np.inf
    for start in starts:
        line = polish(problem, start)
        if line is not None:
            best = min(best, length(line))
    return best
