"""Opening a job for a page, and saying so where that cannot be done."""

from collections.abc import Callable
from typing import Any

from nicegui import run, ui

from soapstone.errors import InputError
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, dress, light_switch, top, without_folders, words

PATIENCE = 90.0
"""Seconds that a page may take to be built: the first on a machine waits for the compiler."""


def job_page(path: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Put a page of a job in its place: `path` comes after the job's own address."""
    return ui.page("/job/{name}" + path, response_timeout=PATIENCE)


async def open_or_say(desks: Desks, name: str) -> Desk | None:
    """Open a job to build a page of it; None where that cannot be, and the page then says why.

    A job is planned as it is opened: that goes on beside the other pages.
    """
    try:
        return await run.io_bound(desks.open, name)
    except InputError as error:
        _cannot(name, str(error))
        return None


def _cannot(name: str, why: str) -> None:
    dress(name)
    with block("main", "page"):
        with top(name, back=("Jobs", "/")):
            light_switch()
        words("This job cannot be opened.", "h2")
        words(without_folders(why), kind="say stop")
        words("Put the file right in any text editor, then open the page again.", kind="quiet")
