"""The best that can be done with a tube half made, by a general optimiser and plain reckoning.

Nothing here is the package's: the tube is followed bend by bend with rotation matrices, and SciPy's
SLSQP moves marks, angles, rolls, cuts and the part's place in space, from several starts.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

Array = np.ndarray


@dataclass(frozen=True)
class Half:
    """A tube half made; bends in order from A. mm and degrees.

    `places` where each bend's stock begins (A leading throughout), `planes` how far its plane is
    turned, `angles` as finished, `held` as on the die; the first `made` of them are facts.
    """

    stock: float
    clr: float
    springback: float
    clamp: float
    follower: float
    most: float
    places: Array
    planes: Array
    angles: Array
    held: Array
    made: int
    further: bool


@dataclass(frozen=True)
class Goal:
    """Where both ends are wanted, as places and directions, and what may pass in mm and degrees."""

    ends: Array
    ways: Array
    off: float
    askew: float


def numbers(half: Half) -> Array:
    rest = slice(half.made, None)
    return np.concatenate(
        ([0.0, half.stock], half.places[rest], half.angles[rest], half.planes[rest], np.zeros(6))
    )


def laid_out(half: Half, x: Array) -> tuple[Array, Array, Array, Array, float, float, Array]:
    """Places, angles, planes, stock used, the cuts, and how the part is moved."""
    free = len(half.angles) - half.made
    parts = np.split(x[2:-6], 3)
    places, angles, planes = half.places.copy(), half.angles.copy(), half.planes.copy()
    for all_, part in zip((places, angles, planes), parts, strict=True):
        all_[half.made :] = part
    assert len(parts[0]) == free
    held = half.held + (1 + half.springback) * (angles - half.angles)
    used = half.clr * np.radians(held)
    return places, angles, planes, used, x[0], x[1], x[-6:]


def followed(half: Half, x: Array) -> tuple[Array, Array]:
    """Ends (2, 3) and directions at them (2, 3)."""
    places, angles, planes, used, cut_a, cut_b, pose = laid_out(half, x)
    at, frame = np.zeros(3), np.eye(3)  # columns: travel, toward the bend's middle, axis
    edge = cut_a
    first = frame[:, 0].copy()
    plane = planes[0]
    for i in range(len(angles)):
        at = at + (places[i] - edge) * frame[:, 0]
        frame = frame @ Rotation.from_rotvec([np.radians(planes[i] - plane), 0, 0]).as_matrix()
        plane = planes[i]
        turn, radius = np.radians(angles[i]), used[i] / np.radians(angles[i])
        at = at + radius * (np.sin(turn) * frame[:, 0] + (1 - np.cos(turn)) * frame[:, 1])
        frame = frame @ Rotation.from_rotvec([0, 0, turn]).as_matrix()
        edge = places[i] + used[i]
    at = at + (cut_b - edge) * frame[:, 0]
    moved = Rotation.from_rotvec(np.radians(pose[3:])).as_matrix()
    ends = np.array([np.zeros(3), at]) @ moved.T + pose[:3]
    return ends, np.array([first, frame[:, 0]]) @ moved.T


def straights(half: Half, x: Array) -> Array:
    """What is more than nothing when clamp, follower, stick and bender have what they need."""
    places, angles, _, used, cut_a, cut_b, _ = laid_out(half, x)
    edges = np.concatenate(([0.0], places + used))
    rest = range(half.made, len(angles))
    room = [places[i] - edges[i] - half.follower for i in rest]
    room += [half.stock - edges[i + 1] - half.clamp for i in rest]
    room += [places[0] - cut_a, cut_b - edges[-1], cut_a, half.stock - cut_b]
    room += [angles[i] - 1.0 for i in rest]
    held = half.held + (1 + half.springback) * (angles - half.angles)
    room += [half.most - held[i] for i in rest]
    return np.array(room)


def misses(half: Half, goal: Goal, x: Array) -> Array:
    """Misses of both ends as multiples of what may pass, places first."""
    ends, ways = followed(half, x)
    apart = np.linalg.norm(ends - goal.ends, axis=1) / goal.off
    lean = 2 * np.arcsin(np.minimum(np.linalg.norm(ways - goal.ways, axis=1) / 2, 1.0))
    return np.concatenate((apart, np.degrees(lean) / goal.askew))


def best_miss(half: Half, goal: Goal, starts: int, seed: int) -> float:
    """Least, over several starts, of the worst miss of what lands best; 1 and less is landed."""
    rng = np.random.default_rng(seed)
    begin = numbers(half)
    free = len(half.angles) - half.made
    spread = np.concatenate(
        (
            np.zeros(2),
            np.full(free, 40.0),
            np.full(free, 10.0),
            np.full(free, 30.0),
            np.full(6, 2.0),
        )
    )

    def cost(x: Array) -> float:
        ends, ways = followed(half, x)
        off = ((ends - goal.ends) / goal.off) ** 2
        lean = (np.degrees(ways - goal.ways) / goal.askew) ** 2
        return float(off.sum() + lean.sum())

    room = {"type": "ineq", "fun": lambda x: straights(half, x)}
    best = np.inf
    for number in range(starts):
        x = begin if number == 0 else begin + spread * rng.normal(size=len(begin))
        done = minimize(cost, x, method="SLSQP", constraints=room, options={"maxiter": 300})
        if np.isfinite(done.x).all() and straights(half, done.x).min() > -1e-3:
            best = min(best, float(misses(half, goal, done.x).max()))
        if best <= 0.2:
            break
    return best
