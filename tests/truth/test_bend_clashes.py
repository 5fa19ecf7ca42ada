"""What a tube comes near to in the bender, against the virtual bender and dense samples."""

import numpy as np
import pytest

from soapstone.bend.clash import FAR, TOLERANCE, bend_nears
from soapstone.bend.machine import machine
from soapstone.bend.pose import SIDES
from soapstone.bend.travel import HIT_TOLERANCE
from soapstone.geometry.solids import Box
from tests.truth.swung import (
    BACK,
    CLAMP,
    CLR,
    FOLLOWER,
    OD,
    SIZE,
    SWINGS,
    box_distance,
    made_tube,
    random_stick,
    samples,
)
from tests.truth.virtual_bender import Bender, Die, rotation


@pytest.mark.parametrize(("plane", "swing"), SWINGS)
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("lead", ["A", "B"])
def test_gaps_are_those_of_dense_samples(plane, swing, seed, lead):
    rng = np.random.default_rng(seed)
    stick = random_stick(rng, 3)
    bender, die = Bender(swing, plane), Die(CLR, springback=BACK)
    tube = made_tube(stick, [1, 3], 2, lead, bender, die)
    low, high = stick.arc_from[1], stick.arc_to[1]
    ahead, behind = (
        (low - CLAMP, high + FOLLOWER) if lead == "A" else (high + CLAMP, low - FOLLOWER)
    )
    to_a = (lambda s: s <= min(ahead, behind)), (lambda s: s >= max(ahead, behind))
    on_lead, on_tail = to_a if lead == "A" else to_a[::-1]
    centre, loaded = CLR * bender.side, stick.loaded[1]
    lead_points, tail_points = samples(tube, on_lead), samples(tube, on_tail)
    # a box beside a place that the lead (or the tail) comes past
    where_it_is = rotation(bender.die_axis, loaded / 2) @ (lead_points[-1] - centre) + centre
    at = (tail_points[-1] if seed % 2 else where_it_is) + rng.uniform(20, 45, 3)
    box = Box(tuple(map(float, at)), SIZE)
    where = machine(CLR, OD, CLAMP, FOLLOWER, SIDES[swing], (("box", box),))
    nears = list(bend_nears(stick, frozenset({1, 3}), 2, lead, where))
    swung, slid = [], []
    for angle in np.linspace(0, loaded, 200):
        turned = centre + (lead_points - centre) @ rotation(bender.die_axis, angle).T
        swung.append(box_distance(turned, at).min())
        back = np.array([-np.radians(angle) * CLR, 0, 0])
        slid.append(box_distance(tail_points + back, at).min())
    assert min(*swung, *slid) - OD / 2 < FAR  # near enough to be told exactly
    for part, found in (("lead", min(swung)), ("tail", min(slid))):
        near = next(
            one for one in nears if (one.what, one.part, one.motion) == ("box", part, "swing")
        )
        gap = found - OD / 2
        assert near.gap <= gap + 1e-6
        if gap < FAR:
            assert near.high >= near.gap
            width = TOLERANCE if gap > 0 else HIT_TOLERANCE
            assert gap <= near.gap + width + 1.5  # how far apart the samples are
