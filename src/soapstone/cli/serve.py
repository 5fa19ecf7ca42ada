"""`soapstone serve`: the shop's pages in a browser."""

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from soapstone.errors import InputError


def command(
    folder: Path = Path(),
    /,
    *,
    port: int = 8760,
    lan: bool = False,
    new_code: bool = False,
    open_: Annotated[bool, Parameter(name="--open")] = False,
) -> int:
    """Open the shop's pages: draw, fit, plan and bend from a browser, also on a phone.

    It goes on until it is stopped with Ctrl-C. Only this machine can reach the pages, unless --lan
    is given: then phones on the shop's own network can, by the code that is printed.

    Parameters
    ----------
    folder
        The folder that holds the job files.
    port
        The port to listen on; the next free one is taken when it is in use.
    lan
        Let other devices of the network in, by a code.
    new_code
        Make a new code for --lan: phones let in before have to scan it again.
    open_
        Open a browser too.
    """
    if not folder.is_dir():
        raise InputError(f"{folder}: expected a folder of job files")
    if new_code and not lan:
        raise InputError("--new-code: it goes with --lan alone")
    if not 1024 <= port <= 65000:
        raise InputError("--port: expected a number from 1024 to 65000")
    from soapstone.web.serve import serve

    return serve(folder.resolve(), port, lan=lan, browser=open_, new_code=new_code)
