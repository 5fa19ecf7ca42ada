"""The first page: the shop's jobs, and new ones."""

from nicegui import ui

from soapstone.errors import InputError
from soapstone.job.files import starter_job_text
from soapstone.web.desks import Desks
from soapstone.web.look import block, choice, dress, entry, press, slab, words
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
                    _card(job)
            _new(shop)


def _card(job: JobEntry) -> None:
    if job.trouble:
        with slab():
            words(job.name, "h2")
            words(f"This file cannot be read: {job.trouble}", kind="say stop")
        return
    with block("a", "slab", href=f"/job/{job.name}"):
        words(job.title, "h2")
        words(f"{job.tubes} tube{'' if job.tubes == 1 else 's'} · {job.name}.toml", kind="quiet")


def _new(shop: Shop) -> None:
    asked = {"name": "", "units": "mm"}

    def make() -> None:
        try:
            name = shop.add(asked["name"] or "new job", starter_job_text(asked["units"]))
        except InputError as error:
            ui.notify(str(error))
            return
        ui.navigate.to(f"/job/{name}")

    words("New job", "h2", "row").style("margin-top:2rem")
    with block("div", "row"):
        entry("What it is called", "", lambda text: asked.update(name=text))
        choice("Units", ("mm", "in"), "mm", lambda text: asked.update(units=text))
        press("Start it", make, "main")
