"""The smallest box against another method: scipy's simplex from many starts, on sampled points."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.reach import body_of
from soapstone.yard.smallest_box import smallest_box
from tests.truth.surfaces import surface

STARTS = 4
SAMPLED = 1e-3
"""What points leave out of a box: of rings 1 - cos(pi / 72), of arcs (R + r)(1 - cos(a / 48))."""


def tube(seed):
    rng = np.random.default_rng(seed)
    n = 1 + seed % 4
    rotations = (0.0, *rng.uniform(-180, 180, n - 1))
    legs, angles = tuple(rng.uniform(40, 600, n + 1)), tuple(rng.uniform(10, 150, n))
    start, along, up = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    return Centreline(start, along, up, legs, angles, rotations, (115.0,) * n)


@pytest.mark.parametrize("seed", [1, 3])
def test_no_other_search_finds_a_smaller_box(seed):
    line = tube(seed)
    points = surface(line, 38.1, steps=24)
    points = points[ConvexHull(points).vertices]
    starts = np.random.default_rng(seed).uniform(-1, 1, (STARTS, 3))

    def volume(turn):
        return float(np.ptp(points @ Rotation.from_rotvec(turn).as_matrix(), axis=0).prod())

    found = min(
        minimize(volume, start, method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 100.0}).fun
        for start in starts
    )
    box = smallest_box(body_of([(line, 38.1)]))
    assert box.volume <= found * (1 + SAMPLED)
    assert box.least <= found * (1 + SAMPLED)
