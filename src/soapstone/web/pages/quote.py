"""A job's price, line by line, and the parcel it goes in; the quote as a PDF for the customer."""

from collections.abc import Callable
from functools import partial
from urllib.parse import quote as in_address

from soapstone.flow.quoting import MOST_SETS, QuotedJob, price
from soapstone.quantities import format_mass
from soapstone.sheets.quote_words import money, parcel_words, price_words, quantity_words
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, press, say, slab, words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.reckoned import ReckonedPage
from soapstone.yard.quote import Line

TITLES = {
    "material": "Tubing",
    "work": "Work",
    "finish": "Finish",
    "packing": "Packing",
    "margin": "Margin",
}
"""Kinds of line, as a customer reads them."""

COLUMNS = (("work",), ("material", "finish", "packing", "margin"))
"""Kinds of line as they stand on the page."""


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/quote")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            QuotePage(name, desk).show()


class QuotePage(ReckonedPage[QuotedJob]):
    """The price of one job in one browser."""

    tab = "Quote"
    meanwhile = "Reckoning, and packing the parcel …"

    def __init__(self, name: str, desk: Desk) -> None:
        super().__init__(name, desk)
        self.count = 1

    def ask(self) -> None:
        """Ask for how many sets."""
        with block("div", "row counter"):
            self.less = press("−", partial(self._step, -1), aria_label="One set less")
            self.less.props["disabled"] = True
            self.sets = words("1", "span", "count")
            press("+", partial(self._step, 1), aria_label="One set more")
            words("sets", "span", "quiet")

    def _step(self, step: int) -> None:
        self.count = min(max(1, self.count + step), MOST_SETS)
        self.sets.set_content(str(self.count))
        self.less.props["disabled"] = self.count == 1
        self.reckon()

    def work(self) -> Callable[[], QuotedJob]:
        """Price so many sets."""
        return partial(price, self.desk.now.planned, self.count)

    def show_done(self, done: QuotedJob) -> None:
        """Show the price and the parcel."""
        with block("div", "split"):
            with slab():
                _total(done)
                address = f"/print/quote/{in_address(self.name)}.pdf?count={self.count}"
                block("a", "tab print", "Quote for the customer, PDF", href=address)
            with slab():
                _parcel(done)
        with block("div", "split"):
            for kinds in COLUMNS:
                with block("div", "stack"):
                    for kind in kinds:
                        _lines(kind, done)
        say(done.findings)
        if not done.quote.complete:
            block("a", "word", "Prices and minutes stand on the bench", href="/bench")


def _total(done: QuotedJob) -> None:
    priced, rates = done.quote, done.rates
    known = "Total" if priced.complete else "Total of what has a price"
    words(known, kind="quiet")
    words(f"{money(priced.total, rates)} {rates.currency}".strip(), kind="big")
    each = f"{money(priced.each, rates)} each · " if priced.count > 1 else ""
    mass = format_mass(done.mass, done.plan.job.units)
    words(f"{each}{priced.hours:.1f} hours · {mass} of tube · tax left out", kind="quiet")


def _parcel(done: QuotedJob) -> None:
    parcel, units = done.parcel, done.plan.job.units
    if parcel is None:
        words("No parcel: no tube has a shape yet.", kind="quiet")
        return
    size = partial(parcel_words, units=units)
    words("Parcel" if done.quote.count == 1 else f"{done.quote.count} parcels, each", kind="quiet")
    edges = (parcel.length, parcel.width, parcel.height)
    words(" × ".join(size(edge) for edge in edges), "p", "headline strong")
    with block("dl", "facts"):
        for name, value in (
            ("Weighs", format_mass(parcel.mass, units)),
            ("Length and girth", size(parcel.length + parcel.girth)),
        ):
            block("dt", "", name)
            block("dd", "", value)


def _lines(kind: str, done: QuotedJob) -> None:
    lines = [line for line in done.quote.lines if line.kind == kind]
    if not lines:
        return
    with slab():
        words(TITLES[kind], "h2")
        for line in lines:
            amount = "no price" if line.amount is None else money(line.amount, done.rates)
            with block("div", "bar-row"):
                with block("div", "row apart"):
                    words(line.what, "span")
                    words(amount, "span", "strong")
                if kind != "margin":
                    words(_each(line, done), kind="quiet small")


def _each(line: Line, done: QuotedJob) -> str:
    units, rates = done.plan.job.units, done.rates
    quantity = quantity_words(line, units, rates)
    if line.price is None:
        return quantity
    an_hour = " an hour" if line.kind == "work" else ""
    return f"{quantity} at {price_words(line, units, rates)}{an_hour}"
