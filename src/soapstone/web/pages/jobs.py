"""The first page: the shop's jobs, and new ones."""

from pathlib import Path
from urllib.parse import quote

from nicegui import ui

from soapstone.errors import InputError
from soapstone.flow.demonstrating import demo_files
from soapstone.flow.starting import new_job_text
from soapstone.quantities import Units
from soapstone.textfiles import LARGEST_TOML, read_text
from soapstone.web.desks import Desks
from soapstone.web.look import block, choice, complain, dress, entry, press, slab, words
from soapstone.web.panels.starter_numbers import StarterNumbers
from soapstone.web.panels.take_in import TakeIn
from soapstone.web.shop import JobEntry, Shop
from soapstone.web.tabs import shop_top


def hang_up(desks: Desks) -> None:
    """Put the page in its place."""
    shop = desks.shop

    @ui.page("/")
    def show() -> None:
        dress("The shop's jobs")
        with block("main", "page"):
            shop_top("Jobs", "Jobs")
            jobs = shop.jobs()
            if not jobs:
                words("No job yet. Start one below.", kind="quiet")
            with block("div", "jobs"):
                for job in jobs:
                    _card(shop, job)
            with block("div", "jobs apart"):
                NewJob(shop).show()
                TakeIn(shop).show()
                if not any(shop.folder.glob("*.toml")):
                    _demo(shop.folder)


def _card(shop: Shop, job: JobEntry) -> None:
    if job.trouble:
        with slab():
            words(job.name, "h2")
            words(f"This file cannot be read: {job.trouble}", kind="say stop")
        return
    with block("article", "slab stack"):
        with block("a", "stack", href=f"/job/{quote(job.name, safe='')}"):
            words(job.title, "h2")
            count = f"{job.tubes} tube{'' if job.tubes == 1 else 's'}"
            words(f"{count} · {job.name}.toml", kind="quiet")
        with block("div", "row"):
            Copier(shop, job).show()


class Copier:
    """The button that copies a job, once however often it is pressed."""

    def __init__(self, shop: Shop, job: JobEntry) -> None:
        self.shop, self.job = shop, job
        self.made = False

    def show(self) -> None:
        """Build it."""
        press("Copy it", self._copy, "plain", aria_label=f"Copy {self.job.title}")

    def _copy(self) -> None:
        if self.made:
            return
        name = self.job.name
        try:
            made = self.shop.add(f"{name} copy", read_text(self.shop.path(name), LARGEST_TOML))
        except InputError as error:
            complain(error)
            return
        self.made = True
        ui.navigate.to(f"/job/{quote(made, safe='')}")


def _demo(folder: Path) -> None:
    def put() -> None:
        try:
            job = demo_files(folder)
        except InputError as error:
            complain(error)
            return
        ui.navigate.to(f"/job/{quote(job.stem, safe='')}")

    with slab():
        words("Look around first", "h2")
        words(
            "A stern arch over an outboard that steers and tilts: an invented job with all that "
            "a job can have, to look at and to try things on.",
            kind="quiet",
        )
        press("Put the stern arch here", put)


class NewJob:
    """A job to be: what it is called, its units, and the shape of its first tube."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.called = ""
        self.units: Units = "mm"
        self.start = StarterNumbers("mm")
        self.made = False

    def show(self) -> None:
        """Build it."""
        with slab():
            words("New job", "h2")
            with block("div", "fields"):
                entry("What it is called", "", lambda text: setattr(self, "called", text.strip()))
                choice("Units", ("mm", "in"), "mm", self._turn_to)
                self.start.show_choice()
            self.start.show_numbers()
            press("Start it", self._make, "main")

    def _turn_to(self, units: str) -> None:
        self.units = "in" if units == "in" else "mm"
        self.start.turn_to(self.units)

    def _make(self) -> None:
        if self.made:  # pressed twice: one job was meant
            return
        name = self.called or "new job"
        try:
            numbers = self.start.values
            text = new_job_text(self.shop.folder, name, self.units, self.start.shape, numbers)
            made = self.shop.add(name, text)
        except (InputError, ValueError) as error:
            complain(error)
            return
        self.made = True
        ui.navigate.to(f"/job/{quote(made, safe='')}")
