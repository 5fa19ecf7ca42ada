"""The trial piece: how to cut, mark, bend and measure one, and what it teaches of a die."""

import re
from functools import partial
from urllib.parse import quote

from nicegui import ui

from soapstone.bench.trial_measured import LearnedDie
from soapstone.errors import InputError
from soapstone.flow.at_bender import date_and_time
from soapstone.flow.showing import Pairing, ShownBench
from soapstone.flow.trying import Keep, Trying, put_learnt, try_die
from soapstone.log.store import log_path
from soapstone.quantities import Units
from soapstone.web.bench_desk import BenchDesk, Benches
from soapstone.web.look import anew, block, choice, dress, entry, press, say, slab, tell, words
from soapstone.web.opening import PATIENCE
from soapstone.web.panels.which_bench import which_bench
from soapstone.web.piece_stick import piece_svg
from soapstone.web.stick import NARROW
from soapstone.web.tabs import shop_top
from soapstone.web.turns import Turns

LABELS = {
    "stock": "Length before bending",
    "mark": "Mark, from end A",
    "angle": "Angle after release",
    "lead_overall": "Lead overall",
    "tail_overall": "Tail overall",
    "width": "Width",
    "gap": "Gap",
    "lead_corner": "Lead corner",
    "tail_corner": "Tail corner",
}
"""What can be measured on a piece, as asked for on the page and in its steps."""

FIRST = ("stock", "mark", "angle")

Notes = dict[tuple[str, str, str], dict[str, str]]
"""What was typed of a piece, by bench, die and tubing."""


def hang_up(benches: Benches) -> None:
    """Put the page in its place."""
    notes = Notes()

    @ui.page("/trial", response_timeout=PATIENCE)
    def show(which: str = "", die: str = "", tubing: str = "") -> None:
        dress("Trial piece")
        with block("main", "page stack"):
            shop_top("Trial piece", "Trial piece")
            try:
                desk = benches.open(which)
                shown = desk.shown()
            except InputError as error:
                words(str(error), kind="say stop")
                return
            which_bench(benches, desk, "/trial")
            if not shown.pairings:
                words("No tubing of this bench fits a die of it.", kind="say warn")
                return
            picked = _picked(shown, die, tubing)
            TrialPage(which, desk, shown, picked, notes).show()


def _picked(shown: ShownBench, die: str, tubing: str) -> Pairing:
    """Give the die and tubing of an address, else the first there are."""
    named = (one for one in shown.pairings if (one.die.name, one.tubing.name) == (die, tubing))
    return next(named, shown.pairings[0])


class TrialPage:
    """A trial piece in one browser."""

    def __init__(
        self, which: str, desk: BenchDesk, shown: ShownBench, picked: Pairing, notes: Notes
    ) -> None:
        self.which, self.desk, self.shown = which, desk, shown
        self.die, self.tubing = picked.die.name, picked.tubing.name
        self.picked = picked.name
        at = (str(desk.path), self.die, self.tubing)
        self.typed = notes.setdefault(at, {})
        self.tried: Trying | None = None

    @property
    def units(self) -> Units:
        """The bench's."""
        return self.shown.bench.units

    def show(self) -> None:
        """Build the page."""
        names = {one.name: one for one in self.shown.pairings}
        words(
            "The radius on a die's label and the place of its index line are often not what the "
            "tube sees. One bent piece shows both.",
            kind="quiet",
        )
        choice("Die and tubing", names, self.picked, lambda name: self._go(names[name]))
        plan = try_die(self.die, self.tubing, self.desk.path, {})
        with slab():
            for kind, width in (("wide", 0.0), ("narrow", NARROW)):
                drawn = piece_svg(plan.piece, plan.units, width) if width else None
                ui.html(drawn or piece_svg(plan.piece, plan.units), sanitize=False).classes(kind)
        with block("div", "desk even"):
            with slab():
                words("How to make it", "h2")
                with block("ol", "steps-list"):
                    for step in plan.piece.steps:
                        block("li", "", _plain(step))
            with block("div", "stack"):
                self._ask(plan)
                self.answer = block("section", "stack", aria_live="polite")
        self.turns = Turns(self.answer)
        self._reckon()

    def _go(self, one: Pairing) -> None:
        asked = {"which": self.which, "die": one.die.name, "tubing": one.tubing.name}
        ui.navigate.to("/trial?" + "&".join(f"{key}={quote(v)}" for key, v in asked.items()))

    def _ask(self, plan: Trying) -> None:
        unit = "inches" if plan.units == "in" else "mm"
        with slab():
            words("What it measured", "h2")
            words(f"Bare numbers are {unit}; 12 3/8 in or 314.5 mm will do anywhere.", kind="quiet")
            with block("div", "fields"):
                for key in (*FIRST, *plan.piece.readings):
                    self._field(key, LABELS[key])
            words("For the dial", "p", "strong above")
            with block("div", "fields"):
                self._field("dial", "Dial stopped at")
                self._field("lot", "Lot of tubing")

    def _field(self, key: str, label: str) -> None:
        def typed(text: str) -> None:
            self.typed[key] = text.strip()
            self._reckon()

        entry(label, self.typed.get(key, ""), typed)

    # --- what it teaches -------------------------------------------------------------------------

    def _measured(self) -> dict[str, str | None]:
        return {key: self.typed.get(key) or None for key in LABELS}

    def _reckon(self) -> None:
        measured = self._measured()

        def act() -> str:
            self.tried = None
            try:
                self.tried = try_die(self.die, self.tubing, self.desk.path, measured)
            except InputError as error:
                return _plain(str(error))
            return ""

        self.turns.take(act, self._show)

    def _show(self, trouble: str) -> None:
        with anew(self.answer):
            if not any(self._measured().values()):
                words("Type what was measured; what it teaches stands here then.", kind="quiet")
            elif self.tried is None or self.tried.learnt is None:
                words(f"Not enough yet: {trouble}", kind="say warn")
            else:
                self._learnt(self.tried.learnt)
            if self.typed.get("angle"):
                with block("div", "row low"):
                    press("Keep the bend in the shop log", self._keep)
                    words("It tells the dial from then on.", kind="quiet")

    def _learnt(self, learnt: LearnedDie) -> None:
        unit, decimals = (25.4, 3) if self.units == "in" else (1.0, 1)

        def length(mm: float, sd: float) -> str:
            doubt = f"{2 * sd / unit:.{decimals}f}"
            return f"{mm / unit:.{decimals}f} ± {doubt} {self.units}"

        with slab():
            words("What it teaches", "h2")
            with block("dl", "facts"):
                block("dt", "", "Radius of the die")
                block("dd", "", length(learnt.clr, learnt.clr_sd))
                block("dt", "", "Mark offset")
                block("dd", "", length(learnt.mark_offset, learnt.mark_offset_sd))
                block("dt", "", "Stretch")
                stretch, doubt = learnt.stretch * 100, 2 * learnt.stretch_sd * 100
                block("dd", "", f"{stretch:.2f} ± {doubt:.2f} %")
            words(
                "What stands after ± is how far off it may still be, 19 times of 20. If the "
                "bench's own figures lie within it, they may stay.",
                kind="quiet",
            )
            if self.desk.path is not None:
                put = partial(self._put, learnt)
                press(f"Put these into {self.desk.path.name}", put, "main left")
            else:
                words("This is the starter bench: start your own on the Bench page.", kind="quiet")
        say(learnt.problems)

    def _put(self, learnt: LearnedDie) -> None:
        def act() -> str:
            put = partial(put_learnt, die=self.die, learnt=learnt, units=self.units)
            self.desk.change(put, f"trial piece of {self.die}")
            return f"{self.die}: radius, mark offset and stretch are in the bench now"

        self.turns.take(act, tell)

    def _keep(self) -> None:
        def act() -> str:
            dial, lot = self.typed.get("dial"), self.typed.get("lot", "")
            if not dial:
                raise InputError("say where the dial was stopped, too")
            kept = Keep(log_path(), dial, lot, date_and_time()[:10])
            angle = {"angle": self.typed["angle"]}
            try:
                done = try_die(self.die, self.tubing, self.desk.path, angle, kept)
            except InputError as error:
                raise InputError(_plain(str(error))) from None
            new = done.kept is not None and done.kept.new
            return "Kept in the shop log" if new else "It is in the shop log already"

        self.turns.take(act, tell)


def _plain(text: str) -> str:
    """Say what was measured as the page calls it."""
    for key, label in LABELS.items():
        option = rf"--{key.replace('_', '-')}\b"
        text = re.sub(rf"{option}|(?<=: ){key}(?=\.)|(?<=trial piece, ){key}(?=:)", label, text)
    return text
