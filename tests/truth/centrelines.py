"""Random centrelines: planar, reversing, coiled, nearly straight, past 180 degrees."""

import numpy as np

from soapstone.geometry.centreline import Centreline


def random_centrelines(seed: int, count: int, widest: float = 220.0) -> list[Centreline]:
    """Give centrelines of 0 to 8 bends with legs, angles, rotations and radii of their own."""
    rng = np.random.default_rng(seed)
    return [_one(rng, widest) for _ in range(count)]


def _one(rng: np.random.Generator, widest: float) -> Centreline:
    bends = int(rng.integers(0, 9))
    along = rng.normal(size=3)
    along /= np.linalg.norm(along)
    up = np.cross(along, rng.normal(size=3))
    up /= np.linalg.norm(up)
    wide = rng.choice([rng.uniform(0.5, 1.0), rng.uniform(1, 120), rng.uniform(120, widest)])
    angles = np.where(rng.random(bends) < 0.2, wide, rng.uniform(1, 120, bends))
    flat = rng.choice([0.0, 180.0], bends)
    rotations = np.where(rng.random(bends) < 0.4, flat, rng.uniform(-179.9, 180, bends))
    if bends:
        rotations[0] = 0.0
    return Centreline(
        start=tuple(rng.uniform(-2000, 2000, 3).tolist()),
        along=tuple(along.tolist()),
        up=tuple(up.tolist()),
        legs=tuple(rng.uniform(5, 900, bends + 1).tolist()),
        angles=tuple(angles.tolist()),
        rotations=tuple(rotations.tolist()),
        radii=tuple(rng.uniform(60, 300, bends).tolist()),
    )
