"""The stick as a ruler: places to scale, labels apart."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.quantities import parse_tape
from soapstone.sheets import palette
from soapstone.sheets.sketch import Label, Path, label_box
from soapstone.sheets.spread import spread
from soapstone.sheets.stick import BODY, MARGIN, stick_ruler, stick_strip
from soapstone.sheets.words import Numbers
from tests.setups import setup
from tests.sheets.packs import line, named, planned

WIDTH = 186.0
METRIC = Numbers("mm", parse_tape("1 mm"), 0.5)


def tube(bends: int, seed: int = 1):
    rng = np.random.default_rng(seed)
    legs = rng.uniform(60, 200, bends + 1)
    legs[0] = 10.0
    angles = rng.uniform(10, 60, bends)
    rotations = [0.0, *rng.uniform(-170, 170, bends - 1)]
    return planned([named("tube", line(legs, angles, rotations, 100))], setup())[0]


def test_marks_stand_where_the_tape_would_put_them():
    plan = tube(3)
    ruler = stick_ruler(plan, METRIC, WIDTH)
    scale = (WIDTH - 2 * MARGIN) / plan.stock
    lines = [
        m.knots[0][0]
        for m in ruler
        if isinstance(m, Path) and m.pen and m.pen.colour == palette.EMBER and m.pen.width == 0.7
    ]
    assert lines == pytest.approx([MARGIN + b.mark * scale for b in plan.bends])
    words = {m.text for m in ruler if isinstance(m, Label)}
    assert {f"{b.stock_mark:.0f}" for b in plan.bends} <= words


def test_shaded_bands_are_the_stock_each_bend_uses():
    plan = tube(4)
    scale = (WIDTH - 2 * MARGIN) / plan.stock
    shaded = [
        (m.knots[0][0], m.knots[1][0])
        for m in stick_ruler(plan, METRIC, WIDTH)
        if isinstance(m, Path) and m.fill == palette.CLAY and m.knots[2][1] == BODY
    ]
    wanted = [(MARGIN + b.arc_from * scale, MARGIN + b.arc_to * scale) for b in plan.bends]
    assert np.array(shaded) == pytest.approx(np.array(wanted))


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("bends", [1, 2, 5, 9, 14, 22])
def test_labels_keep_apart_and_on_the_page(units, bends):
    numbers = Numbers(units, parse_tape("1 mm" if units == "mm" else "1/32 in"), 0.5)
    for ruler in (stick_ruler(tube(bends), numbers, WIDTH), stick_strip(tube(bends), WIDTH, 1)):
        boxes = [label_box(m) for m in ruler if isinstance(m, Label)]
        for i, box in enumerate(boxes):
            assert box.left >= -0.5
            assert box.right <= WIDTH + 0.5
            assert not any(box.overlaps(other) for other in boxes[:i])


wishes = st.lists(st.floats(0, 180), min_size=1, max_size=12).map(sorted)


@settings(max_examples=60)
@given(wishes, st.floats(1, 12))
def test_spread_labels_keep_order_and_room(places, width):
    centres = spread(places, [width] * len(places), 0.0, 180.0)
    assert all(b - a >= width - 1e-9 for a, b in pairwise(centres))
    assert centres[0] >= width / 2 - 1e-9
    assert centres[-1] <= 180 - width / 2 + 1e-9


@settings(max_examples=60)
@given(wishes)
def test_labels_that_have_room_stay_at_home(places):
    if all(b - a >= 1.0 for a, b in pairwise(places)):
        centres = spread(places, [1.0] * len(places), -1.0, 181.0)
        assert centres == pytest.approx(places)
