"""Drawings: the near hides the far, everything is inside its box, SVG says the same."""

import json
from xml.etree import ElementTree

import numpy as np
import pytest
import typst

from soapstone.geometry.centreline import Centreline
from soapstone.sheets import palette
from soapstone.sheets.bender_view import draw_bender, tail_shown
from soapstone.sheets.lettering import FONT_FOLDER, size_to_fit, text_width
from soapstone.sheets.level_view import draw_level
from soapstone.sheets.machine import stage
from soapstone.sheets.projection import CORNER, FRONT, RIGHT, TOP, looking
from soapstone.sheets.roll_view import draw_roll
from soapstone.sheets.sketch import (
    Box,
    Label,
    Path,
    Pen,
    arc,
    bounds,
    circle,
    label_box,
    line,
    moved,
    rectangle,
)
from soapstone.sheets.sketch_svg import to_svg
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.tube_view import Look, Tube, draw_tube, draw_tubes
from soapstone.sheets.typesetting import TEMPLATES
from tests.sheets.packs import pair
from tests.sheets.printed import glyphs, outside, overlaps, pages

RED = Look("#ff0000", "#ff0000", "", "#ff0000", "#ff0000")
BLUE = Look("#0000ff", "#0000ff", "", "#0000ff", "#0000ff")
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def printed(sketch, box: Box) -> np.ndarray:
    """A sketch as pixels (rows, columns, 3), 10 to the mm, blue, green, red."""
    return printed_page(sketch, box).render(scale=25.4 / 72 * 10).to_numpy()


def printed_page(sketch, box: Box):
    """A sketch as a page of its own."""
    source = (TEMPLATES / "drawing.typ").read_text("utf-8") + (
        f"\n#set page(width: {box.width}mm, height: {box.height}mm, margin: 0mm)"
        '\n#set text(font: "Barlow")\n#draw(json(bytes(sys.inputs.sketch)))'
    )
    inputs = {"sketch": json.dumps(to_data(sketch, box))}
    pdf = typst.compile(source.encode(), font_paths=[FONT_FOLDER], sys_inputs=inputs)
    return pages(pdf)[0]


def straight(start, along, length, up=Z) -> Centreline:
    return Centreline(start, along, up, (length,))


def colour_at(image: np.ndarray, x: float, y: float, box: Box) -> tuple[int, ...]:
    pixel = image[int((box.top - y) * 10), int((x - box.left) * 10)]
    return tuple(int(v) for v in pixel[2::-1])


@pytest.mark.parametrize("swapped", [False, True])
def test_the_nearer_of_two_crossing_tubes_hides_the_other(swapped):
    box = Box(-10, -10, 10, 10)
    near = Tube(straight((-80.0, -50.0, 0.0), X, 160.0), 40.0, 2.0, RED)
    far = Tube(straight((0.0, 50.0, -80.0), Z, 160.0, X), 40.0, 2.0, BLUE)
    tubes = (far, near) if swapped else (near, far)
    image = printed(draw_tubes(tubes, FRONT, 0.1), box)
    assert colour_at(image, 0.05, 0.05, box) == (255, 0, 0)
    assert colour_at(image, 0.05, 6.0, box) == (0, 0, 255)


def test_tubes_each_in_front_of_the_other_somewhere_are_both_right():
    """The first rises toward the viewer, the second leads away: no order of whole tubes will do."""
    box = Box(-12, -12, 12, 12)
    angles, radii = (90.0, 90.0), (60.0, 60.0)
    bow = Centreline((-60.0, 100.0, -100.0), Z, X, (40.0, 30.0, 40.0), angles, (0.0, 0.0), radii)
    over = Tube(straight((-75.0, -60.0, -60.0), X, 150.0), 24.0, 2.0, RED)
    steep = Tube(
        straight((0.0, 200.0, -90.0), tuple(_unit([0.0, -1.0, 0.5])), 400.0, X), 24.0, 2.0, BLUE
    )
    image = printed(draw_tubes((over, steep, Tube(bow, 24.0, 2.0, RED)), FRONT, 0.1), box)
    # at z = -60 the steep one is at y = 140, behind `over` at -60
    assert colour_at(image, 0.05, -6.0, box) == (255, 0, 0)
    # at z = 60 it is at y = -100, before everything
    assert colour_at(image, 0.05, 6.0, box) == (0, 0, 255)


def _unit(v):
    return np.array(v) / np.linalg.norm(v)


def test_a_tube_that_crosses_itself_shows_its_nearer_length():
    """A coil of a little more than a turn, drawn out toward the viewer."""
    box = Box(-30, -30, 30, 30)
    angles = (179.0, 179.0)
    pitch = Centreline(
        (0.0, 0.0, 0.0),
        tuple(_unit([1.0, -0.12, 0.0])),
        Z,
        (150.0, 10.0, 150.0),
        angles,
        (0.0, 0.0),
        (100.0, 100.0),
    )
    sketch = draw_tube(
        Tube(pitch, 30.0, 2.0, Look("#00ff00", "#ff0000", "", "#000000", "#000000")), FRONT, 0.1
    )
    image = printed(sketch, Box(-30, -30, 30, 30))
    # both ends are straights (green); where the last crosses the first the edge lines of the near
    # one run on unbroken: along its middle there is no black
    last = pitch_direction(pitch)
    middle = [colour_at(image, *(last * t), box) for t in (8.0, 9.0, 10.0)]
    assert all(c != (0, 0, 0) for c in middle)


def pitch_direction(line_: Centreline) -> np.ndarray:
    along = np.array(line_.along)
    return np.array([along[0], along[2]])


def test_a_tube_is_as_wide_as_it_is():
    """OD 40 at 1:10 is 4 mm of paper, outline included to half its width."""
    box = Box(-2, -10, 22, 10)
    tube = Tube(straight((0.0, 0.0, 0.0), X, 200.0), 40.0, 2.0)
    image = printed(draw_tube(tube, FRONT, 0.1, outline=0.2), box)
    inked = np.flatnonzero(image[:, 120, :].min(axis=1) < 250)
    assert (inked[-1] - inked[0] + 1) / 10 == pytest.approx(4.2, abs=0.15)


def test_a_bend_is_drawn_on_its_circle():
    box = Box(-2, -2, 30, 30)
    bend = Centreline((0.0, 0.0, 0.0), X, Z, (0.0, 0.0), (90.0,), (0.0,), (200.0,))
    look = Look("#ffffff", "#ffffff", "", "#000000", "#ffffff")
    image = printed(draw_tube(Tube(bend, 40.0, 2.0, look), FRONT, 0.1, outline=0.2), box)
    rows, columns = np.nonzero(image[:, :, 0] < 60)
    x, y = columns / 10 + box.left, box.top - rows / 10
    radius = np.hypot(x, y - 20.0)
    angle = np.degrees(np.arctan2(x, 20.0 - y))
    inside = (angle > 8) & (angle < 82)
    edges = np.minimum(abs(radius[inside] - 18.0), abs(radius[inside] - 22.0))
    assert edges.max() < 0.2


@pytest.mark.parametrize("view", [FRONT, TOP, RIGHT, CORNER, looking("", 120.0, 20.0)])
def test_views_are_seen_square_and_right_handed(view):
    frame = np.array([view.right, view.up, view.toward])
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)


@pytest.mark.parametrize("size", [(88.0, 100.0), (44.0, 40.0)])
@pytest.mark.parametrize(("plane", "swing"), [("horizontal", "left"), ("vertical", "up")])
@pytest.mark.parametrize("order", ["1A 2A 3A", "3A 1A 2B", "2B 1B 3A"])
def test_drawings_of_the_bender_stay_in_their_frame(size, plane, swing, order):
    width, height = size
    page = Box(0.0, 0.0, width, height).grown(0.2)
    for tube in pair(order, plane=plane, swing=swing):
        for place in range(len(tube.bends)):
            here = stage(tube, place, tail_shown(tube.setup.clr, tube.setup.follower))
            for draw in (draw_bender, draw_roll, draw_level):
                box = bounds(draw(here, width, height))
                assert page.left <= box.left
                assert box.right <= page.right
                assert page.bottom <= box.bottom
                assert box.top <= page.top


def test_an_arc_strays_no_more_than_a_printer_can_show():
    circled = arc((0.0, 0.0), 100.0, 10.0, 350.0, Pen(0.1))
    for knot, (one, two), end in zip(
        circled.knots, circled.handles, circled.knots[1:], strict=False
    ):
        for t in np.linspace(0, 1, 9):
            point = (
                (1 - t) ** 3 * np.array(knot)
                + 3 * (1 - t) ** 2 * t * np.array(one)
                + 3 * (1 - t) * t**2 * np.array(two)
                + t**3 * np.array(end)
            )
            assert np.hypot(*point) == pytest.approx(100.0, abs=0.03)


def test_bounds_hold_pens_and_turned_text():
    marks = (line(((0, 0), (10, 0)), Pen(2.0)), Label("HHHH", (20.0, 0.0), 5.0, turn=90.0))
    box = bounds(marks)
    assert box.bottom == pytest.approx(-text_width("HHHH", 5.0) / 2)
    assert box.top >= text_width("HHHH", 5.0) / 2 - 1e-9
    assert box.left == pytest.approx(-1.0)
    shifted = bounds(moved(marks, 3.0, -4.0))
    assert (shifted.left, shifted.top) == pytest.approx((box.left + 3, box.top - 4))


def test_svg_is_well_formed_to_scale_and_reads_no_markup():
    name = '</text><script>alert("x")</script> & "quotes"'
    sketch = (
        rectangle(Box(0, 0, 40, 20), palette.MIST, Pen(0.3)),
        circle((10, 10), 5, pen=Pen(0.2, dash=(1, 0.5))),
        Label(name, (20, 10), 4.0, turn=30),
    )
    root = ElementTree.fromstring(to_svg(sketch, Box(0, 0, 40, 20), title="a <tube>"))
    space = "{http://www.w3.org/2000/svg}"
    assert (root.get("width"), root.get("height")) == ("40mm", "20mm")
    assert root.find(f"{space}text").text == name
    assert root.find(f"{space}title").text == "a <tube>"
    assert root.find(f".//{space}script") is None
    outline = root.findall(f"{space}path")[0].get("d")
    assert outline == "M0 20L40 20L40 0L0 0Z"


def test_letters_are_as_wide_as_the_page_sets_them():
    box = Box(0, 0, 120, 20)
    words = "Hook the tape on the A end 1047"
    image = printed((Label(words, (2.0, 5.0), 7.0, anchor="left"),), box)
    columns = np.nonzero((image.min(axis=2) < 128).any(axis=0))[0]
    width = (columns[-1] - columns[0]) / 10
    said = text_width(words, 7.0)
    assert width <= said + 0.2
    assert width >= 0.93 * said


def test_size_to_fit_fits_and_is_never_larger_than_asked():
    assert text_width("wide words", size_to_fit("wide words", 20.0, 9.0)) <= 20.0 + 1e-9
    assert size_to_fit("x", 50.0, 4.0) == 4.0
    assert size_to_fit("", 50.0, 4.0) == 4.0


def test_a_label_stands_where_it_is_put():
    box = Box(0, 0, 60, 30)
    for anchor in ("left", "middle", "right"):
        label = Label("HEH", (30.0, 10.0), 8.0, anchor=anchor)
        image = rendered_label(label, box)
        rows, columns = np.nonzero(image)
        found = Box(
            columns.min() / 10, 30 - rows.max() / 10, columns.max() / 10, 30 - rows.min() / 10
        )
        wanted = label_box(label)
        assert found.left == pytest.approx(wanted.left, abs=0.9)
        assert found.right == pytest.approx(wanted.right, abs=0.9)
        assert found.bottom == pytest.approx(10.0, abs=0.2)
        assert found.top == pytest.approx(wanted.top, abs=0.2)


def rendered_label(label: Label, box: Box) -> np.ndarray:
    return printed((label,), box).min(axis=2) < 128


def test_a_path_is_data_with_y_down_for_the_templates():
    data = to_data((Path(((1.0, 2.0), (3.0, 4.0)), pen=Pen(0.5)),), Box(0, 0, 10, 10))
    assert data["marks"][0]["from"] == [1.0, 8.0]
    assert data["marks"][0]["to"] == [[3.0, 6.0]]


def test_text_over_text_would_be_found():
    """The reading that all page tests lean on does see two labels over each other."""
    box = Box(0, 0, 60, 30)
    over = (Label("first", (20.0, 10.0), 8.0), Label("second", (22.0, 11.0), 8.0))
    apart = (Label("first", (20.0, 5.0), 8.0), Label("second", (22.0, 15.0), 8.0))
    assert overlaps(glyphs(printed_page(over, box)))
    assert not overlaps(glyphs(printed_page(apart, box)))
    assert outside(
        glyphs(printed_page((Label("edge", (1.0, 15.0), 8.0),), box)), printed_page(apart, box)
    )
