"""The sheets as they will be printed: looked at page by page, and the PDF to take away."""

from datetime import date
from urllib.parse import quote

from fastapi import HTTPException, Response
from nicegui import app, background_tasks, run

from soapstone.errors import InputError
from soapstone.flow.packing import Preview, preview_pack
from soapstone.sheets.contents import Paper
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, choice, say, words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.panels.files_to_send import FilesToSend
from soapstone.web.tabs import job_body
from soapstone.web.watching import watch

PAPERS: tuple[Paper, ...] = ("A4", "Letter")

NOT_KEPT = {"Cache-Control": "no-store"}


KEPT = 8
"""Previews that are kept, of all jobs."""

Key = tuple[str, int, str]
"""What a preview is of: the job, how often it had changed, the paper."""


def hang_up(desks: Desks) -> None:
    """Put the page, its pictures and the PDF in their places."""
    printed: dict[Key, Preview] = {}

    @job_page("/sheets")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            SheetsPage(name, desk, printed, desks.shop.address).show()

    def kept(name: str, changes: int, paper: str) -> Preview:
        if (name, changes, paper) not in printed:
            raise HTTPException(404)
        return printed[name, changes, paper]

    @app.get("/job/{name}/sheets/{changes}-{paper}-{number}.png")
    def picture(name: str, changes: int, paper: str, number: int) -> Response:
        pictures = kept(name, changes, paper).pictures
        if not 1 <= number <= len(pictures):
            raise HTTPException(404)
        return Response(pictures[number - 1], media_type="image/png", headers=NOT_KEPT)

    @app.get("/job/{name}/sheets/{changes}-{paper}.pdf")
    def pdf(name: str, changes: int, paper: str) -> Response:
        made = kept(name, changes, paper).pdf()
        named = f"attachment; filename*=UTF-8''{quote(name, safe='')}.pdf"
        headers = {"Content-Disposition": named, **NOT_KEPT}
        return Response(made, media_type="application/pdf", headers=headers)


class SheetsPage:
    """The page in one browser."""

    def __init__(self, name: str, desk: Desk, printed: dict[Key, Preview], address: str) -> None:
        self.name, self.desk, self.printed = name, desk, printed
        self.address = address
        self.paper: Paper = "Letter" if desk.now.job.units == "in" else "A4"
        self.seen = -1

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, "Sheets", "sheets"):
            watch(self.desk, lambda: self.seen, self._anew)
            with block("div", "row"):
                choice("Paper", PAPERS, self.paper, self._turn_to)
                self.away = block("div", "row")
            FilesToSend(self.name, self.desk).show()
            self.problems = block("div", "stack")
            self.place = block("div", "leaves", aria_live="polite")
        self._anew()

    def _turn_to(self, paper: str) -> None:
        self.paper = "Letter" if paper == "Letter" else "A4"
        self._anew()

    def _anew(self) -> None:
        self.seen = self.desk.changes
        self.problems.clear()
        with self.problems:
            say(finding for tube in self.desk.now.planned.tubes for finding in tube.problems)
        background_tasks.create(self._print())

    async def _print(self) -> None:
        key = (self.name, self.seen, self.paper)
        if key not in self.printed:
            self._note("Setting the sheets …")
            today = date.today().isoformat()  # noqa: DTZ011 - the shop's own day
            planned = self.desk.now.planned
            made: Preview | None = None
            try:
                made = await run.io_bound(preview_pack, planned, self.paper, today, self.address)
            except InputError as error:
                self._note(str(error))
            if made is None:
                return
            self.printed[key] = made
            while len(self.printed) > KEPT:
                del self.printed[next(iter(self.printed))]
        if key == (self.name, self.seen, self.paper):
            self._show(key, self.printed[key])

    def _note(self, text: str) -> None:
        self.away.clear()
        self.place.clear()
        with self.place:
            words(text, kind="quiet")

    def _show(self, key: Key, made: Preview) -> None:
        address = f"/job/{quote(self.name, safe='')}/sheets/{key[1]}-{key[2]}"
        self.away.clear()
        with self.away:
            count = len(made.pictures)
            block("a", "tab filled", f"Take the PDF, {count} pages", href=f"{address}.pdf")
        self.place.clear()
        with self.place:
            for number in range(1, len(made.pictures) + 1):
                source = f"{address}-{number}.png"
                block("img", "leaf", src=source, alt=f"Page {number}", loading="lazy")
