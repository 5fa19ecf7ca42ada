"""A tube that comes back to itself is told so, and one that does not is left in peace."""

import pytest

from soapstone.fit.self_clearance import self_clearance, self_clearance_findings
from soapstone.geometry.centreline import Centreline

OD = 38.0
WAYS = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def tube(legs, angles, rotations, radius=100.0) -> Centreline:
    return Centreline((0.0, 0.0, 0.0), *WAYS, legs, angles, rotations, (radius,) * len(angles))


def test_the_legs_of_a_u_are_two_radii_apart() -> None:
    found = self_clearance(tube((500.0, 500.0), (180.0,), (0.0,)), OD)
    assert found is not None
    assert found.gap == pytest.approx(200 - OD, abs=0.011)
    assert found.gap <= 200 - OD <= found.high + 1e-9
    (a, b), (p, q) = found.along, found.points
    assert b - a >= 314
    assert abs(p[1] - q[1]) == pytest.approx(200.0)


def test_turns_of_a_coil_run_side_by_side() -> None:
    """Flat legs of 300 between quarter turns; one turn climbs by a rotation of 2 degrees a bend."""
    coil = tube((300.0,) * 9, (90.0,) * 8, (0.0, *(2.0,) * 7))
    found = self_clearance(coil, OD)
    assert found is not None
    assert 0 < found.gap + OD < 60


def test_a_flat_coil_runs_into_itself() -> None:
    coil = tube((300.0,) * 7, (90.0,) * 6, (0.0,) * 6)
    found = self_clearance(coil, OD)
    assert found is not None
    assert found.gap == pytest.approx(-OD, abs=0.011)
    finding = self_clearance_findings("hoop", found, 10.0)[0]
    assert finding.severity == "stop"
    assert "38.0 mm into itself" in finding.what


def test_a_leg_that_passes_near_another_is_found_with_its_place() -> None:
    """Three quarter turns bring the last leg across the first; rotations lift it over it."""
    line = tube((600.0, 200.0, 200.0, 600.0), (90.0, 90.0, 90.0), (0.0, 12.0, 12.0))
    found = self_clearance(line, OD)
    assert found is not None
    assert found.gap < 2 * 100 - OD - 20
    finding = self_clearance_findings("loop", found, 200.0)[0]
    assert "of itself" in finding.what
    assert self_clearance_findings("loop", found, found.gap) == []


@pytest.mark.parametrize(
    "line",
    [
        tube((900.0,), (), ()),
        tube((40.0, 40.0), (30.0,), (0.0,)),
    ],
)
def test_a_tube_too_short_to_come_back_has_no_such_gap(line: Centreline) -> None:
    assert self_clearance(line, OD) is None
    assert self_clearance_findings("leg", None, 10.0) == []


@pytest.mark.parametrize("angle", [5.0, 30.0, 90.0, 150.0])
def test_legs_that_meet_in_a_bend_do_not_count_as_near(angle: float) -> None:
    """However small the bend: what counts is the bend's diameter apart, unless it returns."""
    found = self_clearance(tube((400.0, 400.0), (angle,), (0.0,), 60.0), OD)
    assert found is not None
    assert found.gap > 2 * 60 - OD - 0.02 or angle > 90
