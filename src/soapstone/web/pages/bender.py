"""At the bender: which tube, and a tube made step by step, on a phone.

Plain HTML that asks for each press on its own: a press counts when the answer is back, and then it
is in the shop log. Nothing of a run is kept here.
"""

import os
from collections.abc import Callable
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Header, HTTPException, Response
from fastapi.responses import HTMLResponse, JSONResponse
from nicegui import app
from pydantic import BaseModel, ConfigDict, Field

from soapstone.errors import InputError
from soapstone.flow import at_bender
from soapstone.flow.at_bender import Standing, date_and_time
from soapstone.job.files import read_job
from soapstone.log.store import log_path
from soapstone.plan.guide import Event
from soapstone.quantities import parse_angle
from soapstone.web.bender_screen import Screen, screen
from soapstone.web.desks import Desks
from soapstone.web.plain import document, el, top, words
from soapstone.web.shop import Shop

NAME_LENGTH = 200


class Asked(BaseModel):
    """What a page sends: which tube of which job, and which run and step it shows."""

    model_config = ConfigDict(extra="forbid")
    job: str = Field(max_length=NAME_LENGTH)
    tube: str = Field(max_length=NAME_LENGTH)
    run: str = Field("", max_length=64)
    number: int = Field(0, ge=0, le=1_000_000)


class Press(Asked):
    """A step confirmed."""

    kind: Literal["done", "angle", "undo", "rescue"]
    angle: str = Field("", max_length=40)


class Beginning(Asked):
    """A run begun; `given_up` is the run that it takes the place of."""

    lot: str = Field("", max_length=60)
    given_up: str = Field("", max_length=64)


def hang_up(desks: Desks) -> None:
    """Put the pages in their places."""
    app.include_router(router(desks.shop))


def router(shop: Shop) -> APIRouter:
    """Give the pages of a shop, and what they ask for."""
    routes = APIRouter(default_response_class=HTMLResponse)

    @routes.get("/job/{name}/bender")
    def tubes(name: str) -> HTMLResponse:
        return _or_said(shop, name, lambda: _tubes(shop, name))

    @routes.get("/job/{name}/bender/{tube:path}")
    def tube(name: str, tube: str) -> HTMLResponse:
        return _or_said(shop, name, lambda: _tube(shop, name, tube))

    @routes.get("/bender/screen")
    def look(job: str, tube: str, back: int = 0) -> Response:
        return _told(shop, job, tube, lambda: ("", None), back)

    @routes.get("/bender/stamp")
    def stamp(job: str, tube: str) -> Response:
        return JSONResponse({"stamp": _stamp(shop, job, tube)})

    @routes.post("/bender/say")
    def say(press: Press, content_type: Annotated[str, Header()] = "") -> Response:
        _only_json(content_type)
        return _told(shop, press.job, press.tube, lambda: _say(shop, press))

    @routes.post("/bender/begin")
    def begin(asked: Beginning, content_type: Annotated[str, Header()] = "") -> Response:
        _only_json(content_type)

        def done() -> tuple[str, Standing]:
            path = shop.path(asked.job)
            lot = asked.lot.strip()
            return "", at_bender.begin(
                path, asked.tube, lot, log_path(), date_and_time, asked.given_up
            )

        return _told(shop, asked.job, asked.tube, done)

    return routes


def _only_json(content_type: str) -> None:
    """Refuse what a form of another site could send without asking."""
    if content_type.partition(";")[0].strip().lower() != "application/json":
        raise HTTPException(415)


def _say(shop: Shop, press: Press) -> tuple[str, Standing]:
    angle = None
    if press.kind == "angle":
        try:
            angle = parse_angle(press.angle.strip().replace(",", "."))
        except ValueError as fault:
            raise InputError(f"The angle: {fault}") from None
    event = Event(press.number, press.kind, angle)
    path = shop.path(press.job)
    at, why = at_bender.say(path, press.tube, log_path(), date_and_time, press.run, event)
    return why, at


def _stamp(shop: Shop, job: str, tube: str) -> str:
    try:
        return at_bender.stamp(shop.path(job), tube, log_path())
    except InputError:
        return ""


def _told(
    shop: Shop, job: str, tube: str, do: Callable[[], tuple[str, Standing | None]], back: int = 0
) -> Response:
    """Do something and answer with the screen after it, and why it was not done if it was not."""
    try:
        said, at = do()
    except InputError as fault:
        said, at = _sentence(fault, shop), None
    try:
        return JSONResponse({**_screen(shop, job, tube, at, back).as_json(), "said": said})
    except InputError as fault:
        return JSONResponse({"said": said or _sentence(fault, shop)})


def _sentence(fault: InputError, shop: Shop) -> str:
    """Leave out what to type at a terminal, and where the folder lies."""
    text = str(fault).replace(f"{shop.folder}{os.sep}", "")
    return text.replace("; look again with --show", ".").replace(", and say --angle 44.5", "")


def _screen(shop: Shop, job: str, tube: str, at: Standing | None = None, back: int = 0) -> Screen:
    at = at or at_bender.standing(shop.path(job), tube, log_path())
    over = at.now is not None and at.now.state.finished
    return screen(at, back, at_bender.learnt(at.now, log_path()) if over and at.now else ())


def _or_said(shop: Shop, name: str, page: Callable[[], str]) -> HTMLResponse:
    """Show a page, or why there is none."""
    try:
        return HTMLResponse(page())
    except InputError as fault:
        unreadable = _is_unreadable(shop, name)
        title = "This job cannot be shown" if unreadable else "Not to be found"
        body = top(title, ("Jobs", "/")) + words(_sentence(fault, shop), kind="say stop")
        if unreadable:
            body += words("Put the file right, then open this page again.", kind="quiet")
        return HTMLResponse(
            document(name[:60], el("div", body, "bender")), 422 if unreadable else 404
        )


def _is_unreadable(shop: Shop, name: str) -> bool:
    """Whether the job's file is there, and it is the file that is at fault."""
    try:
        path = shop.path(name)
    except InputError:
        return False
    try:
        read_job(path)
    except InputError:
        return path.is_file()
    return False


def _tube(shop: Shop, name: str, tube: str) -> str:
    at = at_bender.standing(shop.path(name), tube, log_path())
    shown = _screen(shop, name, tube, at)
    data = {f"data_{key}": str(value) for key, value in shown.as_json().items() if key != "html"}
    head = top(at.drawn.name, ("Tubes", f"/job/{quote(name, safe='')}/bender"))
    banner = '<div id="banner" role="alert" hidden></div>'
    told = '<div id="told" role="status" hidden></div>'
    body = el("div", shown.html, "bender", id="screen", data_job=name, data_tube=tube, **data)
    foot = el("a", "Cautions", "word", href="/cautions")
    inner = banner + el("div", head + told, "bender") + body + el("div", foot, "bender quiet")
    return document(f"{at.drawn.name} at the bender", inner, scripts=("bender.js",))


def _tubes(shop: Shop, name: str) -> str:
    all_ = at_bender.standings(shop.path(name), log_path())
    path = f"/job/{quote(name, safe='')}"
    title = all_[0].planned.job.name if all_ else ""
    cards = sorted((not at.open, place, _card(at, path)) for place, at in enumerate(all_))
    body = top(title or name, ("Shape", path)) + words("Which tube?", "h2")
    if not all_:
        body += words("No tube of this job is bent, or none can be planned.", kind="say warn")
    body += el("nav", "".join(card for _, _, card in cards), "tubes", aria_label="Tubes")
    body += el("p", el("a", "Cautions", "word", href="/cautions"), "quiet")
    return document(f"{title or name} at the bender", el("div", body, "bender"))


def _card(at: Standing, path: str) -> str:
    """Offer a tube; one in the making says where it was left."""
    drawn = at.drawn
    hand = f" · mirror image of {drawn.of}" if drawn.of else ""
    bends = f"{len(drawn.bends)} bend{'s' if len(drawn.bends) > 1 else ''}{hand}"
    inner = words(drawn.name, "h2")
    if at.open and at.now is not None:
        inner += words(f"Take it up again: {at.now.words[0]}", kind="lines")
        inner += words(f"begun {at.now.run.started[:16].replace('T', ' ')}", kind="quiet")
    elif at.trouble:
        inner += words("In the making, but its plan has changed since", kind="say warn")
    elif at.now is not None:
        inner += words(f"made before · {bends}", kind="quiet")
    else:
        inner += words(bends, kind="quiet")
    href = f"{path}/bender/{quote(drawn.name, safe='')}"
    return el("a", inner, f"slab{' main' if at.open else ''}", href=href)
