"""The survey of a job: distances as they are taped, and where that puts the points."""

from collections.abc import Callable
from functools import partial
from typing import Any

from soapstone.errors import InputError
from soapstone.exchange.job_toml import with_named_points
from soapstone.job.survey import SurveyResult
from soapstone.quantities import format_fine
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import (
    anew,
    block,
    choice,
    complain,
    entry,
    press,
    say,
    slab,
    tell,
    words,
)
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.panels.tables import head
from soapstone.web.survey_sheet import SurveySheet, survey_file
from soapstone.web.tabs import job_body
from soapstone.web.turns import Turns

SIDES = ("up", "down", "+x", "-x", "+y", "-y")
LINES = {"level with each other": "level", "plumb over each other": "plumb"}


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""

    @job_page("/survey")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            SurveyPage(name, desk).show()


class SurveyPage:
    """The page in one browser."""

    def __init__(self, name: str, desk: Desk) -> None:
        self.name, self.desk = name, desk
        self.sheet = SurveySheet(survey_file(desk.path), desk.now.job.units)

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, "Survey", "survey"):
            words(
                "Tape distances between points, and between them and three points or more whose "
                "place is known. More tapes than it takes show which one was misread.",
                kind="quiet",
            )
            with block("div", "desk even"):
                self.left = block("div", "stack")
                self.right = block("div", "stack", aria_live="polite")
            self.turns = Turns(self.right)
        self._refresh()

    def _refresh(self) -> None:
        anew(self.left)
        anew(self.right)
        try:
            tables = self.sheet.tables
        except InputError as error:
            with self.right:
                words(str(error), kind="say stop")
            return
        with self.left:
            self._datum(tables.get("datum", {}))
            self._tapes(tables.get("tape", []))
            self._lines(tables)
        with self.right:
            self._answer()

    def _do(self, change: Callable[[], None]) -> None:
        try:
            change()
        except InputError as error:
            complain(error)
        self._refresh()

    # --- what was measured -----------------------------------------------------------------------

    def _datum(self, datum: Any) -> None:
        asked = {"name": "", "x": "0", "y": "0", "z": "0"}
        with slab():
            words("Known points", "h2")
            with block("table", "chalked"):
                for name, place in datum.items():
                    with block("tr"):
                        block("td", "", str(name))
                        block("td", "", ", ".join(map(str, place)))
                        with block("td"):
                            self._drop(f"known point {name}", partial(self.sheet.drop_datum, name))
            with block("div", "fields"):
                entry("Point", "", lambda text: asked.update(name=text), whole=True)
            with block("div", "three"):
                for axis in "xyz":
                    entry(axis, "0", partial(asked.__setitem__, axis))
            press("Put it down", lambda: self._do(lambda: self._put_datum(asked)))

    def _put_datum(self, asked: dict[str, str]) -> None:
        self.sheet.put_datum(asked["name"], (asked["x"], asked["y"], asked["z"]))

    def _tapes(self, rows: Any) -> None:
        asked = {"from": "", "to": "", "length": ""}
        with slab():
            words("Taped", "h2")
            with block("table", "chalked"):
                if rows:
                    head(("from", "to", "reads", ""))
                for number, row in enumerate(rows):
                    with block("tr"):
                        for key in ("from", "to", "length"):
                            block("td", "", str(row.get(key, "")))
                        with block("td"):
                            self._drop(
                                f"tape {number + 1}", partial(self._off, "tape", number, row)
                            )
            with block("div", "fields"):
                for key, label in (("from", "From"), ("to", "To"), ("length", "Reads")):
                    entry(label, "", partial(asked.__setitem__, key))
            press(
                "Put it down ",
                lambda: self._do(
                    lambda: self.sheet.put_tape(asked["from"], asked["to"], asked["length"])
                ),
                "main",
                aria_label="Put the tape down",
            )

    def _lines(self, tables: dict[str, Any]) -> None:
        asked = {"names": "", "kind": "level", "point": "", "toward": "up"}
        with slab():
            words("Levels, plumb lines and sides", "h2")
            with block("table", "chalked"):
                for kind in ("level", "plumb"):
                    for number, row in enumerate(tables.get(kind, [])):
                        names = ", ".join(map(str, row.get("points", ())))
                        self._row(f"{names}: {kind}", kind, number, row)
                for number, row in enumerate(tables.get("side", [])):
                    said = f"{row.get('point')} is the one toward {row.get('toward')}"
                    self._row(said, "side", number, row)
            with block("div", "fields"):
                entry("Points, with commas", "", lambda text: asked.update(names=text), whole=True)
                choice(
                    "are",
                    LINES,
                    next(iter(LINES)),
                    lambda word: asked.update(kind=LINES[word]),
                    whole=True,
                )
            press(
                "Put the line down",
                lambda: self._do(lambda: self.sheet.put_points(asked["kind"], asked["names"])),
            )
            with block("div", "fields"):
                entry("Of two places, point", "", lambda text: asked.update(point=text))
                choice("is the one toward", SIDES, "up", lambda word: asked.update(toward=word))
            press(
                "Put the side down",
                lambda: self._do(lambda: self.sheet.put_side(asked["point"], asked["toward"])),
            )

    def _row(self, text: str, kind: str, number: int, row: Any) -> None:
        with block("tr"):
            block("td", "", text)
            with block("td"):
                self._drop(f"{kind} {number + 1}", partial(self._off, kind, number, row))

    def _off(self, kind: str, number: int, row: Any) -> None:
        self.sheet.drop(kind, number, row)

    def _drop(self, what: str, change: Callable[[], None]) -> None:
        label = f"Take {what} away"
        press("−", lambda: self._do(change), "small", aria_label=label)

    # --- what came of it -------------------------------------------------------------------------

    def _answer(self) -> None:
        if not self.sheet.tables.get("tape"):
            words("Put down what is known and what you tape; the points come by themselves.")
            return
        try:
            result = self.sheet.answer()
        except InputError as error:
            words(f"Not enough yet: {error}", kind="say warn")
            return
        units = self.sheet.units
        with slab():
            words("Points", "h2")
            with block("div", "scroll"), block("table", "chalked"):
                head(("", "x", "y", "z", "19 of 20 within"))
                for name, point in result.points.items():
                    with block("tr"):
                        block("td", "", name)
                        for value in point.at:
                            block("td", "", format_fine(value, units))
                        block("td", "", f"± {format_fine(point.plus_minus, units)}")
            if result.points and result.sound:
                press("Put the points into the job", partial(self._into_job, result), "main")
        say(result.findings)
        if result.measure_next:
            with slab():
                words("Tape next", "h2")
                for tape in result.measure_next:
                    reads = "" if tape.expected is None else format_fine(tape.expected, units)
                    about = f", about {reads}" if reads else ""
                    words(f"{tape.start} to {tape.end}{about}")

    def _into_job(self, result: SurveyResult) -> None:
        edit = partial(with_named_points, places=dict(result.places))
        done = "surveyed points put in"
        self.turns.take(partial(self.desk.change, edit, done), self._are_in_job)

    def _are_in_job(self, _: str) -> None:
        tell("The points are in the job: use their names for corners and ends.")
