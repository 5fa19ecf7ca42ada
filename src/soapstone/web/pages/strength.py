"""A job's strength: what its feet hold, how far it gives, and what is left before it yields."""

from collections.abc import Callable
from functools import partial
from urllib.parse import quote

from nicegui import ui

from soapstone.check.strength.bolts import BoltLoad
from soapstone.check.strength.model import CaseResult
from soapstone.errors import InputError
from soapstone.flow.strength import CAUTION, WANTED, StrongJob, strength_of
from soapstone.quantities import Units, format_fine, format_force, format_moment, format_stress
from soapstone.web.bent_frame import VIEWS, enlarged, frame_drawing
from soapstone.web.desk import Desk, Edit
from soapstone.web.desks import Desks
from soapstone.web.look import (
    block,
    complain,
    entry,
    press,
    put_back,
    say,
    slab,
    without_folders,
    words,
)
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.panels.frame_panel import FramePanel
from soapstone.web.reckoned import ReckonedPage
from soapstone.web.turns import Turns

MUCH = 1e6
"""A reserve above this is as good as no load."""

TRUE = "as it truly gives"
"""How the frame is drawn when nothing is made larger."""


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/strength")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            StrengthPage(name, desk).show()


class StrengthPage(ReckonedPage[StrongJob]):
    """The strength of one job in one browser."""

    tab = "Strength"

    def __init__(self, name: str, desk: Desk) -> None:
        super().__init__(name, desk)
        self.wanted = WANTED
        self.own_weight = False
        self.case = ""
        self.view = next(iter(VIEWS))
        self.drawn_true = False
        self.done: StrongJob | None = None

    def ask(self) -> None:
        """Ask for the reserve, and whether the tubes' own weight counts."""
        with block("div", "row low"):
            self.reserve = entry("Reserve asked for", f"{self.wanted:g}", self._reserve)
            self.weight = press("Own weight too", self._weigh, aria_pressed="false")
        self.frame = FramePanel(self)
        self.turns = Turns(self.frame.place)
        self.frame.show()

    # --- what happens ----------------------------------------------------------------------------

    def change(self, edit: Edit, done: str) -> None:
        """Change the job's file, or say why that cannot be."""
        self.turns.take(partial(self.desk.change, edit, done), lambda _: self.reckon())

    def reckon(self) -> None:
        """Show what holds and loads the job as it is now, and reckon anew."""
        if self.seen not in (-1, self.desk.changes):
            self.frame.show()
        super().reckon()

    def _reserve(self, text: str) -> None:
        try:
            wanted = float(text.replace(",", "."))
            if not 0 < wanted <= 100:
                raise ValueError
        except ValueError:
            complain("Reserve: expected a number above 0, at most 100")
            put_back(self.reserve, f"{self.wanted:g}")
            return
        self.wanted = wanted
        self.reckon()

    def _weigh(self) -> None:
        self.own_weight = not self.own_weight
        self.weight.props["aria-pressed"] = "true" if self.own_weight else "false"
        self.reckon()

    def _look_from(self, view: str) -> None:
        self.view = view
        self._show()

    def _enlarge(self, how: str) -> None:
        self.drawn_true = how == TRUE
        self._show()

    def _choose(self, case: str) -> None:
        self.case = case
        self._show()

    def work(self) -> Callable[[], StrongJob]:
        """Solve the frame."""
        return partial(strength_of, self.desk.now.planned, self.wanted, own_weight=self.own_weight)

    # --- what is shown ---------------------------------------------------------------------------

    def cannot(self, why: InputError) -> None:
        """Say what a job needs to be reckoned, in place of an answer."""
        self.done = None
        self.body.clear()
        with self.body:
            words("Its strength cannot be reckoned yet.", "h2")
            words(without_folders(str(why)), kind="say stop")
            words("Say above what holds it, and what it carries.", kind="quiet")

    def show_done(self, done: StrongJob) -> None:
        """Show a load case: picture, verdict, feet."""
        self.done = done
        self._show()

    def _show(self) -> None:
        if self.done is None:
            return
        cases = {one.case: one for one in self.done.cases}
        one = cases.get(self.case) or next(iter(cases.values()))
        units = self.done.plan.job.units
        self.body.clear()
        with self.body:
            if len(cases) > 1:
                with block("nav", "row", aria_label="Load cases"):
                    for name in cases:
                        pressed = "true" if name == one.case else "false"
                        press(name, partial(self._choose, name), aria_pressed=pressed)
            with block("div", "split"):
                self._picture(self.done, one)
                with block("div", "stack"):
                    _verdict(self.done, one, units)
                    say(self.done.findings)
            words(f"{CAUTION[0].upper()}{CAUTION[1:]}.", kind="say warn")
            _feet(self.done, one, units)
            weight = "&own_weight=true" if self.own_weight else ""
            address = f"/print/strength/{quote(self.name)}.pdf?reserve={self.wanted:g}{weight}"
            block("a", "tab print", "All cases as a PDF", href=address)

    def _picture(self, done: StrongJob, one: CaseResult) -> None:
        times = 1.0 if self.drawn_true else enlarged(one)
        with slab():
            ui.html(frame_drawing(done, one, self.view, times), sanitize=False)
            with block("div", "scale", aria_hidden="true"):
                for word in ("no stress", "half", "yields"):
                    words(word, "span")
            with block("div", "row"):
                for view in VIEWS:
                    pressed = "true" if view == self.view else "false"
                    press(view, partial(self._look_from, view), aria_pressed=pressed)
            with block("div", "row"):
                much = enlarged(one)
                for label in (f"give drawn × {much:g}", TRUE):
                    pressed = "true" if (label == TRUE) == self.drawn_true else "false"
                    press(label, partial(self._enlarge, label), aria_pressed=pressed)


def _verdict(done: StrongJob, one: CaseResult, units: Units) -> None:
    with slab():
        words(one.case, "h2")
        if one.reserve > MUCH:
            words("It carries nothing in this case.")
            return
        enough = one.reserve >= done.wanted
        words(f"{one.reserve:.2f}", kind=f"big {'good' if enough else 'bad'}")
        words(f"times its load until it yields; {done.wanted:g} is asked for", kind="quiet")
        by = ", beside a weld" if one.worst.by_weld else ""
        facts = [
            ("Nearest to yield (ringed)", f"{one.worst.tube}{by}"),
            ("that far from its A end", format_fine(one.worst.along, units)),
            ("Stress there", format_stress(one.stress, units)),
            ("Gives at most", format_fine(one.deflection, units)),
            ("on", f"{one.deflected[0]}, {format_fine(one.deflected[1], units)} from A"),
        ]
        if one.buckling < 1e3:
            facts.append(("Buckles at", f"{one.buckling:.1f} times its load"))
        if done.note < MUCH:
            facts.append(("Hums at", f"{done.note:.0f} Hz"))
        _facts(facts)
        words("Of each tube", "h2", "above")
        least = sorted(one.tubes, key=lambda tube: tube.reserve)
        _facts([(tube.tube, _reserve_words(tube.reserve)) for tube in least])


def _reserve_words(reserve: float) -> str:
    return f"{reserve:.2f} ×" if reserve < 100 else "idle"


def _facts(facts: list[tuple[str, str]]) -> None:
    with block("dl", "facts"):
        for name, value in facts:
            block("dt", "", name)
            block("dd", "", value)


def _feet(done: StrongJob, one: CaseResult, units: Units) -> None:
    words("What it must be held by", "h2", "above")
    words("Forces and moments that each place has to give it, by the job's axes.", kind="quiet")
    with block("div", "cards"):
        bolts = done.bolts(one)
        for number, (held, bolt) in enumerate(zip(one.supports, bolts, strict=True), 1):
            with slab():
                with block("div", "row"):
                    words(str(number), "span", "foot still")
                    words(f"{held.tube}, {held.at}", "h2")
                with block("table", "chalked"):
                    with block("tr"):
                        for head in ("", "force along", "moment about"):
                            block("th", "", head)
                    for axis, force, moment in zip("xyz", held.force, held.moment, strict=True):
                        with block("tr"):
                            block("td", "quiet", axis)
                            block("td", "strong", format_force(force, units))
                            block("td", "strong", format_moment(moment, units))
                if bolt is not None:
                    _bolt(bolt, units)


def _bolt(bolt: BoltLoad, units: Units) -> None:
    facts = [
        (f"Bolt {bolt.bolt}, the hardest worked, is pulled", format_force(bolt.tension, units)),
        ("and sheared", format_force(bolt.shear, units)),
    ]
    if bolt.stress is not None:
        facts.append(("Its stress", format_stress(bolt.stress, units)))
    _facts(facts)
    words("A plate that bends pries and adds to the pull: that is left out.", kind="quiet small")
