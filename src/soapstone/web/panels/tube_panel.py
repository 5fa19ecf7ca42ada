"""The tube itself: its name, tubing, die, gap and remark; and tubes put in and taken out."""

from functools import partial

from soapstone.exchange.job_edits import with_value
from soapstone.flow.reshaping import (
    number_of,
    with_length,
    with_other_hand,
    with_shape,
    without_tube,
)
from soapstone.web.look import block, choice, entry, press, slab, words
from soapstone.web.panels.desk_page import DeskPage
from soapstone.web.panels.starter_numbers import StarterNumbers
from soapstone.web.panels.tables import bare_text

ACROSS = {"side to side (xz)": "xz", "front to back (yz)": "yz", "top to bottom (xy)": "xy"}
"""Planes to mirror across, as said on the page."""

WRITTEN_OUT = "as written out in the file"
"""What is said of tubing or a die whose sizes are in the job itself; one of the bench can be."""


def show(page: DeskPage) -> None:
    """Show what the picked tube is made of, and the ways to more tubes."""
    tube = page.tube
    if tube is not None:
        with slab():
            _this(page, tube.name)
    with slab():
        AddTube(page).show()


def _this(page: DeskPage, name: str) -> None:
    now = page.desk.now
    wish, units = now.job.tube(name), now.job.units
    place = ("tube", number_of(now.job, name))
    words("This tube", "h2")
    with block("div", "fields"):
        if wish.mirror is None:
            _named(page, place, "tubing", "Tubing", [one.name for one in now.bench.tubings])
            _named(page, place, "die", "Die", [one.name for one in now.bench.dies])
        entry("Gap it needs", bare_text(wish.gap, units), partial(_gap, page, place))
        entry("Remark for the sheet", wish.note, partial(_note, page, place))
    with block("div", "row"):
        asked = {"across": "xz"}
        choice(
            "Other hand, mirrored",
            ACROSS,
            next(iter(ACROSS)),
            lambda w: asked.update(across=ACROSS[w]),
        )
        press("Make the other hand", lambda: _other_hand(page, name, asked["across"]))
        press(f"Take {name} out", partial(_out, page, name), "plain")


def _named(
    page: DeskPage, place: tuple[str | int, ...], key: str, label: str, names: list[str]
) -> None:
    now = getattr(page.desk.now.job.tubes[int(place[1])], key)
    if now is not None and not isinstance(now, str):
        now = WRITTEN_OUT
    options = names if now is None or now in names else [now, *names]

    def picked(name: str) -> None:
        if name == WRITTEN_OUT:
            return
        page.change(lambda text: with_value(text, (*place, key), name), f"{label.lower()} {name}")

    choice(label, options, now or (names[0] if names else ""), picked)


def _gap(page: DeskPage, place: tuple[str | int, ...], typed: str) -> None:
    job = page.desk.now.job
    page.change(
        lambda text: with_length(text, job, (*place, "gap"), typed, may_be_none=True), "gap"
    )


def _note(page: DeskPage, place: tuple[str | int, ...], typed: str) -> None:
    page.change(lambda text: with_value(text, (*place, "note"), typed.strip() or None), "remark")


def _other_hand(page: DeskPage, name: str, across: str) -> None:
    page.change(
        lambda text: with_other_hand(text, page.desk.now.job, name, across), f"other hand of {name}"
    )


def _out(page: DeskPage, name: str) -> None:
    page.change(lambda text: without_tube(text, page.desk.now.job, name), f"{name} taken out")


class AddTube:
    """A new tube: its shape, the few numbers that it starts from, and its name."""

    def __init__(self, page: DeskPage) -> None:
        self.page = page
        self.start = StarterNumbers(page.desk.now.job.units)
        self.called = ""

    def show(self) -> None:
        """Build it."""
        words("Another tube", "h2")
        with block("div", "row"):
            self.start.show_choice()
            entry("What it is called", "", lambda text: setattr(self, "called", text.strip()))
        self.start.show_numbers()
        press("Put it in", self._add, "main")

    def _add(self) -> None:
        now, shape, called = self.page.desk.now, self.start.shape, self.called

        def edit(text: str) -> str:
            return with_shape(text, now.job, now.bench, shape, self.start.values, called)

        self.page.change(edit, f"{called or shape} put in")
