"""Doing what was asked for on a page, one thing after the other and beside all other pages."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeVar, cast

from nicegui import background_tasks, run, ui

from soapstone.errors import InputError
from soapstone.web.look import complain

Came = TypeVar("Came")
Shown = Awaitable[None] | None


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

    @property
    def busy(self) -> bool:
        """Whether something is being done."""
        return self._lock.locked()

    def take(
        self,
        act: Callable[[], Came],
        then: Callable[[Came], Shown],
        otherwise: Callable[[], Shown] = lambda: None,
    ) -> None:
        """Do something when its turn comes, and show what came of it; no page waits for it.

        An InputError is said over the page: nothing was done then, and `otherwise` shows that.
        """
        background_tasks.create(self._take(act, then, otherwise))

    async def _take(
        self,
        act: Callable[[], Came],
        then: Callable[[Came], Shown],
        otherwise: Callable[[], Shown],
    ) -> None:
        async with self._lock:
            with self._place:
                try:
                    came = cast(Came, await run.io_bound(act))
                except InputError as error:
                    complain(error)
                    showing = otherwise()
                except Exception:
                    otherwise()
                    raise
                else:
                    showing = then(came)
                if showing is not None:
                    await showing
