"""Tubes are found in STEP files that another program made, in many ways.

Outside source: Open CASCADE sweeps, splits, converts, moves and cuts the solids and writes the
files (`step_made.py`). The centreline each was swept along is known, so nothing but the file goes
from the kernel to the code under test. A hundred and more of every way were run once; here a share.
"""

import numpy as np
import pytest

from soapstone.exchange.kernel import hush
from soapstone.exchange.step.reading import bodies
from soapstone.exchange.step.tubes import tubes_in
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from tests.truth import step_made as made
from tests.truth.centrelines import random_centrelines

OD, WALL = 31.8, 2.1
LINES = [line for line in random_centrelines(seed=12, count=12) if 1 < len(line.angles) < 7]
EXACT = 1e-6
"""mm. The file has fifteen digits of surfaces and edges, so only rounding is lost."""


@pytest.fixture(autouse=True)
def _quiet():
    hush()


def found(path):
    """The one tube of a file, with its findings."""
    read = tubes_in(path, bodies(path))
    assert len(read.tubes) == 1, read.left_out
    return read.tubes[0]


def nodes_apart(nodes, line: Centreline) -> float:
    got = walk(line).nodes
    assert got.shape == nodes.shape
    return min(float(np.abs(got - nodes).max()), float(np.abs(got[::-1] - nodes).max()))


def is_the_tube(path, nodes, bound=EXACT, wall=WALL):
    tube = found(path)
    assert nodes_apart(nodes, tube.line) < bound
    assert tube.od == pytest.approx(OD, abs=bound)
    assert tube.wall == (pytest.approx(wall, abs=bound) if wall else None)
    return tube


@pytest.mark.parametrize("way", ["quartered", "carried", "placed", "inches", "mirrored", "bar"])
def test_tubes_are_found_however_they_are_split_and_placed(tmp_path, way):
    path, rng = tmp_path / "tube.step", np.random.default_rng(5)
    for line in LINES[:2]:
        nodes, place = walk(line).nodes, None
        turn, shift = made.rotation(rng), rng.uniform(-500, 500, 3)
        if way == "mirrored":
            turn = turn @ np.diag([1.0, 1.0, -1.0])
        shape = made.swept(line, OD, None if way == "bar" else WALL)
        if way == "quartered":
            shape = made.quartered(shape)
        if way in ("carried", "mirrored"):
            shape = made.moved(shape, turn, shift)
        if way == "placed":
            place = (turn, shift)
        if way in ("carried", "mirrored", "placed"):
            nodes = nodes @ turn.T + shift
        made.write(path, [("leg", shape, place)], "INCH" if way == "inches" else "MM")
        tube = is_the_tube(path, nodes, wall=None if way == "bar" else WALL)
        assert tube.name == "leg"
        assert tube.residual == 0


def test_rational_splines_are_fitted_exactly(tmp_path):
    path = tmp_path / "tube.step"
    shape = made.quartered(made.as_splines(made.swept(LINES[1], OD, WALL)))
    made.write(path, [("leg", shape, None)])
    tube = is_the_tube(path, walk(LINES[1]).nodes)
    assert 0 < tube.residual < 1e-6
    assert "fitted" in str(tube.findings[0])


def test_a_sweep_along_one_spline_is_cut_where_its_curvature_jumps(tmp_path):
    path = tmp_path / "tube.step"
    line = LINES[0]
    made.write(path, [("leg", made.swept(line, OD, WALL, made.one_spline(line)), None)])
    # the kernel itself sweeps to no better than some hundred-thousandths of a mm
    tube = is_the_tube(path, walk(line).nodes, bound=1e-3)
    assert tube.residual < 1e-4


def test_a_loft_through_rings_is_cut_though_its_joints_are_blurred(tmp_path):
    path = tmp_path / "tube.step"
    line = Centreline(
        (10.0, 20.0, 30.0),
        (0.0, 0.6, 0.8),
        (0.0, -0.8, 0.6),
        (120.0, 90.0),
        (70.0,),
        (0.0,),
        (95.0,),
    )
    made.write(path, [("leg", made.lofted(line, OD, step=4.0), None)])
    tube = found(path)
    # the loft itself bulges by a third of a mm where straight and bend meet
    assert nodes_apart(walk(line).nodes, tube.line) < 0.05
    assert 0.1 < tube.residual < 0.5
