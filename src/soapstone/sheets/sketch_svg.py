"""Sketches as SVG text, for pages and files."""

from html import escape

from soapstone.sheets.lettering import FAMILY
from soapstone.sheets.sketch import Box, Label, Mark, Path, Pen, Point, Sketch, bounds

_ANCHORS = {"left": "start", "middle": "middle", "right": "end"}


def to_svg(sketch: Sketch, box: Box | None = None, title: str = "") -> str:
    """Give a whole SVG document at true size.

    Parameters
    ----------
    sketch
        What to draw.
    box
        The part of it to show, in mm; left out, all of it with a margin of 1 mm.
    title
        What the drawing shows, for those who cannot see it.
    """
    frame = box or bounds(sketch).grown(1.0)
    body = "\n".join(_mark(mark, frame) for mark in sketch)
    name = f"<title>{escape(title)}</title>\n" if title else ""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" role="img" '
        f'width="{_n(frame.width)}mm" height="{_n(frame.height)}mm" '
        f'viewBox="0 0 {_n(frame.width)} {_n(frame.height)}" '
        f'font-family="{FAMILY}, sans-serif" font-variant-numeric="tabular-nums">\n'
        f"{name}{body}\n</svg>\n"
    )


def _mark(mark: Mark, frame: Box) -> str:
    return _label(mark, frame) if isinstance(mark, Label) else _path(mark, frame)


def _label(label: Label, frame: Box) -> str:
    x, y = label.at[0] - frame.left, frame.top - label.at[1]
    turned = f' transform="rotate({_n(-label.turn)} {_n(x)} {_n(y)})"' if label.turn else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(label.size)}" fill="{label.colour}" '
        f'font-weight="{label.weight}" text-anchor="{_ANCHORS[label.anchor]}"{turned}>'
        f"{escape(label.text)}</text>"
    )


def _path(path: Path, frame: Box) -> str:
    def at(p: Point) -> str:
        return f"{_n(p[0] - frame.left)} {_n(frame.top - p[1])}"

    start, *rest = path.knots
    if path.handles:
        pieces = zip(path.handles, rest, strict=True)
        steps = [f"C{at(a)} {at(b)} {at(end)}" for (a, b), end in pieces]
    else:
        steps = [f"L{at(p)}" for p in rest]
    data = f"M{at(start)}{''.join(steps)}{'Z' if path.closed else ''}"
    return f'<path d="{data}" fill="{path.fill or "none"}"{_pen(path.pen)}/>'


def _pen(pen: Pen | None) -> str:
    if pen is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(_n(d) for d in pen.dash)}"' if pen.dash else ""
    cap = ' stroke-linecap="round"' if pen.round else ""
    return (
        f' stroke="{pen.colour}" stroke-width="{_n(pen.width)}" stroke-linejoin="round"{cap}{dash}'
    )


def _n(value: float) -> str:
    """Print a number of mm to a thousandth, without trailing zeros and never -0."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
