"""How the pages look: the colours and letters, and the few parts that every page is made of."""

import asyncio
import json
import re
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from html import escape
from pathlib import Path
from typing import Any

from nicegui import app, background_tasks, ui

from soapstone.findings import Finding
from soapstone.sheets.lettering import FONT_FOLDER

STYLES = tuple(Path(__file__).with_name(name) for name in ("look.css", "shop.css"))

SCRIPT = Path(__file__).with_name("look.js")
"""What every page does by itself: light or dark, marks tied to bends, nothing typed is lost."""


UNDER_WAY = 3.0
"""Seconds after which nothing is under way any more."""


def furnish() -> None:
    """Make letters available to all pages, once before they are served."""
    app.add_static_files("/letters", str(FONT_FOLDER), max_cache_age=31_536_000)


def dress(title: str) -> None:
    """Give the page being made its title, colours and letters."""
    ui.page_title(title)
    ui.add_head_html('<meta name="viewport" content="width=device-width, initial-scale=1">')
    ui.add_head_html(f"<script>\n{SCRIPT.read_text('utf-8')}</script>")
    ui.add_css("\n".join(style.read_text("utf-8") for style in STYLES))


def block(tag: str, kind: str = "", text: str = "", **attributes: Any) -> ui.element:
    """Make an element of a page, with text in it if any is given, and then nothing else."""
    made = ui.element(tag)
    if kind:
        made.classes(kind)
    given = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
    if text:
        given["innerHTML"] = escape(text)
    with made.props.suspend_updates():  # what is made is sent anyway
        made.props.update(given)
    return made


def words(text: str, tag: str = "p", kind: str = "") -> ui.html:
    """Write a piece of text."""
    return ui.html(escape(text), sanitize=False, tag=tag).classes(kind)


def press(label: str, on_press: Callable[[], Any], kind: str = "", **attributes: Any) -> ui.element:
    """Make a button."""
    made = block("button", f"press {kind}", label, type="button", **attributes)
    made.on("click", on_press)
    return made


def entry(
    label: str,
    value: str,
    on_change: Callable[[str], Any],
    *,
    hidden_label: bool = False,
    whole: bool = False,
) -> ui.element:
    """Make a field to type into; `on_change` gets what was typed when it is left or confirmed.

    Among other fields it has a `whole` line to itself.
    """
    name = {"aria_label": label} if hidden_label else {}
    holder = block("label", _kind(whole)) if not hidden_label else None
    if holder is not None:
        with holder:
            words(label, "span")
            made = _entry(value, name)
    else:
        made = _entry(value, name)
    made.on("change", lambda event: on_change(str(event.args)), js_handler=_VALUE)
    return made


def _kind(whole: bool) -> str:
    return "field whole" if whole else "field"


_VALUE = "(event) => soapstone.typed(event.target, emit)"


def _entry(value: str, name: dict[str, str]) -> ui.element:
    # an attribute (^), so that drawing the page again does not put the old value back into a field
    # that someone is typing in
    made = block("input", "entry", autocomplete="off", spellcheck="false", **name)
    made.props["^value"] = value
    return made


def choice(
    label: str,
    options: Iterable[str],
    value: str,
    on_change: Callable[[str], Any],
    *,
    whole: bool = False,
) -> ui.element:
    """Make a field to choose from a few things; among others it has a `whole` line to itself."""
    with block("label", _kind(whole)) as holder:
        words(label, "span")
        with block("select", "entry") as made:
            for option in options:
                chosen = {"selected": True} if option == value else {}
                block("option", "", option, value=option, **chosen)
    made.on("change", lambda event: on_change(str(event.args)), js_handler=_VALUE)
    return holder


def say(findings: Iterable[Finding]) -> None:
    """List findings, the gravest first."""
    titles = {"stop": "Stop", "warn": "Note well", "note": "Note"}
    ranked = sorted(findings, key=lambda finding: tuple(titles).index(finding.severity))
    for finding in ranked:
        text = f"<b>{titles[finding.severity]}</b> {escape(str(finding))}"
        ui.html(text, sanitize=False).classes(f"say {finding.severity}")


def complain(why: object) -> None:
    """Say over the page why something was not done; it stays long enough to be read at work."""
    close = [{"label": "Close", "color": "white"}]
    ui.notify(
        without_folders(str(why)), type="negative", multi_line=True, timeout=20_000, actions=close
    )


def tell(what: str) -> None:
    """Say over the page what was done, for a moment."""
    ui.notify(without_folders(what), type="positive", multi_line=True, timeout=4000)


def put_back(field: ui.element, holds: str) -> None:
    """Put what still holds back into a field whose new value was refused."""
    field.client.run_javascript(f"getHtmlElement({field.id}).value = {json.dumps(holds)}")


def without_folders(text: str) -> str:
    """Leave the folders of this machine out of what is said on a page."""
    return re.sub(r"(?:[A-Za-z]:)?[/\\](?:[^/\\:\s]+[/\\])+(?=[^/\\:]+\.\w+)", "", text)


def anew(place: ui.element) -> ui.element:
    """Empty a part of a page to make it anew.

    What stood there still answers for a moment: a touch may be under way, or a number typed.
    """
    gone = list(place.default_slot.children)
    place.default_slot.children.clear()
    place.update()
    background_tasks.create(_bury(gone))
    return place


async def _bury(gone: Iterable[ui.element]) -> None:
    await asyncio.sleep(UNDER_WAY)
    for one in gone:
        one.client.remove_elements(one.descendants(include_self=True))


def slab(kind: str = "") -> AbstractContextManager[ui.element]:
    """Make a raised area."""
    return block("section", f"slab stack {kind}")


def fold(unfolded: set[str], key: str, title: str) -> ui.element:
    """Make a raised area that opens at a touch; `unfolded` keeps which are open, by key."""
    holder = block("details", "slab")
    holder.props["open"] = key in unfolded
    with holder:
        block("summary", "", title)
        inside = block("div", "stack")

    def turned(is_open: bool) -> None:
        (unfolded.add if is_open else unfolded.discard)(key)

    holder.on("toggle", lambda event: turned(bool(event.args)), js_handler=_OPEN)
    return inside


_OPEN = "(event) => emit(event.target.open)"


def top(title: str, *, back: tuple[str, str] | None = None) -> ui.element:
    """Make the head of a page: the way back, its title, and what is added in it."""
    with block("header", "top") as head:
        if back:
            block("a", "tab", f"← {back[0]}", href=back[1])
        with block("div", "grow"):
            words(title, "h1")
    return head


def light_switch() -> None:
    """Make the button between chalk on slate and ink on paper."""
    made = block("button", "press plain", "☀ / ☾", type="button", aria_label="Light or dark")
    made.on("click", js_handler="() => soapstone.turn()")
