"""The tables of a tube: its corners, its legs and bends, and its marks; the first two to type in.

Corners, and legs and bends, are the same shape said in two ways: what is typed into one is in the
other at once.
"""

from collections.abc import Callable, Iterable, Sequence
from functools import partial

from nicegui import ui

from soapstone.exchange.job_toml import with_points
from soapstone.flow.reshaping import line_of, with_corner, with_legs, without_corner
from soapstone.geometry.centreline import Centreline
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units, format_fine, parse_angle, parse_length
from soapstone.web.desk import Edit
from soapstone.web.look import block, entry, press, slab, words
from soapstone.web.panels.desk_page import DeskPage

AXES = ("x", "y", "z")


def bare_text(length: float, units: Units) -> str:
    """Write a length without its unit, as it stands in a field."""
    return format_fine(length, units).removesuffix(" mm").removesuffix('"')


def head(names: Iterable[str]) -> None:
    """Make the head of a table."""
    with block("tr"):
        for name in names:
            block("th", "", name)


def axis_letters() -> None:
    """Write x, y and z over three fields that stand beside each other."""
    for axis in AXES:
        words(axis, kind="quiet small letter")


def three_fields(
    label: str, name: Callable[[str], str], shown: Sequence[str], put: Callable[[int, str], object]
) -> None:
    """Make three fields beside each other, one for each axis, by the `name` of each.

    `put` gets which of them was typed into, from 0, and what.
    """
    words(label, kind="quiet small")
    with block("div", "three"):
        axis_letters()
        for axis, letter in enumerate(AXES):
            entry(name(letter), shown[axis], partial(put, axis), hidden_label=True)


def corners(page: DeskPage) -> None:
    """Show the corners, ends included, to type in."""
    tube = page.tube
    if tube is None:
        return
    wish = page.desk.now.job.tube(tube.name)
    with slab():
        words("Corners", "h2")
        if wish.points is None:
            words(_elsewhere(page, tube.name), kind="quiet")
            return
        last = len(wish.points) - 1
        with block("div", "scroll"), block("table", "chalked"):
            head(("", *AXES, ""))
            for number, point in enumerate(wish.points):
                with block("tr"):
                    block("td", "", corner_name(number, last))
                    for axis in range(3):
                        with block("td"):
                            _coordinate(page, tube.name, number, last, axis, point[axis])
                    with block("td"):
                        _corner_buttons(page, tube.name, number, last)


def corner_name(number: int, last: int) -> str:
    """Give what a corner is called: A, then the bends by their numbers, then B."""
    return {0: "A", last: "B"}.get(number, str(number))


def _elsewhere(page: DeskPage, name: str) -> str:
    wish = page.desk.now.job.tube(name)
    if wish.mirror is not None:
        return f"It is the mirror image of {wish.mirror.of}: change that one."
    if wish.route is not None:
        return "It is a route that is still to be found: see Route."
    if wish.points is not None:
        return "As its corners lie, no tube can be bent: move them under Corners, or undo."
    return "It is given by its legs and bends: change those."


def _coordinate(page: DeskPage, name: str, number: int, last: int, axis: int, value: float) -> None:
    units = page.desk.now.job.units
    corner = corner_name(number, last)

    def typed(text: str) -> None:
        def edit(job_text: str) -> str:
            points = [list(point) for point in page.desk.now.job.tube(name).points or ()]
            points[number][axis] = parse_length(text, units)
            return with_points(job_text, {name: [(p[0], p[1], p[2]) for p in points]})

        page.change(edit, f"corner {corner} of {name} moved")

    label = f"Corner {corner}, {AXES[axis]}"
    entry(label, bare_text(value, units), typed, hidden_label=True)


def _corner_buttons(page: DeskPage, name: str, number: int, last: int) -> None:
    def add(text: str) -> str:
        return with_corner(text, page.desk.now.job, name, number)

    def remove(text: str) -> str:
        return without_corner(text, page.desk.now.job, name, number)

    corner = corner_name(number, last)
    with block("div", "tight"):
        if number < last:
            done = f"corner put into {name}"
            label = f"Put a corner after {corner}"
            press("+", partial(page.change, add, done), "small", aria_label=label)
        if 0 < number < last:
            done = f"corner {corner} of {name} taken away"
            label = f"Take corner {corner} away"
            press("−", partial(page.change, remove, done), "small", aria_label=label)


def legs(page: DeskPage) -> None:
    """Show straights, rotations and angles, to type in."""
    tube = page.tube
    if tube is None:
        return
    now = page.desk.now
    line = line_of(now.job, now.bench, tube.name)
    with slab():
        words("Legs and bends", "h2")
        wish = now.job.tube(tube.name)
        if line is None or (wish.points is None and wish.bends is None):
            words(_elsewhere(page, tube.name), kind="quiet")
            return
        units = now.job.units
        with block("div", "scroll"), block("table", "chalked"):
            head(("", "straight before", "turned", "angle"))
            for bend in range(len(line.angles)):
                with block("tr", data_tube=tube.name, data_bend=str(bend + 1)):
                    block("td", "", str(bend + 1))
                    with block("td"):
                        _leg(page, tube.name, line, bend, units)
                    with block("td"):
                        _turn(page, tube.name, line, bend)
                    with block("td"):
                        _angle(page, tube.name, line, bend)
            with block("tr"):
                block("td", "", "B")
                with block("td"):
                    _leg(page, tube.name, line, len(line.angles), units)
                block("td")
                block("td")
        words(
            "Turned: how far the bend's plane is turned from the one before, seen along the tube "
            "from A to B, clockwise positive.",
            kind="quiet small",
        )


def _leg(page: DeskPage, name: str, line: Centreline, number: int, units: Units) -> None:
    edit = _swap(page, name, "legs", number, partial(parse_length, units=units))
    shown = bare_text(line.legs[number], units)
    _field(page, f"Straight {number + 1}", shown, edit, f"straight {number + 1} of {name}")


def _turn(page: DeskPage, name: str, line: Centreline, bend: int) -> None:
    if bend == 0:
        ui.html("–", sanitize=False)
        return
    edit = _swap(page, name, "rotations", bend, parse_angle)
    shown = f"{line.rotations[bend]:.4g}"
    _field(page, f"Turn before bend {bend + 1}", shown, edit, f"turn before bend {bend + 1}")


def _angle(page: DeskPage, name: str, line: Centreline, bend: int) -> None:
    edit = _swap(page, name, "angles", bend, parse_angle)
    shown = f"{line.angles[bend]:.5g}"
    _field(page, f"Angle of bend {bend + 1}", shown, edit, f"angle of bend {bend + 1} of {name}")


def _swap(
    page: DeskPage, name: str, key: str, number: int, read: Callable[[str], float]
) -> Callable[[str], Edit]:
    """Give the edit that puts what is typed in the place of one of a tube's numbers."""

    def edit_for(typed: str) -> Edit:
        def edit(text: str) -> str:
            now = page.desk.now
            line = line_of(now.job, now.bench, name)
            if line is None:
                raise ValueError(f"{name}: it has no shape yet")
            shape = {"legs": line.legs, "angles": line.angles, "rotations": line.rotations}
            new = list(shape[key])
            new[number] = read(typed)
            return with_legs(text, now.job, now.bench, name, **{**shape, key: tuple(new)})

        return edit

    return edit_for


def _field(page: DeskPage, label: str, shown: str, edit: Callable[[str], Edit], done: str) -> None:
    entry(label, shown, lambda text: page.change(edit(text), done), hidden_label=True)


def marks(page: DeskPage) -> None:
    """Show what the plan makes of a tube, in the order of its bends at the bender."""
    tube = page.tube
    if not isinstance(tube, TubePlan):
        return
    numbers = page.numbers(tube)
    with slab():
        words("Marks and dial", "h2")
        if not tube.bends:
            words("A straight tube: cut it to length.", kind="quiet")
            return
        with block("div", "scroll"), block("table", "chalked"):
            head(("bend", "mark", "turn it", "dial", "angle"))
            for bend in tube.bends:
                with block("tr", data_tube=tube.name, data_bend=str(bend.n), tabindex="0"):
                    cells = (
                        str(bend.n),
                        numbers.length(bend.stock_mark),
                        f"{bend.roll:+.1f}°",
                        numbers.dial(bend.dial_stop),
                        f"{bend.angle:.1f}°",
                    )
                    for cell in cells:
                        block("td", "", cell)
