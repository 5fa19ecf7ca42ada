"""The sheets as they will be printed: looked at page by page, and the PDF to take away."""

from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from fastapi import HTTPException, Response
from nicegui import app, background_tasks, run

from soapstone.flow.packing import Preview, preview_pack
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, choice, dress, light_switch, say, top, words
from soapstone.web.opening import job_page, open_or_say
from soapstone.web.tabs import job_ways

PAPERS = ("A4", "Letter")


@dataclass(slots=True)
class _Printed:
    """The last preview of a job, and what it was made of."""

    changes: int
    paper: str
    preview: Preview


def hang_up(desks: Desks) -> None:
    """Put the page, its pictures and the PDF in their places."""
    printed: dict[str, _Printed] = {}

    @job_page("/sheets")
    async def show(name: str) -> None:
        desk = await open_or_say(desks, name)
        if desk is not None:
            SheetsPage(name, desk, printed).show()

    def last(name: str) -> Preview:
        if name not in printed:
            raise HTTPException(404)
        return printed[name].preview

    @app.get("/job/{name}/sheets/{number}.png")
    def picture(name: str, number: int) -> Response:
        pictures = last(name).pictures
        if not 1 <= number <= len(pictures):
            raise HTTPException(404)
        kept = {"Cache-Control": "no-store"}
        return Response(pictures[number - 1], media_type="image/png", headers=kept)

    @app.get("/job/{name}/sheets.pdf")
    def pdf(name: str) -> Response:
        named = f"attachment; filename*=UTF-8''{quote(name)}.pdf"
        headers = {"Content-Disposition": named, "Cache-Control": "no-store"}
        return Response(last(name).pdf(), media_type="application/pdf", headers=headers)


class SheetsPage:
    """The page in one browser."""

    def __init__(self, name: str, desk: Desk, printed: dict[str, _Printed]) -> None:
        self.name, self.desk, self.printed = name, desk, printed
        self.paper = "Letter" if desk.now.job.units == "in" else "A4"

    def show(self) -> None:
        """Build the page."""
        title = self.desk.now.job.name or self.name
        dress(f"{title}: sheets")
        with block("main", "page stack"):
            with top(title, back=("Jobs", "/")):
                job_ways(self.name, "Sheets")
                light_switch()
            with block("div", "row"):
                choice("Paper", PAPERS, self.paper, self._turn_to)
                self.away = block("div", "row")
            say(finding for tube in self.desk.now.planned.tubes for finding in tube.problems)
            self.place = block("div", "leaves", aria_live="polite")
        background_tasks.create(self._print())

    def _turn_to(self, paper: str) -> None:
        self.paper = paper if paper in PAPERS else "A4"
        background_tasks.create(self._print())

    async def _print(self) -> None:
        made = self.printed.get(self.name)
        changes, paper = self.desk.changes, self.paper
        if made is None or (made.changes, made.paper) != (changes, paper):
            self._note("Setting the sheets …")
            today = date.today().isoformat()  # noqa: DTZ011 - the shop's own day
            preview = await run.io_bound(
                preview_pack, self.desk.now.planned, "Letter" if paper == "Letter" else "A4", today
            )
            if preview is None:
                return
            self.printed[self.name] = made = _Printed(changes, paper, preview)
        self._show(made)

    def _note(self, text: str) -> None:
        self.place.clear()
        with self.place:
            words(text, kind="quiet")

    def _show(self, made: _Printed) -> None:
        address = f"/job/{quote(self.name)}/sheets"
        self.away.clear()
        with self.away:
            count = len(made.preview.pictures)
            block("a", "tab filled", f"Take the PDF, {count} pages", href=f"{address}.pdf")
        self.place.clear()
        with self.place:
            for number in range(1, len(made.preview.pictures) + 1):
                source = f"{address}/{number}.png?{made.changes}-{made.paper}"
                block("img", "leaf", src=source, alt=f"Page {number}", loading="lazy")
