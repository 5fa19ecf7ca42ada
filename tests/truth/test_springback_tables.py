"""Springback in closed form against values worked out apart from this code.

Unloading by M / (E I) is beam theory (Timoshenko, Strength of Materials; Hosford and Caddell, Metal
Forming: both from memory). The values were computed from the closed forms by hand calculation:
they check the arithmetic here, and are no independent measurement. What measurements say of such
forms is in test_springback_series.py. Flow curves: Kalpakjian and Schmid, table 2.3.
"""

import pytest

from soapstone.bench.sections import TubeSection
from soapstone.bench.springback import (
    moment_hardening,
    moment_thick,
    moment_thin,
    thin_second_moment,
    unloading_fraction,
)

HARDENING = [
    (15.875, 1.000, 47.6, 315.0, 0.54, 117_000.0, 0.627),
    (38.1, 1.651, 114.3, 1275.0, 0.45, 193_000.0, 1.838),
    (38.1, 2.108, 114.3, 530.0, 0.26, 205_000.0, 1.080),
]
PLASTIC = [
    (38.1, 2.108, 114.3, 414.0, 205_000.0, 1.470, 1.466),
    (38.1, 1.651, 114.3, 220.0, 205_000.0, 0.771, 0.770),
    (25.4, 1.651, 76.2, 276.0, 68_900.0, 2.945, 2.936),
]


@pytest.mark.parametrize(("od", "wall", "clr", "sy", "e", "thin", "thick"), PLASTIC)
def test_perfectly_plastic_tube_loses_these_degrees_of_90(
    od: float, wall: float, clr: float, sy: float, e: float, thin: float, thick: float
) -> None:
    tube = TubeSection(od, wall)
    by_thin = unloading_fraction(moment_thin(tube, clr, e, sy), clr, e, thin_second_moment(tube))
    by_thick = unloading_fraction(moment_thick(tube, sy), clr, e, tube.second_moment)
    assert 90 * by_thin == pytest.approx(thin, abs=0.001)
    assert 90 * by_thick == pytest.approx(thick, abs=0.001)


@pytest.mark.parametrize(("od", "wall", "clr", "k", "n", "e", "degrees"), HARDENING)
def test_hardening_tube_loses_these_degrees_of_90(
    od: float, wall: float, clr: float, k: float, n: float, e: float, degrees: float
) -> None:
    tube = TubeSection(od, wall)
    lost = unloading_fraction(moment_hardening(tube, clr, k, n), clr, e, thin_second_moment(tube))
    assert 90 * lost == pytest.approx(degrees, abs=0.001)


def test_section_of_a_common_tube() -> None:
    """38.1 x 2.108 mm, from the annulus formulas; 1.871 kg/m for steel."""
    tube = TubeSection(38.1, 2.108)
    assert tube.area == pytest.approx(238.356, abs=0.001)
    assert tube.second_moment == pytest.approx(38_728.9, abs=0.1)
    assert tube.elastic_modulus == pytest.approx(2033.0, abs=0.05)
    assert tube.plastic_modulus == pytest.approx(2733.9, abs=0.05)
    assert tube.mass_per_metre(7850.0) == pytest.approx(1.871, abs=0.0005)


@pytest.mark.parametrize(("od", "wall", "pounds"), [(1.9, 0.145, 2.72), (2.375, 0.154, 3.65)])
def test_mass_of_pipe_as_tabulated(od: float, wall: float, pounds: float) -> None:
    """NPS 1 1/2 and 2, schedule 40, lb/ft (ASME B36.10, from memory; the table cuts its digits)."""
    tube = TubeSection(25.4 * od, 25.4 * wall)
    assert tube.mass_per_metre(7850.0) * 0.3048 / 0.45359237 == pytest.approx(pounds, abs=0.01)
