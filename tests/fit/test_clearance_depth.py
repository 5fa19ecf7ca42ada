"""How deep a tube is inside a closed mesh, against shapes whose depth is known without a mesh."""

import numpy as np
import pytest

from soapstone.fit.clearance import Clearance, KeepOut, clearance_findings, clearances
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.distance import TOLERANCE
from soapstone.geometry.solids import Mesh
from tests.truth.gaps import gap_at
from tests.truth.random_keepouts import round_about

OD = 20.0
TURNS = (
    Hinge((0.0, 0.0, 300.0), (0.0, 1.0, 0.0), -20.0, 30.0),
    Hinge((50.0, 0.0, 0.0), (0.0, 0.3, 1.0), -30.0, 30.0),
)
STRAIGHT = Centreline((-300.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (600.0,))


def box(x: float, y: float, z: float) -> Mesh:
    corners = np.array([[i, j, k] for i in (-x, x) for j in (-y, y) for k in (-z, z)]) / 2
    faces = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    halves = [[f[i] for i in half] for f in faces for half in ((0, 1, 2), (0, 2, 3))]
    return Mesh(corners, np.array(halves))


@pytest.mark.parametrize("count", [0, 1, 2])
@pytest.mark.parametrize("sizes", [(200.0, 160.0, 80.0), (120.0, 120.0, 120.0)])
def test_a_box_of_triangles_is_as_deep_as_half_its_least_side(
    sizes: tuple[float, float, float], count: int
) -> None:
    one = clearances(STRAIGHT, OD, [KeepOut("box", box(*sizes), 0.0, TURNS[:count])])[0]
    depth = -min(sizes) / 2 - OD / 2
    assert one.gap <= one.high + 1e-9
    assert one.gap <= depth + TOLERANCE
    assert one.high >= depth - 1e-6
    assert one.high - one.gap < 0.05
    assert one.high < depth + 0.05


@pytest.mark.parametrize("seed", [37, 61, 77])
def test_the_depth_in_a_hose_that_swings_on_two_hinges_is_certain_to_a_twentieth(seed: int) -> None:
    """All round its middle the walls are as far off, and as deep over much of its length."""
    line, od, keepout = round_about(seed, 2_000, 2)
    assert len(keepout.hinges) == 2
    one = clearances(line, od, [keepout])[0]
    assert 0 <= one.high - one.gap < 0.05
    assert one.high == pytest.approx(gap_at(line, od, keepout, one.along, one.angles), abs=0.005)


def test_a_finding_says_how_fine_the_depth_is_where_that_is_coarse() -> None:
    at = (0.0, 0.0, 0.0)
    coarse = Clearance("hull", 5.0, -60.5, -60.2, 100.0, at, at, ())
    fine = Clearance("hull", 5.0, -60.5, -60.47, 100.0, at, at, ())
    assert "not finer than 0.3 mm" in clearance_findings("leg", [coarse])[0].what
    assert "finer" not in clearance_findings("leg", [fine])[0].what
