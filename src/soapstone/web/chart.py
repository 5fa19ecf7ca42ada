"""Charts: places across in per cent of the width and letters at their size, as on the stick.

A chart is a frame for what is laid into it: a band, a line, dots, and words beside the axes. The
places for words lie in the margins that the page's style leaves round it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

Place = tuple[float, float]
"""A place by the values of the two axes, across and up."""


@dataclass(frozen=True, slots=True)
class Axis:
    """From what value to what, at which ones a word stands, and what it is all about."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]
    title: str

    def share(self, value: float) -> float:
        """Give where a value lies, 0 at the low end and 1 at the high one."""
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Chart:
    """The frame of a chart: its axes, and its height in pixels."""

    across: Axis
    up: Axis
    height: int = 300

    def x(self, value: float) -> str:
        """Place a value across, in per cent."""
        return f"{100 * self.across.share(value):.3f}%"

    def y(self, value: float) -> float:
        """Place a value up, in pixels from above."""
        return round(self.height * (1 - self.up.share(value)), 2)

    def drawing(self, name: str, parts: Iterable[str]) -> str:
        """Put everything together; `name` is what is read aloud of it."""
        return (
            f'<div class="chart"><svg height="{self.height}" role="img" '
            f'aria-label="{escape(name)}">{self._frame()}{"".join(parts)}</svg></div>'
        )

    def band(self, low: Sequence[Place], high: Sequence[Place]) -> str:
        """Fill between two lines."""
        points = " ".join(self._in_box(place) for place in (*low, *reversed(high)))
        return self._box(f'<polygon class="band" points="{points}"/>')

    def line(self, places: Sequence[Place], kind: str = "line") -> str:
        """Draw a line through places."""
        points = " ".join(self._in_box(place) for place in places)
        return self._box(f'<polyline class="{kind}" points="{points}"/>')

    def dot(self, place: Place, name: str, kind: str = "dot") -> str:
        """Draw a dot; `name` shows when it is pointed at."""
        x, y = self.x(place[0]), self.y(place[1])
        title = f"<title>{escape(name)}</title>"
        return f'<circle class="{kind}" cx="{x}" cy="{y}" r="6">{title}</circle>'

    def whisker(self, across: float, low: float, high: float) -> str:
        """Draw from where to where a value may lie."""
        x = self.x(across)
        return f'<line class="whisker" x1="{x}" x2="{x}" y1="{self.y(low)}" y2="{self.y(high)}"/>'

    def plumb(self, across: float, kind: str = "plumb") -> str:
        """Draw a line from below to above."""
        x = self.x(across)
        return f'<line class="{kind}" x1="{x}" x2="{x}" y1="0" y2="{self.height}"/>'

    def word(self, place: Place, text: str, kind: str = "word", shift: int = -12) -> str:
        """Write at a place, `shift` pixels below it."""
        x, y = self.x(place[0]), self.y(place[1]) + shift
        return f'<text class="{kind}" x="{x}" y="{y}">{escape(text)}</text>'

    def _in_box(self, place: Place) -> str:
        return f"{100 * self.across.share(place[0]):.3f},{100 * (1 - self.up.share(place[1])):.3f}"

    @staticmethod
    def _box(inner: str) -> str:
        return (
            '<svg width="100%" height="100%" viewBox="0 0 100 100" '
            f'preserveAspectRatio="none">{inner}</svg>'
        )

    def _frame(self) -> str:
        parts = []
        for value, text in self.up.ticks:
            y = self.y(value)
            parts.append(f'<line class="rule" x1="0" x2="100%" y1="{y}" y2="{y}"/>')
            parts.append(f'<text class="up" x="0" dx="-10" y="{y + 5}">{escape(text)}</text>')
        for value, text in self.across.ticks:
            x = self.x(value)
            parts.append(
                f'<text class="across" x="{x}" y="{self.height + 20}">{escape(text)}</text>'
            )
        parts.append(f'<text class="title" x="-48" y="-16">{escape(self.up.title)}</text>')
        parts.append(
            f'<text class="title end" x="100%" y="{self.height + 44}">'
            f"{escape(self.across.title)}</text>"
        )
        return "".join(parts)


def round_axis(values: Iterable[float], title: str, unit: str = "", most: int = 6) -> Axis:
    """Give an axis that holds all values, its ends and words at round numbers."""
    found = list(values)
    low, high = min(found), max(found)
    step = round_step((high - low) or abs(high) or 1.0, most)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    last = max(last, first + 1)
    decimals = max(0, -floor(log10(step) + 1e-9))
    ticks = tuple((n * step, f"{n * step:.{decimals}f}{unit}") for n in range(first, last + 1))
    return Axis(first * step, last * step, ticks, title)


def round_step(span: float, most: int) -> float:
    """Give the least of 1, 2, 5, 10 ... that divides a span into `most` parts at most."""
    rough = span / most
    size = 10.0 ** floor(log10(rough))
    return next(size * n for n in (1, 2, 5, 10) if size * n >= rough * (1 - 1e-9))
