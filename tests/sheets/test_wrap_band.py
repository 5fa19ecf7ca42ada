"""Bands: once round the tube, degrees in place, and the right side on top."""

import math

import pytest

from soapstone.plan.order import Turn
from soapstone.sheets.lettering import CAP_HEIGHT
from soapstone.sheets.sketch import Label, Path, label_box
from soapstone.sheets.wrap_band import HEIGHT, LAP, Band, Top, strips, top_degrees
from tests.setups import setup
from tests.sheets.packs import in_order, line, named, planned
from tests.truth.painted import angle_about, line_at_each_bend
from tests.truth.virtual_bender import Bender, Die, X, Z

ROLLS = [0, 90, -40, 150]


def band(od: float, *tops: Top) -> Band:
    return Band(od, "bend 2, mark 412 mm", ("port leg", "triangle: on top"), "A", tops)


def figures(strip) -> dict[str, float]:
    return {m.text: m.at[0] for m in strip if isinstance(m, Label) and m.text.isdecimal()}


def ticks(strip) -> list[float]:
    return [
        m.knots[0][0]
        for m in strip
        if isinstance(m, Path)
        and len(m.knots) == 2
        and m.knots[0][1] == HEIGHT != m.knots[1][1]
        and m.knots[0][0] == m.knots[1][0]
        and m.knots[1][1] > HEIGHT - 5
    ]


@pytest.mark.parametrize("od", [9.5, 19.05, 38.1, 50.8])
def test_a_band_has_a_tick_each_ten_degrees_once_round(od):
    (strip,) = strips(band(od), 170.0)
    assert ticks(strip) == pytest.approx([i / 36 * math.pi * od for i in range(37)])


def test_every_tenth_degree_is_named_where_there_is_room():
    (strip,) = strips(band(38.1), 170.0)
    assert set(figures(strip)) == {str(degree) for degree in range(0, 360, 10)}


def test_strips_of_a_wide_band_join_without_gap_or_overlap():
    around = math.pi * 114.3
    parts = strips(band(114.3), 170.0)
    assert len(parts) == 3
    covered = 0.0
    degrees: list[float] = []
    for strip in parts:
        edge = next(m for m in strip if isinstance(m, Path) and m.pen and m.pen.width == 0.6)
        degrees += [(covered + x) / around * 360 for x in ticks(strip)]
        covered += edge.knots[1][0] - edge.knots[0][0]
    assert covered == pytest.approx(around)
    assert degrees == pytest.approx([10.0 * i for i in range(37)])


@pytest.mark.parametrize("od", [49.0, 51.6, 52.0, 53.9, 60.3, 101.6, 168.3])
def test_no_strip_is_wider_than_the_paper(od):
    for strip in strips(band(od), 170.0):
        widest = max(p[0] for m in strip if isinstance(m, Path) for p in m.knots)
        assert widest <= 170.0 + 1e-9
        assert widest > LAP


@pytest.mark.parametrize("lead", ["A", "B"])
def test_what_is_on_top_is_found_by_turning_a_tube_by_hand(lead):
    """Write degrees clockwise on a tube seen from the tail; roll it; read what has come up."""
    shape = line([300, 220, 250, 180, 200], [80, 35, 120, 60], ROLLS, 100)
    tube = planned([named("tube", shape)], setup(), lead)[0]
    for place in range(len(tube.bends)):
        # every written degree moves clockwise with the tube; top is clock angle 0
        clock = {degree: float(degree) for degree in range(360)}
        for step in tube.bends[: place + 1]:
            clock = {d: (at + step.roll) % 360 for d, at in clock.items()}
        on_top = min(clock, key=lambda d: min(clock[d], 360 - clock[d]))
        assert top_degrees(tube, place) == pytest.approx(on_top, abs=1e-6)


ORDERS = ["1A 2A 3A 4A", "4B 3B 2B 1B", "3A 1A 4B 2B", "2B 4A 1B 3A", "4A 3B 2A 1B"]


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize(
    "swing", ["horizontal left", "horizontal right", "vertical up", "vertical down"]
)
def test_the_triangle_is_on_top_in_the_virtual_bender(order, swing):
    """Draw a line along the stick, bend by the plan, and look where it lies at every bend."""
    plane, side = swing.split()
    shape = line([300, 220, 250, 180, 200], [80, 35, 120, 60], ROLLS, 100)
    turns = tuple(Turn(int(n), lead) for n, lead in order.split())
    plan = in_order([named("tube", shape)], setup(plane=plane, swing=side), [turns])[0]
    lines = line_at_each_bend(plan, Die(100), Bender(side, plane), Z)
    for place, drawn in enumerate(lines):
        on_band = angle_about(-X, drawn, Z)
        assert (top_degrees(plan, place) - on_band + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


def test_the_triangle_stands_under_its_degrees():
    (strip,) = strips(band(38.1, Top(270.0, "port", True)), 170.0)
    head = next(m for m in strip if isinstance(m, Path) and m.closed and len(m.knots) == 3)
    assert head.knots[0][0] == pytest.approx(0.75 * math.pi * 38.1)


@pytest.mark.parametrize("od", [10.0, 12.7, 19.05])
def test_a_thin_band_has_few_figures_of_2_mm_and_more(od):
    (strip,) = strips(band(od), 170.0)
    assert set(figures(strip)) == {"0", "90", "180", "270"}
    sizes = [m.size for m in strip if isinstance(m, Label) and m.text.isdecimal()]
    assert min(sizes) * CAP_HEIGHT >= 2.0


@pytest.mark.parametrize("od", [10.0, 20.0, 25.4, 31.0])
def test_the_words_of_a_thin_band_stand_off_its_degrees(od):
    (strip,) = strips(band(od), 170.0)
    boxes = {m.text: label_box(m) for m in strip if isinstance(m, Label)}
    for words in ("bend 2, mark 412 mm", "port leg", "triangle: on top"):
        assert boxes[words].top <= 0.0
    assert boxes["flap goes under 0"].left > math.pi * od


@pytest.mark.parametrize("od", [60.3, 114.3, 168.3])
def test_every_strip_says_what_it_is_and_no_figure_is_lost_at_a_joint(od):
    parts = strips(band(od), 170.0)
    named: set[str] = set()
    for i, strip in enumerate(parts, start=1):
        words = {m.text for m in strip if isinstance(m, Label)}
        said = {"bend 2, mark 412 mm", "port leg", "A", f"strip {i} of {len(parts)}"}
        assert said <= words
        named |= set(figures(strip))
    assert named == {str(degree) for degree in range(0, 360, 10)}
    widths = [max(ticks(strip)) for strip in parts]
    assert min(widths) > 0.8 * max(widths)
