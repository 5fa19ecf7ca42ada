"""Starting the pages: where they listen, who may come in, and what is printed about it."""

import contextlib
import io
import socket
import sys
import threading
import webbrowser
from functools import partial
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from nicegui import ui
from starlette.middleware.gzip import GZipMiddleware

from soapstone.errors import InputError
from soapstone.flow.warming import warm, warm_plan
from soapstone.log.store import log_path
from soapstone.web.code import kept_token
from soapstone.web.guard import Guard
from soapstone.web.look import furnish
from soapstone.web.pages import hang_up
from soapstone.web.shop import Shop

LOOPBACK = ("localhost", "127.0.0.1", "::1")
PORTS_TRIED = 20
FIRST_PAGE = 3.0
"""Seconds that the first page asked for has the machine to itself."""


def serve(
    folder: Path, port: int, *, lan: bool = False, browser: bool = False, new_code: bool = False
) -> int:
    """Serve the pages of a folder of jobs until stopped.

    With `lan` phones on the network are let in by a code, the same each time unless `new_code`.

    Raises
    ------
    InputError
        No port near the one asked for is free.
    """
    address = own_address() if lan else "127.0.0.1"
    sock = _listen("0.0.0.0" if lan else "127.0.0.1", port)
    token = kept_token(log_path().parent, new=new_code) if lan else ""
    base = f"http://{address}:{sock.getsockname()[1]}/"
    url = f"{base}?token={token}" if lan else base
    shop = Shop(folder, base if lan else "")
    guarded = pages(shop, (*LOOPBACK, address), token, phone_url=url if lan else "", packed=lan)
    warm_plan()
    _announce(url, folder, lan=lan)
    if browser:
        threading.Timer(1.0, webbrowser.open, (url,)).start()
    warming = threading.Timer(FIRST_PAGE, warm)
    warming.daemon = True
    warming.start()
    config = uvicorn.Config(guarded, log_level="error", ws_max_size=16_000_000, lifespan="on")
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[sock])
    return 0


def pages(
    shop: Shop,
    hosts: tuple[str, ...] = LOOPBACK,
    token: str = "",
    phone_url: str = "",
    *,
    packed: bool = False,
) -> Guard:
    """Give the pages of a shop as an ASGI application, with its guard before it.

    `packed` makes what is sent smaller: worth its time only where it goes through the air.
    """
    front = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    furnish()
    hang_up(shop, phone_url)
    ui.run_with(
        front,
        title="soapstone",
        show_welcome_message=False,
        reconnect_timeout=30.0,
        gzip_middleware_factory=partial(GZipMiddleware, compresslevel=5) if packed else None,
        tailwind=False,  # the look is our own: it needs no other's rules
    )
    return Guard(front, hosts, token)


def own_address() -> str:
    """Give this machine's address on the network it is on; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documents (RFC 5737)
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def _listen(address: str, port: int) -> socket.socket:
    for tried in range(port, port + PORTS_TRIED):
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind((address, tried))
            sock.listen(128)
        except OSError:
            sock.close()
        else:
            return sock
    raise InputError(f"--port: none of {port} to {port + PORTS_TRIED - 1} is free")


def _announce(url: str, folder: Path, *, lan: bool) -> None:
    out = sys.stdout
    out.write(f"The pages of {folder} are at\n\n  {url}\n\n")
    if lan:
        import segno

        drawn = io.StringIO()
        segno.make(url, error="l").terminal(out=drawn, compact=True)
        out.write(
            drawn.getvalue() + "\nScan it with the phone. Whoever has the code can change jobs.\n"
        )
    out.write("Stop with Ctrl-C.\n")
    out.flush()
