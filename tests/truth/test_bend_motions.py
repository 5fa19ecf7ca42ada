"""Floor, die and own tail, in the swing, the release and the roll, against dense samples.

Samples are of the virtual bender's tube, on a grid made finer and finer about the nearest place.
No gap given may be above what was sampled; and none may be lower by more than it says it may be.
"""

from dataclasses import replace

import numpy as np
import pytest

from soapstone.bend.clash import FAR, TOLERANCE, bend_nears, roll_nears
from soapstone.bend.machine import DIE_MARGIN, machine
from soapstone.bend.pose import SIDES
from soapstone.bend.travel import HIT_TOLERANCE
from tests.truth.swung import (
    BACK,
    CLAMP,
    CLR,
    FOLLOWER,
    OD,
    SWINGS,
    least,
    made_tube,
    points_at,
    random_stick,
    turned_about,
)
from tests.truth.virtual_bender import Bender, Die

X = np.array([1.0, 0.0, 0.0])
FINE = 0.02
"""mm that the finest samples may be off, and the chords of a rod's arcs."""


def nearer(stick, leg):
    """The same bends with so short a leg between any two."""
    used = [stick.used(n) for n in (1, 2, 3)]
    starts = np.cumsum([stick.arc_from[0], used[0] + leg, used[1] + leg])
    ends = starts + used
    return replace(
        stick,
        stock=float(ends[-1] + 200),
        arc_from=tuple(map(float, starts)),
        arc_to=tuple(map(float, ends)),
    )


class Swung:
    """Bend 2 of 3 being made, the others made before: where its metal is, from samples."""

    def __init__(self, plane, swing, seed, lead, curl=0.0, close=False):
        rng = np.random.default_rng(seed)
        stick = random_stick(rng, 3)
        if curl or close:  # bent back toward die and tail
            stick = replace(stick, rotations=(0.0, *map(float, rng.uniform(-40, 40, 2))))
        if close:
            stick = nearer(stick, float(rng.uniform(0, 55)))
        if curl:
            used = np.radians(curl * (1 + BACK)) * CLR
            longer = used - stick.used(2)
            stick = replace(
                stick,
                stock=stick.stock + longer,
                arc_to=(stick.arc_to[0], stick.arc_to[1] + longer, stick.arc_to[2] + longer),
                arc_from=(*stick.arc_from[:2], stick.arc_from[2] + longer),
                angles=(stick.angles[0], curl, stick.angles[2]),
                loaded=(stick.loaded[0], curl * (1 + BACK), stick.loaded[2]),
            )
        self.stick, self.rng, self.lead, self.swing = stick, rng, lead, swing
        self.bender = Bender(swing, plane)
        self.tube = made_tube(stick, [1, 3], 2, lead, self.bender, Die(CLR, springback=BACK))
        low, high = stick.arc_from[1], stick.arc_to[1]
        ends = ((0.0, low), (high, stick.stock))
        held = (CLAMP, FOLLOWER) if lead == "A" else (FOLLOWER, CLAMP)
        spans = ((0.0, low - held[0]), (high + held[1], stick.stock))
        arcs = ((0.0, stick.arc_to[0]), (stick.arc_from[2], stick.stock))
        i = 0 if lead == "A" else 1
        self.lead_all, self.tail_all = ends[i], ends[1 - i]
        self.lead_span, self.tail_span = spans[i], spans[1 - i]
        self.lead_bent, self.tail_bent = arcs[i], arcs[1 - i]
        self.loaded, self.free = stick.loaded[1], stick.angles[1]

    def swept(self, s, angle):
        centre = CLR * self.bender.side
        return turned_about(self.bender.die_axis, centre, points_at(self.tube, s), angle)

    def let_go(self, s, angle):
        radius = CLR * self.loaded / angle
        centre = radius[:, None] * self.bender.side
        return turned_about(self.bender.die_axis, centre, points_at(self.tube, s), angle)

    def drawn(self, s, angle):
        return points_at(self.tube, s) - np.radians(angle)[:, None] * CLR * X

    def rolled(self, s, turn):
        return turned_about(X, np.zeros(3), points_at(self.tube, s), turn)

    def machine(self, height=None):
        return machine(CLR, OD, CLAMP, FOLLOWER, SIDES[self.swing], (), height)

    def nears(self, height=None):
        found = bend_nears(self.stick, (1, 3), 2, self.lead, self.machine(height))
        return {(near.what, near.part, near.motion): near for near in found}

    def die_distance(self, points):
        axis = self.bender.die_axis
        arm = points - CLR * self.bender.side
        height = np.abs(arm @ axis) - (OD + DIE_MARGIN) / 2
        out = np.linalg.norm(arm - (arm @ axis)[:, None] * axis, axis=1) - (CLR - OD / 2)
        outside = np.hypot(np.maximum(out, 0), np.maximum(height, 0))
        return outside + np.minimum(np.maximum(out, height), 0)


def agrees(near, gap, fine=FINE):
    """Hold a gap that was found against a sampled one."""
    assert near.gap <= gap + fine
    if gap < FAR:
        assert gap <= near.gap + fine + (TOLERANCE if gap > 0 else HIT_TOLERANCE)
    else:
        assert near.gap >= FAR - TOLERANCE - fine


cases = pytest.mark.parametrize(
    ("swing", "lead", "seed"),
    [(swing, lead, seed) for swing in SWINGS for lead in "AB" for seed in range(3)],
)


@cases
def test_the_floor_under_swing_release_and_draw(swing, lead, seed):
    case = Swung(*swing, seed, lead)
    whole = (0.0, case.loaded)
    lowest = {
        ("lead", "swing"): least(lambda s, a: case.swept(s, a)[:, 2], (case.lead_span, whole)),
        ("lead", "release"): least(
            lambda s, a: case.let_go(s, a)[:, 2], (case.lead_span, (case.free, case.loaded))
        ),
        ("tail", "swing"): least(lambda s, a: case.drawn(s, a)[:, 2], (case.tail_span, whole)),
    }
    # the floor at a height where the lowest of all clears by a little, or is hit
    height = -min(lowest.values()) + OD / 2 + case.rng.choice([-8.0, 4.0, 12.0])
    nears = case.nears(max(height, 1.0))
    for (part, motion), low in lowest.items():
        agrees(nears["floor", part, motion], low + max(height, 1.0) - OD / 2)


@cases
def test_the_die_beside_bends_made_before(swing, lead, seed):
    case = Swung(*swing, seed, lead, close=True)
    nears = case.nears()
    stands = least(
        lambda s: case.die_distance(points_at(case.tube, s)), (case.lead_bent,), count=200
    )
    slides = least(
        lambda s, a: case.die_distance(case.drawn(s, a)), (case.tail_bent, (0.0, case.loaded))
    )
    agrees(nears["die", "lead", "swing"], stands - OD / 2)
    agrees(nears["die", "tail", "swing"], slides - OD / 2)


@cases
@pytest.mark.parametrize("curl", [150.0, 175.0])
def test_the_tail_that_the_lead_swings_past(swing, lead, seed, curl):
    case = Swung(*swing, seed, lead, curl)

    def swung(s, u, angle):
        return np.linalg.norm(case.swept(s, angle) - case.drawn(u, angle), axis=1)

    def sprung(s, u, angle):
        whole = np.full_like(angle, case.loaded)
        return np.linalg.norm(case.let_go(s, angle) - case.drawn(u, whole), axis=1)

    nears = case.nears()
    both = (case.lead_span, case.tail_span)
    found = least(swung, (*both, (0.0, case.loaded)), count=40)
    agrees(nears["own tail", "lead", "swing"], found - OD)
    found = least(sprung, (*both, (case.free, case.loaded)), count=40)
    agrees(nears["own tail", "lead", "release"], found - OD)


@cases
@pytest.mark.parametrize("turn", [70.0, -140.0, 250.0])
def test_the_floor_and_the_die_while_it_is_rolled(swing, lead, seed, turn):
    case = Swung(*swing, seed, lead)
    span = tuple(sorted((0.0, turn)))
    lowest = {
        part: least(lambda s, a: case.rolled(s, a)[:, 2], (ends, span))
        for part, ends in (("lead", case.lead_span), ("tail", case.tail_span))
    }
    height = max(1.0, -min(lowest.values()) + OD / 2 + case.rng.uniform(-10, 15))
    found = roll_nears(case.stick, (1, 3), 2, lead, case.machine(height), turn)
    nears = {(near.what, near.part): near for near in found}
    for part, low in lowest.items():
        agrees(nears["floor", part], low + height - OD / 2)
    for part, bent in (("lead", case.lead_bent), ("tail", case.tail_bent)):
        near = least(lambda s, a: case.die_distance(case.rolled(s, a)), (bent, span), count=60)
        agrees(nears["die", part], near - OD / 2)
