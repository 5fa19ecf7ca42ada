"""Where the pages of a shop are to be had, and a tube's page at the bender among them."""

from urllib.parse import quote, urlsplit

from soapstone.errors import InputError
from soapstone.textfiles import one_line

LONGEST = 200


def pages_address(text: str) -> str:
    """Give the address that pages are had at, with a slash at its end.

    Raises
    ------
    InputError
        It is not the plain address of a server, such as http://192.168.1.20:8760.
    """
    given = text.strip()
    try:
        parts = urlsplit(given)
        parts.port  # noqa: B018  a port that is no number is told of here
    except ValueError:
        raise _refused(given) from None
    if parts.query or parts.fragment or parts.username is not None:
        raise InputError(
            "--pages: expected the address alone, up to the port: what stands after it lets a "
            "phone in, and does not belong on paper"
        )
    plain = all(33 <= ord(sign) < 127 and sign not in "\"'<>\\" for sign in given)
    if not (plain and parts.scheme in ("http", "https") and parts.hostname):
        raise _refused(given)
    if len(given) > LONGEST or ".." in parts.path:
        raise _refused(given)
    return given.rstrip("/") + "/"


def tube_address(pages: str, job: str, tube: str) -> str:
    """Give the address of a tube's page at the bender; names of any kind are quoted."""
    return f"{pages}job/{quote(job, safe='')}/bender/{quote(tube, safe='')}"


def _refused(text: str) -> InputError:
    return InputError(
        one_line(f"--pages: expected an address such as http://192.168.1.20:8760, found {text!r}")
    )
