"""A job's keep-outs become solids; their mirror images are as near to a mirrored tube."""

import numpy as np
import pytest

from soapstone.fit.clearance import KeepOut, clearances
from soapstone.fit.keepouts import keepouts_for, mirrored, turn_of
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.moves import mirror
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Rod, box_mesh, turn_matrix
from soapstone.job.files import job_from_text
from tests.cli.running import is_clean, soapstone

LINE = Centreline(
    (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.6, 0.8), (300.0, 200.0, 250.0), (50.0, 70.0),
    (0.0, 110.0), (115.0, 115.0),
)  # fmt: skip
HINGES = (
    Hinge((100.0, 40.0, 0.0), (0.2, 1.0, 0.3), -20.0, 45.0),
    Hinge((0.0, -50.0, 30.0), (0.0, 0.1, 1.0), 0.0, 30.0),
)
SOLIDS = [
    Box((420.0, -250.0, 120.0), (120.0, 80.0, 60.0), (20.0, -35.0, 50.0)),
    Cylinder((300.0, -250.0, -50.0), (420.0, -200.0, 160.0), 70.0),
    Ball((350.0, -220.0, 20.0), 90.0),
    HalfSpace((0.0, -260.0, 0.0), (0.1, 1.0, 0.2)),
    box_mesh(Box((420.0, -250.0, 120.0), (120.0, 80.0, 60.0), (20.0, -35.0, 50.0))),
    Rod(
        Centreline((300.0, -250.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (150.0, 60.0), (40.0,),
                   (0.0,), (80.0,)),
        30.0,
    ),
]  # fmt: skip


@pytest.mark.parametrize("solid", SOLIDS, ids=lambda solid: type(solid).__name__)
@pytest.mark.parametrize("hinges", [(), HINGES[:1], HINGES], ids=["still", "one", "two"])
def test_a_mirrored_tube_is_as_far_from_the_mirrored_keep_out(solid, hinges):
    at, normal = (30.0, -20.0, 10.0), (0.3, 1.0, -0.4)
    keepout = KeepOut("thing", solid, 10.0, hinges)
    (there,) = clearances(LINE, 38.1, [keepout])
    (here,) = clearances(mirror(LINE, at, normal), 38.1, [mirrored(keepout, at, normal)])
    assert here.gap == pytest.approx(there.gap, abs=0.05)
    assert np.isfinite(there.gap)


@pytest.mark.parametrize(
    "turn", [(0, 0, 0), (20, -35, 50), (-170, 88, 3), (10, 90, 0), (15, -90, 40), (180, 0, 180)]
)
def test_a_turn_read_from_its_matrix_makes_that_matrix(turn):
    matrix = turn_matrix(turn)
    assert np.allclose(turn_matrix(turn_of(matrix)), matrix, atol=1e-9)


JOB = """
units = "mm"
[[keepout]]
name = "door"
box = { at = [0, 0, 0], size = [10, 20, 30] }
hinge = { through = [0, 0, 0], along = [0, 0, 1], from = 30, to = -10 }
[[keepout]]
name = "floor"
halfspace = { at = [0, 0, -500], normal = [0, 0, 1] }
gap = 5
[[keepout]]
name = "the other"
tube = "b"
[[tube]]
name = "a"
tubing = { od = 25, wall = 2, material = "304" }
gap = 12
points = [[100, 0, 0], [100, 0, 100]]
[[tube]]
name = "b"
tubing = { od = 25, wall = 2, material = "304" }
points = [[200, 0, 0], [200, 0, 100]]
"""


def test_gaps_hinges_and_other_tubes_are_taken_from_the_job():
    job = job_from_text(JOB)
    rod = Centreline((200.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (100.0,))
    for_a = keepouts_for(job, job.tube("a"), {"b": (rod, 25.0)})
    assert [(one.name, one.gap) for one in for_a] == [("door", 12), ("floor", 5), ("the other", 12)]
    assert (for_a[0].hinges[0].start, for_a[0].hinges[0].stop) == (-10, 30)
    for_b = keepouts_for(job, job.tube("b"), {"b": (rod, 25.0)})
    assert [one.name for one in for_b] == ["door", "floor"], "a tube is no keep-out to itself"
    without = keepouts_for(job, job.tube("a"), {})
    assert [one.name for one in without] == ["door", "floor"]


def test_a_mesh_that_cannot_be_read_is_told_with_the_jobs_key(tmp_path):
    (tmp_path / "scan.stl").write_bytes(b"no mesh at all")
    (tmp_path / "job.toml").write_text(
        'units = "mm"\n[[keepout]]\nname = "outboard"\nmesh = { file = "scan.stl" }\n'
        '[[tube]]\nname = "rail"\ntubing = { od = 38.1, wall = 1.65, material = "304" }\n'
        "points = [[0, 0, 0], [500, 0, 0]]\n"
    )
    pack = ("-o", tmp_path / "pack.pdf")
    for command in (("check",), ("sheet", *pack)):
        refused = soapstone(command[0], tmp_path / "job.toml", *command[1:])
        assert refused.code == 2
        assert is_clean(refused)
        for words in ("job.toml", 'keepout "outboard".mesh.file', "scan.stl", "expected STL"):
            assert words in refused.err
