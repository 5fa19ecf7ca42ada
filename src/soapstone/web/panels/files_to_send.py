"""Files of a job's tubes for others: who each is for, and a button that makes it."""

from dataclasses import dataclass
from functools import partial

from nicegui import run, ui

from soapstone.errors import InputError
from soapstone.flow.converting import Sent, file_of
from soapstone.quantities import Units
from soapstone.web.desk import Desk
from soapstone.web.look import block, choice, complain, fold, words


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its ending, who it is for, and what is in it."""

    ending: str
    for_whom: str
    holds: str


KINDS = (
    Kind(
        ".step",
        "For a drawing office or a tube laser",
        "Every tube as an exact solid in mm, by its name. Any 3D drawing program opens it.",
    ),
    Kind(
        ".dxf",
        "For a flat drawing or a laser cutter",
        "The tubes from the front, top and right, their centrelines, and each straight stick with "
        "its marks and cuts.",
    ),
    Kind(
        ".svg",
        "For a long strip of paper",
        "The straight sticks at true size, each a ruler with its marks, to lay beside the tube.",
    ),
    Kind(
        ".csv",
        "For a spreadsheet or another bender",
        "A row for every corner, or for every leg and bend.",
    ),
    Kind(
        ".glb",
        "For the customer to look at",
        "The tubes to turn round on a phone or a screen. Not to measure from.",
    ),
    Kind(
        ".stl",
        "For a 3D printer, or to fit into a scan",
        "The tubes as small flat faces, in mm.",
    ),
)

CORNERS, LEGS = "corners", "legs and bends"


def saved_as(name: str, ending: str) -> str:
    """Give the name that a job's file is taken away by; `name` is the job's own in the shop."""
    return f"{name}{ending}"


class FilesToSend:
    """The slab in one browser."""

    def __init__(self, name: str, desk: Desk) -> None:
        self.name, self.desk = name, desk
        self.units: Units = desk.now.job.units
        self.rows = CORNERS

    def show(self) -> None:
        """Build it."""
        with fold(set(), "files", "Files to send on"):
            words("Made of the job as it is now, all of its tubes in one file.", kind="quiet")
            with block("div", "fields"):
                choice("Units", ("mm", "in"), self.units, self._measure)
                choice("Rows of the CSV", (CORNERS, LEGS), self.rows, self._part)
            with block("div", "cards send"):
                for kind in KINDS:
                    self._offer(kind)

    def _measure(self, units: str) -> None:
        self.units = "in" if units == "in" else "mm"

    def _part(self, rows: str) -> None:
        self.rows = rows

    def _offer(self, kind: Kind) -> None:
        letters = kind.ending.removeprefix(".").upper()
        with block("div", "stack tighter"):
            words(kind.for_whom, "h3")
            words(kind.holds, kind="quiet small")
            made = block("button", "press left", f"Take it as {letters}", type="button")
            said = block("div", "stack", aria_live="polite")
        made.on("click", partial(self._make, kind, made, said))

    async def _make(self, kind: Kind, pressed: ui.element, said: ui.element) -> None:
        """Make the file beside everything else, and hand it out."""
        form = "legs" if self.rows == LEGS and kind.ending == ".csv" else ""
        pressed.props["disabled"] = True
        said.clear()
        sent: Sent | None = None
        try:
            planned = self.desk.now.planned
            sent = await run.io_bound(file_of, planned, kind.ending, self.units, form)
        except InputError as error:
            complain(error)
        finally:
            pressed.props["disabled"] = False
        if sent is None:
            return
        ui.download.content(sent.content, saved_as(self.name, kind.ending))
        if sent.left_out:
            with said:
                words(f"Not in it: {', '.join(sent.left_out)}.", kind="quiet small")
