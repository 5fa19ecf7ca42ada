"""The code that lets a phone in."""

import io

from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from nicegui import app

from soapstone.web.plain import document, el, top, words


def hang_up(url: str) -> None:
    """Put the page in its place."""
    app.include_router(router(url))


def router(url: str) -> APIRouter:
    """Give the page that shows the code for `url`, or how to get one where there is none."""
    routes = APIRouter(default_response_class=HTMLResponse)

    @routes.get("/phone")
    def phone() -> HTMLResponse:
        body = top("On the phone", ("Jobs", "/")) + (_code(url) if url else _how())
        return HTMLResponse(document("On the phone", el("div", body, "bender")))

    return routes


def _code(url: str) -> str:
    import segno

    drawn = io.BytesIO()
    segno.make(url, error="m", micro=False).save(
        drawn, kind="svg", xmldecl=False, svgns=False, omitsize=True, border=2, dark="#000"
    )
    return (
        words("Scan this with the phone's camera. It must be on the same network.", kind="lines")
        + el("div", el("div", drawn.getvalue().decode(), "qr"))
        + words(url.partition("?")[0], kind="quiet")
        + words(
            "Whoever has the code can see and change the jobs: show it to those of the shop only. "
            "A phone that was let in stays so; to shut all of them out, serve with "
            "\u2011\u2011new\u2011code.",
            kind="say warn",
        )
    )


def _how() -> str:
    return words("These pages are to be had on this machine alone.", "h2") + words(
        "Stop soapstone serve and start it again with \u2011\u2011lan: it then shows a code for "
        "phones on the shop's own network.",
        kind="lines",
    )
