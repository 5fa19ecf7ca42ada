"""The tube as it is drawn in the bender, part way through a bend."""

from importlib.resources import files

import numpy as np
import pytest

from soapstone.bend.machine import machine_for
from soapstone.bend.motion import pose_at
from soapstone.bend.pose import stick_of
from soapstone.flow import plan_job


def length(pose):
    return sum(
        float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()) for _, points in pose.parts
    )


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_tube_hangs_together_and_keeps_its_length_while_the_die_turns(share):
    planned = plan_job(files("soapstone.demo") / "stern-arch.toml")
    tube = planned.planned[0]
    where = machine_for(tube.setup, planned.bench.bender)
    stick = stick_of(tube)
    made = []
    for step in tube.bends:
        pose = pose_at(stick, made, step.n, step.lead, where, share * step.loaded)
        ends = [(points[0], points[-1]) for _, points in pose.parts]
        # straights and bends meet end to end, from the lead over the die to the tail
        joints = sum(
            1
            for i, (a, b) in enumerate(ends)
            for c, d in ends[i + 1 :]
            for p in (a, b)
            for q in (c, d)
            if np.linalg.norm(p - q) < 0.5
        )
        assert joints >= len(ends) - 1
        # drawn through chords, bends lose a little; springback gives bends made before a longer arc
        assert length(pose) == pytest.approx(tube.stock, rel=0.01)
        made.append(step.n)


def test_the_lead_turns_with_the_die():
    planned = plan_job(files("soapstone.demo") / "stern-arch.toml")
    tube = planned.planned[0]
    where = machine_for(tube.setup, planned.bench.bender)
    step = tube.bends[0]
    ways = []
    for turned in (0.0, step.loaded):
        lead = pose_at(stick_of(tube), [], step.n, step.lead, where, turned).parts[0][1]
        ways.append((lead[-1] - lead[0]) / np.linalg.norm(lead[-1] - lead[0]))
    assert np.degrees(np.arccos(ways[0] @ ways[1])) == pytest.approx(step.loaded)
    assert ways[0] == pytest.approx([-1, 0, 0])
