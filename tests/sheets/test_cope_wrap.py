"""A template wrapped the wrong way round is a scrapped tube: its hand is checked."""

import numpy as np
import pytest

from soapstone.check.cope.profile import EndFrame
from soapstone.sheets.cope_wrap import on_paper

OD = 38.1


@pytest.mark.parametrize("degrees", [10.0, 100.0, 250.0])
def test_the_template_has_the_tubes_hand_with_its_print_outside(degrees):
    frame = EndFrame(np.zeros(3), np.array([0.0, 0.6, 0.8]), np.array([1.0, 0.0, 0.0]), 100.0)

    def on_tube(angle, deep):
        return frame.at + deep * frame.back + OD / 2 * frame.ways(np.array([angle]))[0]

    # how the surface moves for a mm to the right, and for a mm up the paper
    step = 1e-4
    here = on_tube(degrees, 5.0)
    turned = on_paper(degrees + step, 5.0, OD, 50.0)[0] - on_paper(degrees, 5.0, OD, 50.0)[0]
    right = (on_tube(degrees + step, 5.0) - here) / turned
    raised = on_paper(degrees, 5.0 + step, OD, 50.0)[1] - on_paper(degrees, 5.0, OD, 50.0)[1]
    up = (on_tube(degrees, 5.0 + step) - here) / raised
    outward = frame.ways(np.array([degrees]))[0]
    assert np.cross(right, up) == pytest.approx(outward, abs=1e-4), "true size, and not mirrored"
