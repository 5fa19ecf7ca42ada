"""Pages of plain HTML: for a phone at the bender, that sleeps, and loses and finds its network.

Such a page holds no line to the server open. What is pressed is asked for on its own, and answered
once it is kept.
"""

from html import escape
from pathlib import Path

from soapstone.web.look import SCRIPT, STYLES

HERE = Path(__file__).parent


def el(tag: str, inner: str = "", kind: str = "", **attributes: str) -> str:
    """Make an element around `inner`, which is HTML already; attributes are escaped here."""
    named = {"class": kind, **attributes} if kind else attributes
    told = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(value)}"' for name, value in named.items()
    )
    return f"<{tag}{told}>{inner}</{tag}>"


def words(text: str, tag: str = "p", kind: str = "") -> str:
    """Write a piece of text."""
    return el(tag, escape(text), kind)


def button(label: str, kind: str = "", **attributes: str) -> str:
    """Make a button."""
    return el("button", escape(label), f"press {kind}".strip(), type="button", **attributes)


def top(title: str, back: tuple[str, str]) -> str:
    """Make the head of a page: the way back, its title, light or dark."""
    way = el("a", f"← {escape(back[0])}", "tab", href=back[1])
    light = button("☀ / ☾", "plain", aria_label="Light or dark", onclick="soapstone.turn()")
    return el("header", way + el("div", words(title, "h1"), "grow") + light, "top")


def document(title: str, body: str, *, scripts: tuple[str, ...] = ()) -> str:
    """Make a whole page around its body; `scripts` are files that lie beside this one."""
    told = "".join(f"<script>\n{(HERE / name).read_text('utf-8')}</script>" for name in scripts)
    styles = (*STYLES, HERE / "plain.css")
    look = "\n".join(style.read_text("utf-8") for style in styles)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{look}</style>"
        f"<script>\n{SCRIPT.read_text('utf-8')}</script></head>"
        f"<body>{el('main', body, 'page')}{told}</body></html>"
    )
