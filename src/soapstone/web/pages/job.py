"""One job: the room with its tubes, the numbers of the tube picked, and its straight stick."""

import asyncio
from collections.abc import Callable
from functools import partial
from typing import Any
from urllib.parse import quote

import numpy as np
from fastapi import HTTPException, Response
from nicegui import app, background_tasks, run, ui

from soapstone.errors import InputError
from soapstone.exchange.job_toml import with_points
from soapstone.fit.keepouts import solid_of
from soapstone.flow.fitting import CheckedJob, check
from soapstone.geometry.solids import Mesh
from soapstone.geometry.vectors import Vec3
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import format_fine, format_mass
from soapstone.shape.resolve import resolve
from soapstone.sheets.words import Numbers
from soapstone.web.desk import Desk, Edit
from soapstone.web.desks import Desks
from soapstone.web.look import (
    anew,
    block,
    dress,
    light_switch,
    press,
    say,
    slab,
    tell,
    top,
    words,
)
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.panels import clear_or_not, ends_panel, room_panel, tables, tube_panel
from soapstone.web.panels.tables import corner_name
from soapstone.web.room_view import RoomView
from soapstone.web.scene import gap_scene, scene_of, tube_scene
from soapstone.web.stick import NARROW, WIDE, stick_svg
from soapstone.web.tabs import job_ways
from soapstone.web.turns import Turns
from soapstone.web.watching import watch

PANELS: dict[str, Callable[["JobPage"], None]] = {
    "Corners": tables.corners,
    "Legs and bends": tables.legs,
    "Marks": tables.marks,
    "Room": room_panel.show,
    "Tube": tube_panel.show,
    "Ends": ends_panel.show,
}
"""What can be changed, a panel each, as said on its button."""

STICKS = (("wide", WIDE), ("narrow", NARROW))
"""The stick as drawn on a desk and on a phone."""

SOON = 0.02
"""Seconds that the rest of the page comes after the stick."""


def hang_up(desks: Desks) -> None:
    """Put the page, and the triangles of its scans, in their places."""

    @job_page("")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            JobPage(name, desk).show()

    @app.get("/mesh/{name}/{number}")
    def mesh(name: str, number: int) -> Response:
        try:
            keepouts = desks.open(name).now.job.keepouts
            if not 0 <= number < len(keepouts) or keepouts[number].mesh is None:
                raise HTTPException(404)
            solid = solid_of(keepouts[number].solid)
        except InputError:
            raise HTTPException(404) from None
        if not isinstance(solid, Mesh):
            raise HTTPException(404)
        return Response(
            solid.triangles().astype("<f4").tobytes(), media_type="application/octet-stream"
        )


class JobPage:
    """The page of one job in one browser."""

    def __init__(self, name: str, desk: Desk) -> None:
        self.name, self.desk = name, desk
        self.panel = "Corners"
        self.unfolded: set[str] = set()
        tubes = desk.now.planned.tubes
        self.picked = tubes[0].name if tubes else ""
        self.seen = desk.changes

    def show(self) -> None:
        """Build the page."""
        desk = self.desk
        dress(desk.now.job.name or self.name)
        with block("main", "page stack"):
            with top(desk.now.job.name or self.name, back=("Jobs", "/")):
                job_ways(self.name, "Shape")
                self.back = press("Undo", self._undo, "plain step")
                self.forth = press("Redo", self._redo, "plain step")
                light_switch()
            watch(desk, lambda: self.seen, partial(self.refresh, room=True))
            with block("div", "desk"):
                with block("div", "stack"):
                    self.room = RoomView(
                        scene_of(desk.now.planned),
                        f"/mesh/{quote(self.name)}/",
                        on_drag=self._drag,
                        on_drop=self._drop,
                    )
                    self.verdict = block("div", "stack", aria_live="polite")
                with block("div", "stack"):
                    self.side = block("div", "stack")
            self.stick = block("section", "", aria_label="The straight stick")
            self.turns = Turns(self.stick)
            with self.stick:
                self.sticks = [
                    (width, ui.html("", sanitize=False).classes(kind)) for kind, width in STICKS
                ]
        self.refresh()
        ui.timer(0.05, partial(self.room.pick, self.picked), once=True)
        background_tasks.create(self._check())

    # --- what happens ----------------------------------------------------------------------------

    def change(self, edit: Edit, done: str) -> None:
        """Change the job's file, or say why that cannot be; other pages go on meanwhile."""
        self.turns.take(partial(self.desk.change, edit, done), self._changed, self._changed)

    def _undo(self) -> None:
        self.turns.take(self.desk.undo, partial(self._stepped, "Undone"), self._changed)

    def _redo(self) -> None:
        self.turns.take(self.desk.redo, partial(self._stepped, "Done again"), self._changed)

    async def _stepped(self, title: str, what: str) -> None:
        if what:
            tell(f"{title}: {what}")
        await self._changed()

    async def _changed(self, _: str = "") -> None:
        """Show the job as it is now, the stick first: it is what is waited for."""
        self.seen = self.desk.changes
        self._show_stick()
        await asyncio.sleep(SOON)
        self._show_rest(room=True)

    def _drag(self, what: dict[str, Any]) -> None:
        """Show the tube as it is while a corner is held; nothing is kept."""
        tube, points = self._moved(what)
        if tube is None:
            return
        now = self.desk.now
        wish = now.job.tube(tube).model_copy(update={"points": points})
        tubes = tuple(wish if one.name == tube else one for one in now.job.tubes)
        for shape, setup in resolve(now.job.with_tubes(tubes), now.bench):
            if shape.line is not None and shape.name in self._hand_of(tube):
                self.room.put_tube(
                    tube_scene(now.job.tube(shape.name), shape.line, setup.od, shape.points)
                )

    def _drop(self, what: dict[str, Any]) -> None:
        tube, points = self._moved(what)
        if tube is not None:
            edit = partial(with_points, points={tube: points})
            corner = corner_name(int(what["corner"]), len(points) - 1)
            self.change(edit, f"corner {corner} of {tube} moved")

    def _moved(self, what: dict[str, Any]) -> tuple[str | None, tuple[Vec3, ...]]:
        """Give the tube that a corner of was moved, and its corners then."""
        try:
            tube, corner = str(what["tube"]), int(what["corner"])
            x, y, z = (float(value) for value in what["at"])
            plan = next(one for one in self.desk.now.planned.planned if one.name == tube)
        except (KeyError, TypeError, ValueError, StopIteration):
            return None, ()
        if not (0 <= corner < len(plan.points) and np.isfinite([x, y, z]).all()):
            return None, ()
        points = list(plan.points)
        points[corner] = (x, y, z)
        return tube, tuple(points)

    def _hand_of(self, tube: str) -> set[str]:
        """Give a tube's name and those of its mirror images."""
        names = {tube}
        for one in self.desk.now.job.tubes:
            if one.mirror is not None and one.mirror.of in names:
                names.add(one.name)
        return names

    async def _check(self) -> None:
        """Certify the gaps, beside everything else, and draw the tightest."""
        try:
            checked: CheckedJob | None = await run.io_bound(self.desk.reckon, check)
        except InputError:  # a scan has gone: the watch says so
            return
        if checked is None or checked.plan.job is not self.desk.now.job:
            return
        gaps = []
        for tube in checked.tubes:
            if tube.tightest is not None:
                label = format_fine(tube.tightest.gap, checked.plan.job.units)
                gaps.append(gap_scene(tube.tightest, label))
        self.room.put_gaps(gaps)
        self.verdict.clear()
        with self.verdict:
            clear_or_not.show(checked)

    # --- what is shown ---------------------------------------------------------------------------

    def refresh(self, *, room: bool = False) -> None:
        """Show the job as it is now; with `room`, what stands in the room too."""
        self.seen = self.desk.changes  # before anything is drawn: what comes later is drawn later
        self._show_stick()
        self._show_rest(room=room)

    def _show_rest(self, *, room: bool) -> None:
        self.back.props["disabled"] = not self.desk.past
        self.forth.props["disabled"] = not self.desk.future
        if room:
            self.room.show(scene_of(self.desk.now.planned))
            background_tasks.create(self._check())
        self._show_side()

    @property
    def tube(self) -> TubePlan | Unplanned | None:
        """The tube picked, as planned now."""
        tubes = self.desk.now.planned.tubes
        named = (one for one in tubes if one.name == self.picked)
        return next(named, tubes[0] if tubes else None)

    def numbers(self, tube: TubePlan) -> Numbers:
        """Give how a tube's numbers are written."""
        return Numbers(self.desk.now.job.units, tube.setup.tape, tube.setup.dial_step)

    def _show_stick(self) -> None:
        tube = self.tube
        for width, drawn in self.sticks:
            drawn.content = (
                stick_svg(tube, self.numbers(tube), width) if isinstance(tube, TubePlan) else ""
            )

    def _show_side(self) -> None:
        with anew(self.side):
            with block("nav", "row", aria_label="Tubes"):
                for one in self.desk.now.planned.tubes:
                    pressed = "true" if one.name == self.picked else "false"
                    press(one.name, partial(self.pick, one.name), aria_pressed=pressed)
            tube = self.tube
            if isinstance(tube, TubePlan):
                self._facts(tube)
            with block("nav", "row", aria_label="What to change"):
                for panel in PANELS:
                    pressed = "true" if panel == self.panel else "false"
                    press(panel, partial(self._turn_to, panel), "plain", aria_pressed=pressed)
            PANELS[self.panel](self)
            if tube is not None:
                say(tube.problems)

    def pick(self, name: str) -> None:
        """Take up another tube."""
        self.picked = name
        self.room.pick(name)
        self.refresh()

    def _turn_to(self, panel: str) -> None:
        self.panel = panel
        self.refresh()

    def _facts(self, tube: TubePlan) -> None:
        numbers = self.numbers(tube)
        with slab():
            words("Cut the stick to", kind="quiet")
            words(numbers.length(tube.stock_tape), kind="big")
            count = len(tube.bends)
            bends = "no bend" if not count else f"{count} bend{'s' if count > 1 else ''}"
            image = f" · mirror image of {tube.of}" if tube.of else ""
            weight = format_mass(tube.mass, self.desk.now.job.units)
            words(f"{tube.setup.tubing} · {bends} · {weight}{image}", kind="quiet")
