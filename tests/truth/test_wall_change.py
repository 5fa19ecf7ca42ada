"""Wall change against published rules and against values worked out apart from this code.

Rules: ASME B31.3-2016 304.2.1 equations 3d and 3e; ASME B31.1 table 102.4.5 as reprinted in
UFC 4-159-01 table 5-4; TEMA RCB-2.31; the European roundness rule as printed by a maker of U-tubes.
The strain limits are elementary plasticity, calculated by hand.
"""

import pytest

from soapstone.check import wall

# R/D: outside plane strain, outside uniaxial, inside plane strain, TEMA, 1 / B31.1, B31.3 in, out
TABLE = [
    (2.0, 0.8000, 0.8944, 1.3333, 1.1250, None, 1.1667, 0.9000),
    (3.0, 0.8571, 0.9258, 1.2000, 1.0833, 0.800, 1.1000, 0.9286),
    (4.0, 0.8889, 0.9428, 1.1429, 1.0625, 0.877, 1.0714, 0.9444),
    (5.0, 0.9091, 0.9535, 1.1111, 1.0500, 0.926, 1.0556, 0.9545),
    (6.0, 0.9231, 0.9608, 1.0909, 1.0417, 0.943, 1.0455, 0.9615),
]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]:g}D")
def test_table_of_rules(row: tuple[float, ...]) -> None:
    """To the table's last digit."""
    ratio, outside, uniaxial, inside, tema, b31_1, b31_3_in, b31_3_out = row
    assert wall.plane_strain_outside(ratio) == pytest.approx(outside, abs=5e-5)
    assert wall.uniaxial_outside(ratio) == pytest.approx(uniaxial, abs=5e-5)
    assert wall.plane_strain_inside(ratio) == pytest.approx(inside, abs=5e-5)
    assert wall.tema_wall_before(ratio) == pytest.approx(tema, abs=5.1e-5)
    assert wall.b31_3_factor_inside(ratio) == pytest.approx(b31_3_in, abs=5e-5)
    assert wall.b31_3_factor_outside(ratio) == pytest.approx(b31_3_out, abs=5e-5)
    allowance = wall.b31_1_wall_before(ratio)
    assert (allowance is None) == (b31_1 is None)
    if allowance is not None:
        assert 1 / allowance == pytest.approx(b31_1, abs=5e-4)


def test_b31_1_interpolates_and_levels_off() -> None:
    assert wall.b31_1_wall_before(3.5) == pytest.approx(1.195)
    assert wall.b31_1_wall_before(10.0) == pytest.approx(1.06)


def test_tema_example() -> None:
    """A public forum's worked case: d0 18, R 48, wall after 0.68 wants 0.744 before."""
    assert 0.68 * wall.tema_wall_before(48 / 18) == pytest.approx(0.744, abs=5e-4)


@pytest.mark.parametrize(("ratio", "percent"), [(2, 10.0), (3, 6.67), (4, 5.0), (6, 5.0)])
def test_european_roundness_rule(ratio: float, percent: float) -> None:
    assert wall.ovality(ratio) == pytest.approx(percent, abs=0.005)


def test_tema_lies_near_the_uniaxial_limit() -> None:
    """1 / TEMA is within 0.7 % of the uniaxial outside wall at 2 D, and closer beyond."""
    for ratio in (2.0, 3.0, 4.0, 6.0):
        uniaxial = wall.uniaxial_outside(ratio)
        assert 1 / wall.tema_wall_before(ratio) == pytest.approx(uniaxial, rel=0.007)
