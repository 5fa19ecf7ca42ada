"""Opening a job for a page, and saying so where that cannot be done."""

from soapstone.errors import InputError
from soapstone.web.desk import Desk
from soapstone.web.desks import Desks
from soapstone.web.look import block, dress, light_switch, top, words


def open_or_say(desks: Desks, name: str) -> Desk | None:
    """Open a job to build a page of it; None where that cannot be, and the page then says why."""
    try:
        return desks.open(name)
    except InputError as error:
        _cannot(name, str(error))
        return None


def _cannot(name: str, why: str) -> None:
    dress(name)
    with block("main", "page"):
        with top(name, back=("Jobs", "/")):
            light_switch()
        words("This job cannot be opened.", "h2")
        words(why, kind="say stop")
        words("Put the file right in any text editor, then open the page again.", kind="quiet")
