"""Doing what was asked for on a page, one thing after the other and beside all other pages."""

import asyncio
from collections.abc import Awaitable, Callable

from nicegui import background_tasks, run, ui

from soapstone.errors import InputError
from soapstone.web.look import complain

Act = Callable[[], str]
"""Does something to a file, and gives what was done; an InputError says why it cannot be."""

Then = Callable[[str | None], Awaitable[None] | None]
"""Shows what came of it: what was done, or None where it was refused, which has been said then."""


class Turns:
    """What is asked for on a page of one browser, done in the order asked for.

    Parameters
    ----------
    place
        A part of the page that stays, whatever was pressed: what is said belongs there.
    """

    def __init__(self, place: ui.element) -> None:
        self._place = place
        self._lock = asyncio.Lock()

    def take(self, act: Act, then: Then) -> None:
        """Do something when its turn comes; no page waits for it."""
        background_tasks.create(self._take(act, then))

    async def _take(self, act: Act, then: Then) -> None:
        async with self._lock:
            with self._place:
                try:
                    came: str | None = await run.io_bound(act)
                except InputError as error:
                    complain(error)
                    came = None
                showing = then(came)
                if showing is not None:
                    await showing
