"""The bench: what the shop owns, how well each dial is known, and figures put right."""

import datetime
from collections.abc import Callable, Mapping
from functools import partial
from typing import Literal
from urllib.parse import quote

from nicegui import ui

from soapstone.bench.files import starter_text
from soapstone.errors import InputError
from soapstone.flow.keeping import add_bend, change_bench, figures_edit
from soapstone.flow.showing import Pairing, ShownBench, trial_bends
from soapstone.quantities import Units, parse_angle
from soapstone.web.bench_cards import Card, cards_of
from soapstone.web.bench_desk import OWN, BenchDesk, Benches
from soapstone.web.desks import Desks
from soapstone.web.look import anew, block, choice, dress, entry, press, say, slab, words
from soapstone.web.springback import knowledge_words, springback_svg, stop_words
from soapstone.web.tabs import shop_top


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""
    benches = Benches(desks.shop)

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
            _choose(benches, desk)
            BenchPage(benches, desk).show()


def _choose(benches: Benches, desk: BenchDesk) -> None:
    names = benches.names()
    if len(names) < 2:
        return
    with block("nav", "tabs", aria_label="Which bench"):
        for name in names:
            here = {"aria_current": "page"} if benches.open(name) is desk else {}
            word = "the shop's own" if name == OWN else name
            block("a", "tab", word, href=f"/bench?which={quote(name)}", **here)


class BenchPage:
    """The bench in one browser."""

    def __init__(self, benches: Benches, desk: BenchDesk) -> None:
        self.benches, self.desk = benches, desk
        self.picked = 0
        self.asked = 90.0
        self.most = 180.0
        self.changing = ""
        self.trial = {"dial": "", "angle": "", "lot": ""}
        self.typed: dict[str, str] = {}
        self.seen = ""

    def show(self) -> None:
        """Build the page."""
        self._head()
        self.body = block("div", "stack")
        self._refresh()
        ui.timer(1.0, self._watch)

    # --- what happens ----------------------------------------------------------------------------

    def _watch(self) -> None:
        """See what other pages, and other programs, did to the bench."""
        if self.desk.stamp() != self.seen:
            self._refresh()

    def _do(self, act: Callable[[], object]) -> bool:
        try:
            act()
        except InputError as error:
            self._tell(str(error), "negative")
            return False
        self._refresh()
        return True

    def _tell(self, text: str, kind: Literal["positive", "negative", "info"]) -> None:
        with self.body:  # what was pressed may be gone by now
            ui.notify(
                text, type=kind, multi_line=True, timeout=9000 if kind == "negative" else 4000
            )

    def _undo(self) -> None:
        def step() -> None:
            if done := self.desk.undo():
                self._tell(f"Undone: {done}", "info")

        self._do(step)

    def _ask(self, text: str) -> None:
        def asked() -> None:
            try:
                angle = parse_angle(text)
            except ValueError as error:
                raise InputError(str(error)) from None
            if not 0 < angle <= self.most:
                raise InputError(f"expected an angle above 0, at most the bender's {self.most:g}°")
            self.asked = angle

        self._do(asked)

    def _pick(self, pairings: tuple[Pairing, ...], name: str) -> None:
        self.picked = next(i for i, one in enumerate(pairings) if _name(one) == name)
        self._refresh()

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
        kept = dict(self.trial)
        self.trial.update(dial="", angle="")
        if self._do(partial(self.desk.change, act, done)):
            self._tell("Trial bend added: the dial is reckoned anew", "positive")
        else:
            self.trial.update(kept)

    def _change(self, card: Card) -> None:
        self.changing = "" if self.changing == card.title else card.title
        self.typed = {}
        self._refresh()

    def _keep(self, card: Card) -> None:
        typed: Mapping[str, str] = {
            key: text for name, text in self.typed.items() for key, text in card.meant(name, text)
        }
        edit = figures_edit(card.table, card.name, typed)

        def keep() -> None:
            self.desk.change(partial(change_bench, edit=edit), f"figures of {card.title}")
            self.changing, self.typed = "", {}

        self._do(keep)

    def _start_own(self, units: Units) -> None:
        def write() -> None:
            name = self.benches.shop.add("bench", starter_text(units))
            ui.navigate.to(f"/bench?which={quote(name)}")

        self._do(write)

    # --- what is shown ---------------------------------------------------------------------------

    def _refresh(self) -> None:
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
            with block("div", "cards"):
                for card in cards_of(shown.bench):
                    self._card(card)
            say(shown.findings)

    def _head(self) -> None:
        with block("div", "row"):
            if self.desk.path is None:
                words("The starter bench: usual figures, until you write down your own.")
                press("Start ours, in mm", partial(self._start_own, "mm"), "main")
                press("Start ours, in inches", partial(self._start_own, "in"))
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
                names = [_name(one) for one in pairings]
                choice("Die and tubing", names, _name(pairing), partial(self._pick, pairings))
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

    def _card(self, card: Card) -> None:
        changing = self.changing == card.title and self.desk.path is not None
        with slab("wide-card" if changing else ""):
            with block("div", "row apart"):
                words(card.title, "h2")
                if card.fields and self.desk.path is not None:
                    press(
                        "Leave" if changing else "Change",
                        partial(self._change, card),
                        "plain",
                        aria_label=f"{'Leave' if changing else 'Change'} {card.title}",
                    )
            if not changing:
                with block("dl", "facts"):
                    for name, value in card.facts:
                        block("dt", "", name)
                        block("dd", "", value)
                if card.foot:
                    words(card.foot, kind="quiet")
                return
            with block("div", "fields"):
                for field in card.fields:
                    typed = partial(self._note, self.typed, field.key)
                    if field.options:
                        choice(field.label, field.options, field.value, typed)
                    else:
                        entry(field.label, self.typed.get(field.key, field.value), typed)
            with block("div", "row"):
                press("Keep it", partial(self._keep, card), "main")
                words("Empty: as is usual. Lengths as 12 3/8 in or 44.5 mm.", kind="quiet")


def _name(pairing: Pairing) -> str:
    return f"{pairing.die.name}, {pairing.tubing.name}"
