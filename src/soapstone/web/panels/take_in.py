"""A file of tubes brought to the page of jobs, and what it may leave open."""

from urllib.parse import quote

from nicegui import events, run, ui

from soapstone.bench.model import Bench
from soapstone.errors import InputError
from soapstone.flow.new_from_file import TAKEN, AskedOfFile, NewJob, materials_of, shop_bench
from soapstone.flow.reshaping import first_fitting
from soapstone.flow.taking_in import AskedAs
from soapstone.web.brought import bring_in
from soapstone.web.look import block, choice, entry, fold, say, slab, without_folders, words
from soapstone.web.panels.room_panel import LARGEST
from soapstone.web.shop import Shop

AS_THE_FILE = "as the file"
NOT_SAID = "not known"
WALL, MATERIAL = "Wall of solid bars", "Material"
AS_SAID = AskedAs(
    f'"{WALL}" and bring it again', f'"{MATERIAL}" and bring it again', "choose it under Tube"
)
"""What a drawing may leave open, as said on the page."""


class TakeIn:
    """The slab in one browser."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.units, self.wall, self.material = "", "", ""
        self.tubing, self.die = "", ""

    def show(self) -> None:
        """Build it."""
        with slab("stack"):
            words("Take in a file", "h2")
            words(
                "Tubes that somebody drew elsewhere (STEP), or a table of corners or of legs and "
                "bends (CSV), become a new job.",
                kind="quiet",
            )
            with fold(set(), "open", "What the file may not say"):
                self._left_open()
            brought = ui.upload(
                on_upload=self._brought,
                on_rejected=self._refused,
                auto_upload=True,
                max_file_size=LARGEST,
            )
            brought.props(f'accept="{",".join(TAKEN)}" flat label="Bring a file"').classes("scan")
            self.answer = block("div", "stack", aria_live="polite")

    def _left_open(self) -> None:
        with block("div", "fields"):
            units = (AS_THE_FILE, "mm", "in")
            choice("Work in", units, AS_THE_FILE, self._measure)
            entry(WALL, "", lambda text: setattr(self, "wall", text.strip()))
            bench = self._bench()
            if bench is None:
                return
            choice(MATERIAL, (NOT_SAID, *materials_of(bench)), NOT_SAID, self._material)
            tubings, dies = [one.name for one in bench.tubings], [one.name for one in bench.dies]
            choice("Tubing of a table that names none", tubings, self.tubing, self._tubing)
            choice("Its die", dies, self.die, self._die)

    def _bench(self) -> Bench | None:
        """Give the bench to choose from, if it has anything to choose."""
        try:
            bench = shop_bench(self.shop.folder)
            die, tubing = first_fitting(bench)
        except (InputError, ValueError):
            return None
        self.tubing, self.die = tubing.name, die.name
        return bench

    def _measure(self, units: str) -> None:
        self.units = "" if units == AS_THE_FILE else units

    def _material(self, name: str) -> None:
        self.material = "" if name == NOT_SAID else name

    def _tubing(self, name: str) -> None:
        self.tubing = name

    def _die(self, name: str) -> None:
        self.die = name

    def _refused(self) -> None:
        most = f"at most {LARGEST // 1_000_000} MB"
        self._say(f"Expected a file ending in {', '.join(TAKEN)}, of {most}.", "say stop")

    async def _brought(self, event: events.UploadEventArguments) -> None:
        """Read it beside everything else; a drawing takes its time."""
        named, data = event.file.name, await event.file.read()
        self._say("Reading it …")
        asked = AskedOfFile(self.units, self.wall, self.material, self.tubing, self.die, AS_SAID)
        try:
            made = await run.io_bound(bring_in, self.shop, named, data, asked)
        except InputError as error:
            self._say(without_folders(str(error)), "say stop")
            return
        if made is not None:
            self._made(*made)

    def _say(self, text: str, kind: str = "quiet") -> None:
        self.answer.clear()
        with self.answer:
            words(text, kind=kind)

    def _made(self, name: str, new: NewJob) -> None:
        address = f"/job/{quote(name, safe='')}"
        if not new.findings:
            ui.navigate.to(address)
            return
        self.answer.clear()
        with self.answer:
            count = f"{new.tubes} tube{'' if new.tubes == 1 else 's'}"
            words(f"{name}: {count} taken in.", kind="strong")
            say(new.findings)
            block("a", "tab filled", f"Open {name}", href=address)
