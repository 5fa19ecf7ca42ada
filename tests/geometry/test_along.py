"""Places along a centreline, against samples."""

import numpy as np
import pytest

from soapstone.geometry.along import nearest_along, places_at
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import sample
from soapstone.geometry.measure import length

LINE = Centreline(
    (10.0, 20.0, 30.0),
    (0.0, 0.6, 0.8),
    (0.0, -0.8, 0.6),
    (200.0, 0.0, 180.0),
    (70.0, 230.0),
    (0.0, -50.0),
    (115.0, 90.0),
)


def test_equal_distances_lie_equally_far_apart_and_directions_lead_on():
    alongs = np.linspace(0.0, length(LINE), 4001)
    points, directions = places_at(LINE, alongs)
    steps = np.diff(points, axis=0) / np.diff(alongs)[:, None]
    assert np.linalg.norm(steps, axis=1) == pytest.approx(1.0, abs=1e-4)
    assert np.linalg.norm(steps - directions[:-1], axis=1).max() < 0.01


def test_nearest_places_are_as_near_as_any_sample():
    points = np.random.default_rng(1).uniform(-300, 500, (200, 3))
    along, off = nearest_along(LINE, points)
    there, _ = places_at(LINE, along)
    assert np.linalg.norm(there - points, axis=1) == pytest.approx(off, abs=1e-9)
    dense = sample(LINE, 0.5)
    least = np.linalg.norm(points[:, None] - dense[None], axis=2).min(axis=1)
    assert np.all(off <= least + 1e-9)
    assert np.all(off >= least - 0.3)


def test_a_place_on_the_line_is_its_own_nearest():
    alongs = np.array([0.0, 100.0, 250.0, 400.0, 600.0, length(LINE)])
    along, off = nearest_along(LINE, places_at(LINE, alongs)[0])
    assert along == pytest.approx(alongs, abs=1e-6)
    assert off == pytest.approx(0.0, abs=1e-6)
