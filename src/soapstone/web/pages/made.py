"""Made: a finished tube, taped, against its drawing: does it pass, and which bend is off."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from urllib.parse import quote

from nicegui import ui

from soapstone.check.inspect.asked import AskedRow, RowKind
from soapstone.check.inspect.result import AsMadeNumber, Inspection
from soapstone.errors import InputError
from soapstone.flow.at_bender import date_and_time
from soapstone.flow.inspecting import inspect_tube
from soapstone.flow.taping import Key, Piece, Taking, begin, put_down, put_lot, take
from soapstone.log.store import log_path
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units, format_angle, format_fine
from soapstone.sheets.words import Numbers
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import (
    anew,
    block,
    entry,
    press,
    put_back,
    say,
    slab,
    tell,
    without_folders,
    words,
)
from soapstone.web.made_file import made_file
from soapstone.web.made_words import ends_verdict, name_of, to_do, verdict, worst_words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.reckoned import ReckonedPage
from soapstone.web.tabs import job_body
from soapstone.web.taped_picture import places_svg, row_svg
from soapstone.web.turns import Turns
from soapstone.web.watching import OFTEN, watch

WRITING = threading.Lock()
"""Readings are read, changed and written by one page at a time."""

SAYS = {"good": "good", "out": "out", "doubtful": "not sure"}


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/made")
    async def show(name: str, tube: str = "") -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            MadePage(name, desk, tube).show()


@dataclass(slots=True)
class Sheet:
    """The readings as they stand on the page: what was built from, and what was typed since."""

    rows: tuple[AskedRow, ...] = ()
    typed: dict[tuple[RowKind, int, Key], str] = field(default_factory=dict)
    lot: str = ""


class MadePage(ReckonedPage[Taking]):
    """One made tube in one browser."""

    tab = "Made"
    meanwhile = "Choosing what to tape …"

    def __init__(self, name: str, desk: Desk, tube: str) -> None:
        super().__init__(name, desk)
        bent = [one.name for one in desk.now.planned.planned if one.bends]
        self.tubes = bent
        self.tube = tube if tube in bent else next(iter(bent), "")
        self.shown = Sheet()
        self.stamp: object = None

    # --- the page --------------------------------------------------------------------------------

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, self.tab, "made"):
            if not self.tube:
                words("No tube of this job is bent, or none can be planned.", kind="quiet")
                return
            watch(self.desk, lambda: self.seen, self.reckon)
            self._which()
            self.short = block("div", "verdict-line")
            with block("div", "desk even"):
                self.sheet = block("div", "stack")
                self.body = block("section", "stack", aria_live="polite")
        self.turns = Turns(self.sheet)
        with self.body:
            words(self.meanwhile, kind="quiet")
        ui.timer(OFTEN, self._look)
        self.reckon()

    def _which(self) -> None:
        base = f"/job/{quote(self.name, safe='')}/made"
        with block("nav", "tabs many", aria_label="Which tube"):
            for tube in self.tubes:
                here = {"aria_current": "page"} if tube == self.tube else {}
                block("a", "tab", tube, href=f"{base}?tube={quote(tube, safe='')}", **here)

    def _look(self) -> None:
        """See readings that another page, or another program, put down."""
        if self._stamp() != self.stamp:
            self.reckon()

    def _stamp(self) -> object:
        file = self.file
        try:
            return (file.name, file.stat().st_mtime_ns)
        except OSError:
            return file.name

    @property
    def file(self) -> Path:
        """The file of the piece being measured."""
        return made_file(self.desk.path, self.tube)

    @property
    def piece(self) -> Piece:
        """The piece being measured, by the plan as it is now."""
        return Piece(self.desk.path, self.tube, self.file, self.desk.now.planned)

    # --- what is reckoned ------------------------------------------------------------------------

    def reckon(self) -> None:
        """Reckon anew."""
        if self.tube:
            self.stamp = self._stamp()
            super().reckon()

    def work(self) -> Callable[[], Taking]:
        """Hold what was taped against the drawing."""
        return partial(take, self.piece)

    def cannot(self, why: InputError) -> None:
        """Say why the readings cannot be held against the drawing, and the way out."""
        with anew(self.body):
            words("These readings cannot be held against the drawing.", "h2")
            words(without_folders(str(why)), kind="say stop")
            words(
                "The tube was changed since they were taken, or the file was. It stays as it is.",
                kind="quiet",
            )
            press("Begin with another piece", self._another, "main left")

    def show_done(self, done: Taking) -> None:
        """Show the verdict; the readings are built anew only where they are not as shown."""
        if (done.rows, done.typed, done.lot) != (
            self.shown.rows,
            self.shown.typed,
            self.shown.lot,
        ):
            self.shown = Sheet(done.rows, dict(done.typed), done.lot)
            with anew(self.sheet):
                self._readings(done)
        said, kind = verdict(done)
        with anew(self.short):
            words(said, kind=f"big {kind}")
        words(said, "h2", f"verdict {kind}")
        if done.result is None:
            words("Tape what is asked for, in any order; the verdict comes with the first reading.")
            return
        _answer(done.result, done.plan, self._bender())
        self._to_log()

    def _bender(self) -> str:
        job, tube = quote(self.name, safe=""), quote(self.tube, safe="")
        return f"/job/{job}/bender/{tube}"

    # --- what is typed ---------------------------------------------------------------------------

    def _readings(self, done: Taking) -> None:
        plan = done.plan
        numbers = Numbers(done.units, plan.setup.tape, plan.setup.dial_step)
        with slab():
            words("What to measure", "h2")
            unit = "inches" if done.units == "in" else "mm"
            words(
                f"Type lengths as the tape reads: bare numbers are {unit}; 12 3/8 in or 314.5 mm "
                "will do anywhere. Leave empty what was not measured.",
                kind="quiet",
            )
            ui.html(places_svg(plan), sanitize=False)
            words("Mark 1 is the line that bend 1 was made by, and so on.", kind="quiet")
        self._kind(done, numbers, "tape", "Tape", TAPE)
        self._kind(done, numbers, "bend", "Protractor", PROTRACTOR)
        self._kind(done, numbers, "height", "On a flat floor", FLOOR)
        with slab():
            with block("div", "row low"):
                entry("Lot of tubing, if you know it", done.lot, self._lot)
                press("Measure another piece", self._another)
            words(f"Kept beside the job, in {self.file.name}.", kind="quiet")

    def _kind(self, done: Taking, numbers: Numbers, kind: str, title: str, how: str) -> None:
        rows = [row for row in done.rows if row.kind == kind]
        if not rows:
            return
        with slab():
            words(title, "h2")
            words(how, kind="quiet")
            for row in rows:
                with block("div", "taping"):
                    ui.html(row_svg(done.plan, row), sanitize=False)
                    with block("div", "stack tight-rows"):
                        self._row(done, row, numbers)

    def _row(self, done: Taking, row: AskedRow, numbers: Numbers) -> None:
        if row.kind == "bend":
            step = next(one for one in done.plan.bends if one.n == row.bend)
            self._field(row, "angle", f"Angle of bend {row.bend}")
            self._field(row, "dial", f"Dial of bend {row.bend}, if not {step.dial_stop:g}°")
            drawn = f"bend {row.bend} · {row.drawn:.1f}° as drawn"
            words(f"{drawn}; no tape tells it well" if row.told_badly else drawn, kind="quiet")
            return
        drawn = f"{row.kind} {row.number + 1} · {numbers.length(row.drawn)} as drawn"
        if row.kind == "tape":
            self._field(row, "length", f"{row.names[0]} to {row.names[1]}")
            words(drawn if row.how == "outside" else f"{drawn}, {row.how}", kind="quiet")
            return
        place = row.names[0]
        self._field(row, "height", f"Floor to {place}, bend {row.bend} flat")
        way = "clockwise" if row.turned else "anticlockwise"
        words(
            f"{drawn}. Legs {row.bend} and {row.bend + 1} on the floor, so that from A on bend "
            f"{row.bend} goes {way} as you look down",
            kind="quiet",
        )

    def _field(self, row: AskedRow, key: Key, label: str) -> None:
        at = (row.kind, row.number, key)

        def typed(text: str) -> None:
            def act() -> str:
                with WRITING:
                    put_down(self.piece, row, key, text)
                return "put down"

            def refused() -> None:
                put_back(made, self.shown.typed.get(at, ""))

            def then(_: str) -> None:
                self.shown.typed[at] = text.strip()
                if not text.strip():
                    self.shown.typed.pop(at)
                self.reckon()

            self.turns.take(act, then, refused)

        made = entry(label, self.shown.typed.get(at, ""), typed)

    def _lot(self, text: str) -> None:
        def act() -> str:
            with WRITING:
                put_lot(self.piece, text)
            return "put down"

        self.turns.take(act, lambda _: self.reckon())

    def _another(self) -> None:
        def act() -> str:
            with WRITING:
                file = made_file(self.desk.path, self.tube, another=True)
                begin(replace(self.piece, file=file))
            return file.name

        def then(came: str) -> None:
            tell(f"A new sheet: {came}")
            self.reckon()

        self.turns.take(act, then)

    def _to_log(self) -> None:
        with block("div", "row low"):
            press("Keep it in the shop log", self._keep)
            words("Its bends then tell the dial of every plan.", kind="quiet")

    def _keep(self) -> None:
        def act() -> str:
            date = date_and_time()[:10]
            found = inspect_tube(
                self.desk.path, self.file, self.tube, date=date, log=log_path(), keep=True
            )
            if not found.new:
                return "Kept. It taught the dial nothing new."
            return f"Kept: {found.new} bend{'s are' if found.new > 1 else ' is'} new to the log."

        self.turns.take(act, tell)


TAPE = (
    "Hook the tape over the far sides, outside to outside, and take the greatest reading it gives."
)
PROTRACTOR = "On the straights either side of the bend. A straight tube has 0°."
FLOOR = (
    "For rolls, which a tape does not show: press two legs flat on a flat floor, and measure from "
    "the floor up to the tube's underside."
)


def _answer(result: Inspection, plan: TubePlan, bender: str) -> None:
    """Show how the tube came out, what is farthest off, and what can be done."""
    units: Units = "in" if result.units == "in" else "mm"
    say_length = partial(format_fine, units=units)
    words(worst_words(result))
    words(
        f"Laid right at the A end, the B end is {say_length(result.ends)} off "
        f"(± {say_length(result.ends_plus_minus)}), and {say_length(result.ends_limit)} may pass: "
        f"{SAYS[ends_verdict(result)]}."
    )
    todo = tuple(to_do(result, len(plan.bends)))
    if todo:
        with slab():
            words("What to do", "h2")
            for line in todo:
                words(line)
            block("a", "tab print", "At the bender", href=bender)
    with slab():
        words("As made", "h2")
        with block("div", "scroll"), block("table", "chalked left numbers"):
            with block("tr"):
                for name, kind in (("", ""), ("off by", ""), ("may be", "wide"), ("made", "wide")):
                    block("th", kind, name)
                block("th")
            for one in result.numbers:
                _number(one, units)
        words(f"Tolerance: {result.source}. ± holds 19 times of 20.", kind="quiet")
    say(replace(one, mend=one.mend.replace(" ([[height]])", "")) for one in result.findings)


def _number(one: AsMadeNumber, units: Units) -> None:
    length = one.what == "leg"

    def write(value: float) -> str:
        return format_fine(value, units) if length else format_angle(value)

    sign = "+" if one.off > 0 else ""
    with block("tr", "made-" + one.verdict):
        block("td", "", name_of(one))
        block("td", "strong", f"{sign}{write(one.off)} ± {write(one.plus_minus)}")
        for value in (one.limit, one.made):
            block("td", "wide", write(value))
        block("td", "", SAYS[one.verdict])
