"""Calibration of twelve real bends, whose springback was published.

TubeBEND: Oz, Knoche, Yazdani, Engel, Van Laerhoven, Univ. Siegen, arXiv:2509.10272v1 (2025), data
Zenodo 16614082. OD 22, wall 1.0, all commanded to 47 degrees. Reading the last arc station as the
bent angle after springback is our inference from the data's description.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from soapstone.bench.calibrate import fit, weak_prior
from soapstone.bench.trial_checks import lot_change

COMMANDED = 47.0


def final_angles(*runs: str) -> np.ndarray:
    text = (Path(__file__).parent / "data" / "tubebend_springback.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return np.array([float(row["final_deg"]) for row in rows if not runs or row["exp"] in runs])


def test_mean_and_spread_of_the_series_are_recovered() -> None:
    """Published numbers give 2.118 mean and 0.187 standard deviation (of twelve)."""
    final = final_angles()
    known = fit(np.full(12, COMMANDED), final, weak_prior())
    at_mean = known.dial(float(final.mean())) - final.mean()
    assert at_mean == pytest.approx(2.118, abs=0.002)
    assert known.sigma == pytest.approx(0.187, abs=0.02)


def test_interval_of_the_series_holds_its_readings_and_is_not_wasteful() -> None:
    final = final_angles()
    known = fit(np.full(12, COMMANDED), final, weak_prior())
    low, high = known.interval(final)
    assert np.mean((low <= COMMANDED) & (high >= COMMANDED)) >= 11 / 12
    assert np.all(high - low < 2 * 2.8 * 0.187)


def test_a_changed_setting_is_noticed_as_a_changed_lot() -> None:
    """Bends 70 and 165 differ from the like ones in mandrel retract timing alone: 0.4 degrees."""
    like = final_angles("71", "72", "73", "162", "163", "164")
    older = fit(np.full(like.size, COMMANDED), like, weak_prior())
    other = final_angles("70", "165")
    finding = lot_change(older, np.full(2, COMMANDED), other, "retract 0")
    assert finding is not None
    assert "less" in finding.what


def test_the_same_setting_again_is_no_change() -> None:
    older = fit(np.full(3, COMMANDED), final_angles("71", "72", "73"), weak_prior())
    again = final_angles("162", "163", "164")
    assert lot_change(older, np.full(3, COMMANDED), again, "again") is None
