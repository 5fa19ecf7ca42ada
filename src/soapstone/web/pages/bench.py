"""The bench: what the shop owns, how well each dial is known, and figures put right."""

import datetime
from collections.abc import Callable
from functools import partial
from urllib.parse import quote

from nicegui import ui

from soapstone.bench.files import starter_text
from soapstone.errors import InputError
from soapstone.flow.keeping import add_bend
from soapstone.flow.owning import KINDS, bare_text
from soapstone.flow.showing import Pairing, ShownBench, trial_bends
from soapstone.quantities import Units, parse_angle
from soapstone.web.bench_desk import BenchDesk, Benches
from soapstone.web.look import (
    anew,
    block,
    choice,
    complain,
    dress,
    entry,
    press,
    say,
    slab,
    tell,
    words,
)
from soapstone.web.panels.bench_shelves import Shelves
from soapstone.web.panels.which_bench import which_bench
from soapstone.web.springback import knowledge_words, springback_svg, stop_words
from soapstone.web.tabs import shop_top
from soapstone.web.turns import Turns


def hang_up(benches: Benches) -> None:
    """Put the page in its place."""

    @ui.page("/bench")
    def show(which: str = "") -> None:
        dress("Bench")
        with block("main", "page stack"):
            shop_top("Bench", "Bench")
            try:
                desk = benches.open(which)
            except InputError as error:
                words(str(error), kind="say stop")
                return
            which_bench(benches, desk, "/bench")
            BenchPage(benches, desk).show()


class BenchPage:
    """The bench in one browser."""

    def __init__(self, benches: Benches, desk: BenchDesk) -> None:
        self.benches, self.desk = benches, desk
        self.picked = 0
        self.asked = 90.0
        self.most = 180.0
        self.trial = {"dial": "", "angle": "", "lot": ""}
        self.seen = ""
        self.shelves = Shelves(self)

    def show(self) -> None:
        """Build the page."""
        self._head()
        self.body = block("div", "stack steady")
        self.turns = Turns(self.body)
        self.refresh()
        ui.timer(1.0, self._watch)

    # --- what happens ----------------------------------------------------------------------------

    def _watch(self) -> None:
        """See what other pages, and other programs, did to the bench."""
        if not self.turns.busy and self.desk.stamp() != self.seen:
            self.refresh()

    def act(
        self,
        work: Callable[[], object],
        then: Callable[[], str],
        otherwise: Callable[[], None] = lambda: None,
    ) -> None:
        """Do something beside the page, one after the other, and show what came of it.

        `then` is called when it is done, and says so; `otherwise` where it cannot be. What work
        gives as a tuple of lines is said too: it is what others have lost by it.
        """
        self.turns.take(work, partial(self._done, then), otherwise)

    def _done(self, then: Callable[[], str], lost: object) -> None:
        if said := then():
            tell(said)
        for line in lost if isinstance(lost, tuple) else ():
            complain(line)
        self.refresh()

    def _undo(self) -> None:
        done: list[str] = []

        def then() -> str:
            return f"Undone: {done[0]}" if done[0] else ""

        self.act(lambda: done.append(self.desk.undo()), then)

    def _ask(self, text: str) -> None:
        try:
            angle = parse_angle(text)
            if not 0 < angle <= self.most:
                raise ValueError(f"expected an angle above 0, at most the bender's {self.most:g}°")
        except ValueError as error:
            complain(error)
            return
        self.asked = angle
        self.refresh()

    def _pick(self, pairings: tuple[Pairing, ...], name: str) -> None:
        self.picked = next(i for i, one in enumerate(pairings) if one.name == name)
        self.refresh()

    def _add_trial(self, pairing: Pairing) -> None:
        given = dict(self.trial)
        act = partial(
            add_bend,
            die=pairing.die.name,
            tubing=pairing.tubing.name,
            dial=given["dial"],
            angle=given["angle"],
            lot=given["lot"],
            date=datetime.datetime.now().astimezone().date().isoformat(),
        )
        done = f"trial bend {given['dial']}° that gave {given['angle']}°"
        self.trial.update(dial="", angle="")

        def otherwise() -> None:
            for key in ("dial", "angle"):
                self.trial[key] = self.trial[key] or given[key]

        self.act(
            partial(self.desk.change, act, done),
            lambda: "Trial bend added: the dial is reckoned anew",
            otherwise,
        )

    def _start_own(self, text: Callable[[Units], str], units: Units) -> None:
        names: list[str] = []

        def then() -> str:
            ui.navigate.to(f"/bench?which={quote(names[0])}")
            return ""

        self.act(lambda: names.append(self.benches.shop.add("bench", text(units))), then)

    # --- what is shown ---------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the bench as it is now."""
        self.seen = self.desk.stamp()
        if self.desk.path is not None:
            self.undo.props["disabled"] = not self.desk.past
        with anew(self.body):
            try:
                shown = self.desk.shown()
            except InputError as error:
                words("This bench cannot be read.", "h2")
                words(str(error), kind="say stop")
                words(
                    "Put the file right in any text editor; this page then goes on.", kind="quiet"
                )
                return
            self._dial(shown)
            self.shelves.show(shown.bench)
            # an empty shelf says so where it stands
            say(found for found in shown.findings if found.where not in KINDS)

    def _head(self) -> None:
        with block("div", "row"):
            if self.desk.path is None:
                words("The starter bench: usual figures, until you write down your own.")
                press("Start ours, in mm", partial(self._start_own, starter_text, "mm"), "main")
                press("Start ours, in inches", partial(self._start_own, starter_text, "in"))
                words("or with no die and no tubing yet:", kind="quiet")
                press("Empty, in mm", partial(self._start_own, bare_text, "mm"))
                press("Empty, in inches", partial(self._start_own, bare_text, "in"))
            else:
                words(self.desk.path.name, kind="quiet")
                self.undo = press("Undo", self._undo, "plain")

    def _dial(self, shown: ShownBench) -> None:
        pairings = shown.pairings
        if not pairings:
            words("No tubing of this bench fits a die of it.", kind="say warn")
            return
        pairing = pairings[min(self.picked, len(pairings) - 1)]
        bends = trial_bends(shown.bench, pairing.die, pairing.tubing)
        known = pairing.calibration
        self.most = shown.bench.bender.max_angle
        self.asked = min(self.asked, self.most)
        with slab(), block("div", "split"):
            with block("div", "stack"):
                names = [one.name for one in pairings]
                choice("Die and tubing", names, pairing.name, partial(self._pick, pairings))
                drawn = springback_svg(known, bends, self.asked, shown.bench.bender.max_angle)
                ui.html(drawn, sanitize=False)
                if any(not bend.counts for bend in bends):
                    words("Hollow: lots before the metal changed; they do not count.", kind="quiet")
            with block("div", "stack"):
                with block("div", "row"):
                    entry("For a bend of", f"{self.asked:g}", self._ask)
                    with block("div"):
                        words("stop the dial at", kind="quiet")
                        words(f"{known.dial(self.asked):.1f}°", kind="big")
                words(knowledge_words(known, self.asked))
                words(stop_words(known, self.asked, shown.bench.tolerance), kind="quiet")
                self._trial(pairing)

    def _trial(self, pairing: Pairing) -> None:
        if self.desk.path is None:
            return
        words("Add a trial bend", "h2", "above")
        with block("div", "fields"):
            for label, key in (
                ("Dial stopped at", "dial"),
                ("Angle measured", "angle"),
                ("Lot", "lot"),
            ):
                entry(label, self.trial[key], partial(self._note, self.trial, key))
        with block("div", "row"):
            press("Add it", partial(self._add_trial, pairing), "main")
            words("Measure after release.", kind="quiet")

    @staticmethod
    def _note(into: dict[str, str], key: str, text: str) -> None:
        into[key] = text
