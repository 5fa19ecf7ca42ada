"""The cards of the bench page: figures put right, dies and tubing added and taken away."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal, Protocol

from nicegui import ui

from soapstone.bench.model import Bench
from soapstone.flow.keeping import change_bench, figures_edit
from soapstone.flow.owning import (
    KINDS,
    Kind,
    Leaving,
    added,
    counted,
    leaving,
    named_elsewhere,
    put_right,
    taken_away,
)
from soapstone.web.bench_cards import Card, Shelf, new_card, shelves_of
from soapstone.web.bench_desk import BenchDesk
from soapstone.web.look import block, choice, entry, press, slab, words

ADD: dict[Kind, str] = {"die": "Add a die", "tubing": "Add tubing"}
NOTHING: dict[Kind, str] = {
    "die": "No die yet: nothing can be bent.",
    "tubing": "No tubing yet: nothing can be cut.",
}


@dataclass(frozen=True, slots=True)
class Opened:
    """The one card that is open: to change it, to add one (like it, if it has a name), to go."""

    how: Literal["change", "add", "leave"]
    title: str = ""
    kind: Kind | None = None
    name: str = ""


class Page(Protocol):
    """What the cards ask of the page that they are on."""

    desk: BenchDesk

    def act(
        self, work: Callable[[], object], then: Callable[[], str], otherwise: Callable[[], None]
    ) -> None:
        """Do something beside the page; `then` is called when it is done, and says so."""

    def refresh(self) -> None:
        """Draw the page anew."""


class Shelves:
    """The cards of a bench, at most one of them open."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.opened: Opened | None = None
        self.typed: dict[str, str] = {}
        self.told: Leaving | None = None
        self.look_at = ""
        self.under_way: set[str] = set()

    # --- what happens ----------------------------------------------------------------------------

    def _open(self, opened: Opened | None, look_at: str = "") -> None:
        self.opened, self.typed, self.look_at = opened, {}, look_at
        self.page.refresh()

    def _once(
        self, here: Opened | None, what: str, work: Callable[[], object], then: Callable[[], str]
    ) -> None:
        """Do something asked for on a card; pressed a second time, it asks for nothing more."""
        if what in self.under_way or self.opened is not here:
            return
        self.under_way.add(what)

        def done() -> str:
            self.under_way.discard(what)
            return then()

        self.page.act(work, done, lambda: self.under_way.discard(what))

    def _done(self, opened: Opened | None, look_at: str) -> None:
        """Close what was open when something was asked for, unless another card is open by now."""
        if self.opened is opened:
            self.opened, self.typed, self.look_at = None, {}, look_at

    def _keep(self, here: Opened | None, card: Card) -> None:
        typed = card.meant(self.typed)
        name = typed.get("name", "").strip() or card.name
        kind = _kind(card)

        def work() -> tuple[str, ...]:
            desk, done = self.page.desk, f"figures of {card.title}"
            if kind is None:
                edit = figures_edit(card.table, card.name, typed)
                return desk.change(partial(change_bench, edit=edit), done)
            assert desk.path is not None
            beside = named_elsewhere(desk.path, kind, card.name, name, desk.jobs())
            act = partial(change_bench, edit=put_right(kind, card.name, typed))
            return desk.change(act, done, beside)

        def then() -> str:
            title = card.title.removesuffix(card.name) + name if card.name else card.title
            self._done(here, title)
            return ""

        self._once(here, f"keep {card.title}", work, then)

    def _add(self, here: Opened | None, card: Card, kind: Kind) -> None:
        usual = {field.key: field.value for field in card.fields if not card.name}
        typed = card.meant(usual | self.typed)
        name = typed.setdefault("name", "").strip()
        act = partial(change_bench, edit=added(kind, typed, card.name))
        what = f"{_called(kind)} {name}"

        def then() -> str:
            self._done(here, what)
            return f"{what} added"

        work = partial(self.page.desk.change, act, f"{what} added")
        self._once(here, f"add {what}", work, then)

    def _ask_to_leave(self, here: Opened | None, card: Card, kind: Kind) -> None:
        def work() -> None:
            assert self.page.desk.path is not None
            self.told = leaving(self.page.desk.path, kind, card.name, self.page.desk.jobs())

        def then() -> str:
            if self.opened is here:
                self.opened = Opened("leave", card.title, kind, card.name)
            return ""

        self._once(here, f"ask {card.title}", work, then)

    def _take_away(self, here: Opened | None, card: Card, kind: Kind) -> None:
        act = partial(change_bench, edit=taken_away(kind, card.name))

        def work() -> None:
            # which jobs miss it was said before it went
            self.page.desk.change(act, f"{card.title} taken away")

        def then() -> str:
            self._done(here, ADD[kind])
            return f"{card.title} taken away; Undo brings it back"

        self._once(here, f"take {card.title}", work, then)

    # --- what is shown ---------------------------------------------------------------------------

    def show(self, bench: Bench) -> None:
        """Draw the cards."""
        for shelf in shelves_of(bench):
            self._shelf(shelf, bench)

    def _shelf(self, shelf: Shelf, bench: Bench) -> None:
        adding = self.opened is not None and self.opened.how == "add" and self.opened.kind
        if shelf.title:
            with block("div", "row apart above"):
                words(shelf.title, "h2", "large")
                if shelf.kind and self.page.desk.path is not None and adding != shelf.kind:
                    label = ADD[shelf.kind]
                    made = press(label, partial(self._open, Opened("add", kind=shelf.kind)))
                    self._maybe_look(made, label)
        with block("div", "cards"):
            if shelf.kind and adding == shelf.kind and self.opened and not self.opened.name:
                self._form(new_card(bench, shelf.kind))
            for card in shelf.cards:
                self._card(card)
                if self.opened == Opened("add", kind=_kind(card), name=card.name) and shelf.kind:
                    self._form(new_card(bench, shelf.kind, card.name))
        if shelf.kind and not shelf.cards and not adding:
            words(NOTHING[shelf.kind], kind="quiet")

    def _card(self, card: Card) -> None:
        here = self.opened if self.opened and self.opened.title == card.title else None
        here = here if self.page.desk.path is not None else None
        with slab("wide-card" if here else ""):
            with block("div", "row apart"):
                words(card.title, "h2")
                if card.fields and self.page.desk.path is not None:
                    self._open_or_leave(card, here)
            if here is None:
                _facts(card)
            elif here.how == "leave" and here.kind and self.told:
                self._going(card, here.kind, self.told)
            else:
                self._fields(card)
                self._ways(card)

    def _open_or_leave(self, card: Card, here: Opened | None) -> None:
        word = "Leave" if here else "Change"
        to = None if here else Opened("change", card.title, _kind(card), card.name)
        press_it = partial(self._open, to, card.title)
        made = press(word, press_it, "plain", aria_label=f"{word} {card.title}")
        self._maybe_look(made, card.title)

    def _form(self, card: Card) -> None:
        kind = _kind(card)
        assert kind is not None
        with slab("wide-card"):
            with block("div", "row apart"):
                words(card.title, "h2")
                press("Leave", partial(self._open, None, ADD[kind]), "plain")
            self._fields(card, first=not self.typed)
            with block("div", "row"):
                press(f"Add this {kind}", partial(self._add, self.opened, card, kind), "main")
                words(_HOW, kind="quiet")

    def _fields(self, card: Card, *, first: bool = False) -> None:
        with block("div", "fields"):
            for field in card.fields:
                note = partial(self._note, field.key)
                value = self.typed.get(field.key, field.value)
                made = (
                    choice(field.label, field.options, value, note)
                    if field.options
                    else entry(field.label, value, note)
                )
                if first and field is card.fields[0]:
                    _focus(made)

    def _ways(self, card: Card) -> None:
        kind = _kind(card)
        with block("div", "row"):
            press("Keep it", partial(self._keep, self.opened, card), "main")
            if kind:
                like = Opened("add", kind=kind, name=card.name)
                press("Another like this", partial(self._open, like))
                press("Take away …", partial(self._ask_to_leave, self.opened, card, kind))
        words(_HOW, kind="quiet")

    def _going(self, card: Card, kind: Kind, told: Leaving) -> None:
        for line in going_words(kind, told):
            words(line)
        with block("div", "row"):
            going = press("Take it away", partial(self._take_away, self.opened, card, kind), "main")
            press("Keep it there", partial(self._open, None, card.title))
        _focus(going)

    def _note(self, key: str, text: str) -> None:
        self.typed[key] = text

    def _maybe_look(self, made: ui.element, title: str) -> None:
        if title and title == self.look_at:
            self.look_at = ""
            _focus(made)


_HOW = "Empty: as is usual. Lengths as 1 1/2 in or 38.1 mm."


def going_words(kind: Kind, told: Leaving) -> Iterator[str]:
    """Say, a line each, what goes with a die or a tubing that is taken away."""
    for job, tubes in told.jobs:
        yield f"{job} is made with it ({', '.join(tubes)}), and must name another {kind} then."
    if told.trials:
        bends = counted(told.trials, "trial bend")
        yield f"The bench file keeps {bends} of it as remarks, which no longer count."
    for file in told.files:
        yield f"The trial bends in {file} stay there, and no longer count."
    if told.logged:
        yield f"The shop log keeps {counted(told.logged, 'bend')} of it, which no longer count."
    if told.lying:
        yield f"The yard holds {counted(told.lying, 'stick')} of it."
    if told.last:
        yield f"It is the only {kind} of this bench."
    if not any((told.jobs, told.trials, told.files, told.logged, told.lying, told.last)):
        yield "No job of this folder is made with it, and no trial bends were made with it."


def _facts(card: Card) -> None:
    with block("dl", "facts"):
        for name, value in card.facts:
            block("dt", "", name)
            block("dd", "", value)
    if card.foot:
        words(card.foot, kind="quiet")


def _kind(card: Card) -> Kind | None:
    return next((kind for kind in KINDS if kind == card.table), None)


def _called(kind: Kind) -> str:
    return "Die" if kind == "die" else "Tube"


def _focus(made: ui.element) -> None:
    """Take the keyboard there, and bring the whole card into sight once its words have come."""
    made.client.run_javascript(
        f"const one = getHtmlElement({made.id}); one?.focus({{ preventScroll: true }});"
        'setTimeout(() => (one?.closest(".slab") ?? one)?.scrollIntoView({ block: "nearest" }), 60)'
    )
