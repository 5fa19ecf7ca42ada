"""What stands about the tubes: keep-outs with their gap, place and hinges."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from nicegui import events, run, ui

from soapstone.errors import InputError
from soapstone.flow.reshaping import (
    KEEPOUT_FORMS,
    bare,
    with_keepout,
    with_keepout_part,
    with_keepout_value,
    without_keepout,
)
from soapstone.geometry.vectors import Vec3
from soapstone.job.keepout import Hinge, KeepOut
from soapstone.quantities import Units, format_fine, parse_angle, parse_length
from soapstone.web.look import block, choice, complain, entry, fold, press, slab, words
from soapstone.web.panels.desk_page import DeskPage
from soapstone.web.panels.tables import bare_text, three_fields
from soapstone.web.scans import keep_scan

Place = tuple[str | int, ...]
"""Where a figure of a keep-out stands in the job's file: the keep-out's name, then keys.

A name and no number: others may have put in or taken out what stood before it.
"""

LARGEST = 78_000_000
"""Bytes of a scan, a little under what the door lets in with its wrapping."""


def show(page: DeskPage) -> None:
    """Show what is in the room, to change, take out or add to."""
    job = page.desk.now.job
    for number, keepout in enumerate(job.keepouts):
        gap = "the tube's own gap" if keepout.gap is None else format_fine(keepout.gap, job.units)
        with fold(page.unfolded, keepout.name, f"{keepout.name} · keep {gap} off"):
            _keepout(page, keepout, number)
    with slab():
        words("Put something in the way", "h2")
        asked = {"form": KEEPOUT_FORMS[0]}
        with block("div", "row"):
            forms = [form for form in KEEPOUT_FORMS if form != "scan"]
            choice("What it is", forms, forms[0], lambda form: asked.update(form=form))
            press("Put it in", lambda: _add(page, asked["form"]), "main")
        words("Or a scan of what is there (STL, OBJ, PLY or GLB):", kind="quiet")
        scans = ui.upload(
            on_upload=partial(_scanned, page), auto_upload=True, max_file_size=LARGEST
        )
        scans.props('accept=".stl,.obj,.ply,.glb" flat label="Bring a scan"').classes("scan")


def _add(page: DeskPage, form: str) -> None:
    page.change(lambda text: with_keepout(text, page.desk.now.job, form), f"{form} put in the way")


async def _scanned(page: DeskPage, event: events.UploadEventArguments) -> None:
    data, folder = await event.file.read(), page.desk.path.parent
    try:  # a large scan takes its time: the other pages go on meanwhile
        kept = await run.io_bound(keep_scan, folder, event.file.name, data)
    except InputError as error:
        complain(error)
        return
    if kept is None:  # the pages are being stopped
        return
    page.change(
        lambda text: with_keepout(text, page.desk.now.job, "scan", kept), f"{kept.name} brought in"
    )


def _keepout(page: DeskPage, keepout: KeepOut, number: int) -> None:
    units = page.desk.now.job.units
    place: Place = (keepout.name,)
    with block("div", "row"):
        with block("div", "grow"):
            entry("Name", keepout.name, partial(_renamed, page, (*place, "name"), keepout.name))
        taken = f"{keepout.name} taken out"
        press(
            "Take out",
            lambda: page.change(lambda text: without_keepout(text, keepout.name), taken),
            "plain",
            aria_label=f"Take {keepout.name} out",
        )
    gap = "" if keepout.gap is None else bare_text(keepout.gap, units)
    with block("div", "fields"):
        _length(page, (*place, "gap"), f"Gap to {keepout.name}", gap, may_be_none=True)
    _form(page, keepout, place, units)
    for k, hinge in enumerate(keepout.hinges):
        where = (*place, "hinge") if _alone(page, number) else (*place, "hinge", k)
        _hinge(page, keepout.name, hinge, k, where, units)


def _alone(page: DeskPage, number: int) -> bool:
    """Whether a keep-out's hinge is written as one table, not as a list of them."""
    import tomlkit

    written: Any = tomlkit.parse(page.desk.now.text).unwrap()["keepout"][number].get("hinge")
    return isinstance(written, dict)


def _form(page: DeskPage, keepout: KeepOut, place: Place, units: Units) -> None:
    name = keepout.name
    if keepout.box:
        _place(page, (*place, "box", "at"), f"Centre of {name}", keepout.box.at, units)
        _place(page, (*place, "box", "size"), f"Size of {name}", keepout.box.size, units)
        _turns(page, (*place, "box", "turn"), f"Turn of {name}", keepout.box.turn)
    elif keepout.cylinder:
        bar = keepout.cylinder
        _place(page, (*place, "cylinder", "from"), f"One end of {name}", bar.start, units)
        _place(page, (*place, "cylinder", "to"), f"Other end of {name}", bar.end, units)
        shown = bare_text(bar.diameter, units)
        with block("div", "fields"):
            _length(page, (*place, "cylinder", "diameter"), f"Diameter of {name}", shown)
    elif keepout.ball:
        _place(page, (*place, "ball", "at"), f"Centre of {name}", keepout.ball.at, units)
        shown = bare_text(keepout.ball.diameter, units)
        with block("div", "fields"):
            _length(page, (*place, "ball", "diameter"), f"Diameter of {name}", shown)
    elif keepout.halfspace:
        half = keepout.halfspace
        _place(page, (*place, "halfspace", "at"), f"A point on {name}", half.at, units)
    elif keepout.mesh:
        mesh = keepout.mesh
        words(f"A scan: {mesh.file.name}, in {mesh.units}", kind="quiet")
        _place(page, (*place, "mesh", "at"), f"Where the scan of {name} goes", mesh.at, units)
        _turns(page, (*place, "mesh", "turn"), f"Turn of {name}", mesh.turn)
    elif keepout.tube:
        words(f"The tube {keepout.tube}, where it is.", kind="quiet")


def _hinge(page: DeskPage, name: str, hinge: Hinge, k: int, place: Place, units: Units) -> None:
    words(f"Hinge {k + 1}", "h3")
    _place(page, (*place, "through"), f"Hinge {k + 1} of {name}, through", hinge.through, units)
    with block("div", "fields"):
        for key, word, value in (("from", "swings from", hinge.start), ("to", "to", hinge.end)):
            label = f"Hinge {k + 1} of {name}, {word}"
            entry(label, f"{value:g}", partial(_degrees, page, (*place, key), label.lower()))


def _renamed(page: DeskPage, place: Place, old: str, new: str) -> None:
    page.change(partial(_with, place=place, value=new.strip()), f"{old} renamed")


def _degrees(page: DeskPage, place: Place, what: str, typed: str) -> None:
    page.change(lambda text: _with(text, place, parse_angle(typed)), what)


def _with(text: str, place: Place, value: Any) -> str:
    name, *within = place
    return with_keepout_value(text, str(name), within, value)


def _with_part(text: str, place: Place, axis: int, values: Sequence[float]) -> str:
    name, *within = place
    return with_keepout_part(text, str(name), within, axis, values)


def _length(
    page: DeskPage, place: Place, label: str, shown: str, *, may_be_none: bool = False
) -> None:
    def edit(text: str, typed: str) -> str:
        if may_be_none and not typed.strip():
            return _with(text, place, None)
        job = page.desk.now.job
        return _with(text, place, bare(parse_length(typed, job.units), job))

    entry(label, shown, lambda typed: page.change(partial(edit, typed=typed), label))


def _place(page: DeskPage, place: Place, label: str, at: Vec3, units: Units) -> None:
    shown = [bare_text(value, units) for value in at]
    put = partial(_moved, page, place, at, label)
    three_fields(label, lambda axis: f"{label}, {axis}", shown, put)


def _moved(page: DeskPage, place: Place, at: Vec3, label: str, axis: int, typed: str) -> None:
    def edit(text: str) -> str:
        job = page.desk.now.job
        values = list(at)
        values[axis] = parse_length(typed, job.units)
        return _with_part(text, place, axis, [bare(value, job) for value in values])

    page.change(edit, label)


def _turns(page: DeskPage, place: Place, label: str, turn: Sequence[float]) -> None:
    said = f"{label}, degrees about x, then y, then z"
    put = partial(_turned, page, place, turn, label)
    three_fields(said, lambda axis: f"{label}, about {axis}", [f"{one:g}" for one in turn], put)


def _turned(
    page: DeskPage, place: Place, turn: Sequence[float], label: str, axis: int, typed: str
) -> None:
    def edit(text: str) -> str:
        values = list(turn)
        values[axis] = parse_angle(typed)
        return _with_part(text, place, axis, values)

    page.change(edit, label)
