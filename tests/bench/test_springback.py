"""Springback from physics: its limits, and the prior made of it."""

import math

import pytest

from soapstone.bench.materials import material
from soapstone.bench.sections import TubeSection
from soapstone.bench.springback import moment_thick, moment_thin, springback, springback_guess

TUBE = TubeSection(38.1, 1.65)
THIN_RING = math.pi * TUBE.mean_radius**3 * TUBE.wall


def test_moment_at_the_radius_of_first_yield_is_that_of_an_elastic_tube() -> None:
    e, yield_strength = 200_000.0, 250.0
    radius = e * TUBE.mean_radius / yield_strength
    elastic = yield_strength * THIN_RING / TUBE.mean_radius
    assert moment_thin(TUBE, radius, e, yield_strength) == pytest.approx(elastic, rel=1e-9)


def test_moment_on_a_tight_die_is_fully_plastic() -> None:
    tight = moment_thin(TUBE, 1e-6, 200_000.0, 250.0)
    assert tight == pytest.approx(4 * TUBE.mean_radius**2 * TUBE.wall * 250.0, rel=1e-9)
    assert tight == pytest.approx(moment_thick(TUBE, 250.0), rel=0.001)


def test_a_tube_that_never_yields_is_refused() -> None:
    with pytest.raises(ValueError, match="never yields"):
        moment_thin(TUBE, 1e6, 200_000.0, 250.0)


def test_stronger_metal_and_larger_radii_spring_back_more() -> None:
    soft, hard = material("1010"), material("1020 DOM")
    assert springback(TUBE, 115.0, hard) > springback(TUBE, 115.0, soft)
    assert springback(TUBE, 200.0, soft) > springback(TUBE, 115.0, soft)


@pytest.mark.parametrize("name", ["1010", "1020 DOM", "304", "4130", "6061-T6", "Ti-3Al-2.5V"])
def test_prior_reaches_the_range_that_shops_see(name: str) -> None:
    """Trade notes speak of overbending by 3 to 8 %: the prior must not rule such bends out."""
    guess = springback_guess(TUBE, 115.0, material(name))
    assert guess.mean - 2 * guess.sd < 0.05
    assert guess.mean + 3 * guess.sd > 0.03
    assert guess.sd >= 0.3 * guess.mean


def test_prior_without_a_tube_is_wide_and_without_a_yielding_one_still_a_number() -> None:
    assert springback_guess(None, 115.0, material("304")).sd >= 0.05
    slender = springback_guess(TUBE, 1e6, material("304"))
    assert math.isfinite(slender.mean)
    assert slender.sd > 0.05
