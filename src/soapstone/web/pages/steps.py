"""The bends in the order made, each with the tube in the bender: swing the die and see."""

from functools import partial

from nicegui import background_tasks, run, ui

from soapstone.bend.order import Step
from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_value
from soapstone.flow.bending import BentJob, bend
from soapstone.flow.reshaping import number_of
from soapstone.plan.model import BendStep, TubePlan
from soapstone.quantities import format_fine
from soapstone.sheets.words import Numbers, level_words, roll_words, turn_words
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import (
    anew,
    block,
    choice,
    press,
    say,
    slab,
    words,
)
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.room_view import RoomView
from soapstone.web.scene import bender_scene, posed_scene
from soapstone.web.stick import NARROW, WIDE, stick_svg
from soapstone.web.tabs import job_body
from soapstone.web.turns import Turns
from soapstone.web.watching import watch

FRAME = 0.06
"""Seconds between two pictures while the die turns by itself."""

WAY = 3.0
"""Degrees that the die turns in that time."""

ORDERS = ("the best there is", "in turn from A", "in turn from B")


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/steps")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            StepsPage(name, desk).show()


class StepsPage:
    """The page in one browser."""

    def __init__(self, name: str, desk: Desk) -> None:
        self.name, self.desk = name, desk
        bent = [tube.name for tube in desk.now.planned.planned if tube.bends]
        self.picked = bent[0] if bent else ""
        self.step, self.turned = 0, 0.0
        self.playing = False
        self.seen = desk.changes
        self.bent: BentJob | None = None

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, "Steps", "step by step"):
            watch(self.desk, lambda: self.seen, self._refresh)
            if self.tube is None:
                words("No tube of this job has a bend and a plan yet.", kind="quiet")
                return
            with block("div", "desk"):
                with block("div", "stack"):
                    self.room = RoomView({"tubes": [], "keepouts": []})
                    self._slider()
                self.side = block("div", "stack")
            self.stick = block("section", "", aria_label="The straight stick")
            self.turns = Turns(self.stick)
        self._refresh()
        ui.timer(FRAME, self._play)

    def _slider(self) -> None:
        with block("div", "row slab"):
            self.start = press("Turn the die", self._start, "main")
            self.slider = block(
                "input", "swing", type="range", min="0", step="0.5", aria_label="Degrees of the die"
            )
            self.slider.props["^value"] = "0"
            self.slider.on(
                "input",
                lambda event: self._swing(float(event.args)),
                js_handler="(event) => emit(event.target.value)",
                throttle=0.03,
            )
            self.reading = words("0°", "output", "big")

    @property
    def tube(self) -> TubePlan | None:
        """The tube picked, as planned now."""
        bent = [tube for tube in self.desk.now.planned.planned if tube.bends]
        return next((one for one in bent if one.name == self.picked), bent[0] if bent else None)

    def _refresh(self) -> None:
        self.seen = self.desk.changes
        if not hasattr(self, "room"):
            ui.navigate.reload()  # there was no bent tube to build the page for
            return
        self._to_step(0)
        background_tasks.create(self._check())

    async def _check(self) -> None:
        try:
            bent: BentJob | None = await run.io_bound(self.desk.reckon, bend)
        except InputError:
            return
        if bent is not None and bent.plan.job is self.desk.now.job:
            self.bent = bent
            self._show_side()

    # --- what happens ----------------------------------------------------------------------------

    def _pick(self, name: str) -> None:
        self.picked = name
        self._to_step(0)

    def _to_step(self, step: int) -> None:
        tube = self.tube
        if tube is None:
            return
        self.step, self.turned, self.playing = step, 0.0, False
        self.room.show(bender_scene(tube, step, self.desk.now.bench.bender, 0.0))
        loaded = tube.bends[step].loaded
        self.slider.props["max"] = f"{loaded:.2f}"
        self._turned_to(0.0)
        self.room.stand_back()
        self._show_side()
        self._show_stick()

    def _swing(self, degrees: float) -> None:
        self.playing = False
        self._turned_to(degrees)

    def _start(self) -> None:
        tube = self.tube
        if tube is not None:
            if self.turned >= tube.bends[self.step].loaded:
                self._turned_to(0.0)
            self.playing = not self.playing

    def _play(self) -> None:
        tube = self.tube
        if not self.playing or tube is None:
            return
        loaded = tube.bends[self.step].loaded
        self._turned_to(min(self.turned + WAY, loaded))
        self.slider.run_method("setAttribute", "value", f"{self.turned:.2f}")
        self.playing = self.turned < loaded

    def _turned_to(self, degrees: float) -> None:
        tube = self.tube
        if tube is None:
            return
        self.turned = min(max(degrees, 0.0), tube.bends[self.step].loaded)
        bender = self.desk.now.bench.bender
        self.room.put_tube(posed_scene(tube, self.step, bender, self.turned))
        self.reading.set_content(f"{self.turned:.0f}°")

    def _order(self, wanted: str) -> None:
        tube = self.tube
        if tube is None:
            return
        job = self.desk.now.job
        place = ("tube", number_of(job, tube.of or tube.name))
        count = len(tube.bends)
        orders = {
            ORDERS[1]: (list(range(1, count + 1)), "A"),
            ORDERS[2]: (list(range(count, 0, -1)), "B"),
        }
        order, lead = orders.get(wanted, (None, None))

        def edit(text: str) -> str:
            return with_value(with_value(text, (*place, "order"), order), (*place, "lead"), lead)

        done = f"order of {tube.name}: {wanted}"
        change = partial(self.desk.change, edit, done)
        self.turns.take(change, lambda _: self._refresh(), self._refresh)

    # --- what is shown ---------------------------------------------------------------------------

    def _show_stick(self) -> None:
        tube = self.tube
        self.stick.clear()
        if tube is None:
            return
        numbers = self._numbers(tube)
        with self.stick:
            ui.html(stick_svg(tube, numbers, WIDE), sanitize=False).classes("wide")
            ui.html(stick_svg(tube, numbers, NARROW), sanitize=False).classes("narrow")

    def _numbers(self, tube: TubePlan) -> Numbers:
        return Numbers(self.desk.now.job.units, tube.setup.tape, tube.setup.dial_step)

    def _show_side(self) -> None:
        tube = self.tube
        anew(self.side)
        if tube is None:
            return
        with self.side:
            with block("nav", "row", aria_label="Tubes"):
                for one in self.desk.now.planned.planned:
                    if one.bends:
                        pressed = "true" if one.name == tube.name else "false"
                        press(one.name, partial(self._pick, one.name), aria_pressed=pressed)
            with block("nav", "row", aria_label="Bends in the order made"):
                for place, step in enumerate(tube.bends):
                    pressed = "true" if place == self.step else "false"
                    label = f"Bend {step.n}"
                    press(
                        str(step.n),
                        partial(self._to_step, place),
                        "",
                        aria_label=label,
                        aria_pressed=pressed,
                    )
            self._facts(tube, tube.bends[self.step])
            with slab():
                words("Order of the bends", "h2")
                wish = self.desk.now.job.tube(tube.of or tube.name)
                now = ORDERS[0] if wish.order is None else self._named(tube)
                names = ORDERS if now in ORDERS else (now, *ORDERS)
                choice("Bend them", names, now, self._order)
            say(tube.problems)

    def _named(self, tube: TubePlan) -> str:
        order, leads = [step.n for step in tube.bends], {step.lead for step in tube.bends}
        if order == sorted(order) and leads == {"A"}:
            return ORDERS[1]
        if order == sorted(order, reverse=True) and leads == {"B"}:
            return ORDERS[2]
        return "as the file says: " + ", ".join(map(str, order))

    def _facts(self, tube: TubePlan, step: BendStep) -> None:
        numbers = self._numbers(tube)
        plane = self.desk.now.bench.bender.plane
        with slab():
            words(f"Step {self.step + 1} of {len(tube.bends)}: bend {step.n}", "h2")
            words(f"{step.lead} end through the die first", kind="quiet")
            words(f"Mark at {numbers.length(step.stock_mark)} from A", kind="large")
            if turned := turn_words(step, plane):
                words(turned)
            words(roll_words(step.roll) if self.step else "Lay the stick in: the first bend.")
            words(level_words(step, first=self.step == 0), kind="quiet")
            words(f"Dial to {numbers.dial(step.dial_stop)}", kind="large")
            if step.strokes:
                readings = ", ".join(numbers.dial(one) for one in step.strokes)
                words(f"Pin the ram anew at {readings}", kind="quiet")
            found = self._step_of(tube)
            if found is not None and (near := found.nearest) is not None:
                gap = format_fine(near.gap, self.desk.now.job.units)
                text = f"The {near.part} passes {near.what} at {gap} or more."
                words(f"The {near.part} hits {near.what}." if near.gap < 0 else text, kind="quiet")

    def _step_of(self, tube: TubePlan) -> Step | None:
        """Give what the check of the bender found for the step shown."""
        if self.bent is None:
            return None
        named = (one for one in self.bent.tubes if one.plan.name == tube.name)
        found = next(named, None)
        fits = found is not None and self.step < len(found.steps)
        return found.steps[self.step] if found is not None and fits else None
