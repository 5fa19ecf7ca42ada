"""The ways from page to page: those of the shop, and those of one job."""

from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import quote

from nicegui import ui

from soapstone.web.desk import Desk
from soapstone.web.look import block, dress, light_switch, top

SHOP = (
    ("Jobs", "/"),
    ("Bench", "/bench"),
    ("Trial piece", "/trial"),
    ("Yard", "/yard"),
    ("Log", "/log"),
    ("Phone", "/phone"),
    ("Cautions", "/cautions"),
)
"""Pages of the shop, as read and as addressed."""

JOB = (
    ("Survey", "/survey"),
    ("Shape", ""),
    ("Route", "/route"),
    ("Steps", "/steps"),
    ("How near", "/landing"),
    ("Strength", "/strength"),
    ("Sheets", "/sheets"),
    ("At the bender", "/bender"),
    ("Made", "/made"),
    ("Quote", "/quote"),
)
"""Pages of a job, as read and as addressed after the job's own address."""


MANY = 6
"""Tabs that stand beside a title; more have a line of their own."""

HERE_IN_VIEW = """for (const row of document.querySelectorAll("nav.tabs")) {
  const here = row.querySelector("[aria-current]");
  const spare = row.clientWidth - (here?.clientWidth ?? 0);
  if (here) row.scrollLeft = here.offsetLeft - row.offsetLeft - spare / 2;
}"""
"""On a phone the tabs are a row to push sideways: the one that is open is not left out of sight."""


def shop_top(title: str, here: str) -> None:
    """Make the head of a page of the shop; `here` is the tab that it stands on."""
    with top(title):
        _ways(SHOP, here, "", "Shop")
        light_switch()


def job_ways(name: str, here: str) -> None:
    """Make the tabs of a job, inside the head of its page; `here` is the one it stands on."""
    _ways(JOB, here, f"/job/{quote(name, safe='')}", "This job")


@contextmanager
def job_body(name: str, desk: Desk, here: str, what: str = "") -> Iterator[None]:
    """Make a page of a job: its title, which says `what` it is, its head, and what is inside."""
    title = desk.now.job.name or name
    dress(f"{title}: {what}" if what else title)
    with block("main", "page stack"):
        with top(title, back=("Jobs", "/")):
            job_ways(name, here)
            light_switch()
        yield


def _ways(tabs: tuple[tuple[str, str], ...], here: str, base: str, label: str) -> None:
    if len(tabs) == 1:
        return
    kind = "tabs many" if len(tabs) > MANY else "tabs"
    with block("nav", kind, aria_label=label):
        for word, path in tabs:
            current = {"aria_current": "page"} if word == here else {}
            block("a", "tab", word, href=f"{base}{path}", **current)
    ui.run_javascript(HERE_IN_VIEW)
