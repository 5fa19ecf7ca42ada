"""A page of a job that something is reckoned for, beside all other pages, as the job changes."""

from collections.abc import Callable
from typing import Generic, TypeVar

from nicegui import background_tasks, run

from soapstone.errors import InputError
from soapstone.web.desk import Desk
from soapstone.web.look import block, complain, words
from soapstone.web.tabs import job_body
from soapstone.web.watching import watch

Done = TypeVar("Done")


class ReckonedPage(Generic[Done]):
    """The page of one job in one browser; a kind of page says what it asks, reckons and shows."""

    tab = ""
    """The tab that it stands on."""

    meanwhile = "Reckoning …"
    """What it says before the first answer."""

    def __init__(self, name: str, desk: Desk) -> None:
        self.name, self.desk = name, desk
        self.seen = -1
        self.asked = 0

    def ask(self) -> None:
        """Build what can be asked, above the answer."""

    def work(self) -> Callable[[], Done]:
        """Give what is to be reckoned as things stand now; it is called in a thread of its own."""
        raise NotImplementedError

    def show_done(self, done: Done) -> None:
        """Build the answer; what stood there is gone."""
        raise NotImplementedError

    def cannot(self, why: InputError) -> None:
        """Say why nothing could be reckoned; what stands on the page stays."""
        complain(why)

    def show(self) -> None:
        """Build the page."""
        with job_body(self.name, self.desk, self.tab):
            watch(self.desk, lambda: self.seen, self.reckon)
            self.ask()
            self.body = block("section", "stack", aria_live="polite")
        with self.body:
            words(self.meanwhile, kind="quiet")
        self.reckon()

    def reckon(self) -> None:
        """Reckon anew."""
        self.seen = self.desk.changes
        background_tasks.create(self._reckon())

    async def _reckon(self) -> None:
        """Reckon beside everything else; of two answers the later asked for counts."""
        self.asked += 1
        mine = self.asked
        self.body.classes("waiting")
        done: Done | None = None
        try:
            done = await run.io_bound(self.work())
        except InputError as error:
            if mine == self.asked:
                with self.body:  # a task of its own stands on no page
                    self.cannot(error)
        if mine != self.asked:
            return
        self.body.classes(remove="waiting")
        if done is not None:
            self.body.clear()
            with self.body:
                self.show_done(done)
