"""Seeing what other pages, and other programs, do to the job that a page shows."""

from collections.abc import Callable

from nicegui import ui

from soapstone.errors import InputError
from soapstone.web.desk import Desk
from soapstone.web.look import block, without_folders, words

OFTEN = 1.0
"""Seconds between two looks."""


def watch(desk: Desk, seen: Callable[[], int], anew: Callable[[], object]) -> None:
    """Call `anew` when the desk has changed since what the page has `seen`.

    While the file cannot be read, a line that stands here says so, once and not every second.
    """
    place = block("div", "stack", aria_live="polite")
    said = [""]

    watched = [True]
    ui.context.client.on_connect(lambda: watched.__setitem__(0, True))
    ui.context.client.on_disconnect(lambda: watched.__setitem__(0, False))

    def look() -> None:
        if not watched[0]:
            return  # nobody sees the page: it is made anew when somebody does again
        fault = ""
        try:
            desk.look(wait=False)
        except InputError as error:
            fault = str(error)
        if fault != said[0]:
            said[0] = fault
            place.clear()
            if fault:
                with place:
                    words(f"As it was before: {without_folders(fault)}", kind="say stop")
        if desk.changes != seen():
            anew()

    ui.timer(OFTEN, look)
