"""The drift chart: what each bend took on the dial, in order, against what was foretold."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from soapstone.sheets.lettering import text_width
from soapstone.sheets.palette import CHALK, CLAY, PALE, SLATE, STONE
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    circle,
    line,
    moved,
    polygon,
    rectangle,
)

BAND = "#3f525b"
"""Slate rubbed lighter: the band that holds 19 bends of 20."""

WIDTH, HEIGHT = 180.0, 62.0
"""mm of one chart; its words stand round the plot."""

PLOT = Box(16.0, 12.0, 174.0, 46.0)


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """A bend: how far its reading is off, and the band of its lot there, degrees."""

    date: str
    lot: str
    off: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Chart:
    """All bends of one die and tubing; `said` is what is to be said of them, a line each."""

    title: str
    points: tuple[ChartPoint, ...]
    said: tuple[str, ...] = ()


def drift_sheet(charts: Sequence[Chart]) -> tuple[Sketch, Box]:
    """Give the charts one below the other on slate, and the box they fill."""
    marks: list[Mark] = []
    top = 0.0
    for chart in charts:
        # what is to be said stands under the title, as many lines as it needs
        lines = [part for said in chart.said for part in _broken(said, 140.0)]
        below = max(0, len(lines)) * 4.2
        top -= HEIGHT + below
        marks += moved(_chart(chart, lines, below), 0.0, top)
    box = Box(0.0, top - 2.0, WIDTH, 2.0)
    return (rectangle(box, SLATE), *marks), box


def _chart(chart: Chart, lines: Sequence[str], below: float) -> Sketch:
    highest = HEIGHT + below
    marks: list[Mark] = [Label(chart.title, (6, highest - 7), 4.0, CHALK, 700, "left")]
    marks += [
        Label(text, (6, highest - 12.2 - 4.2 * i), 2.9, CLAY, anchor="left")
        for i, text in enumerate(lines)
    ]
    reach = max((abs(v) for p in chart.points for v in (p.off, p.low, p.high)), default=1.0)
    step = _step(reach)
    reach = step * max(1, math.ceil(reach / step - 1e-9))
    count = len(chart.points)

    def at(i: float, value: float) -> Point:
        x = PLOT.left + PLOT.width * (i + 0.5) / count
        return x, (PLOT.bottom + PLOT.top) / 2 + PLOT.height / 2 * value / reach

    marks += _lots(chart, at)
    for k in range(-round(reach / step), round(reach / step) + 1):
        y = at(0, k * step)[1]
        pen = Pen(0.25 if k == 0 else 0.12, PALE if k == 0 else STONE)
        marks.append(line([(PLOT.left, y), (PLOT.right, y)], pen))
        words = "0°" if k == 0 else f"{k * step:+.4g}°"
        marks.append(Label(words, (PLOT.left - 1.5, y - 1.0), 2.7, PALE, anchor="right"))
    dot = min(1.0, 0.3 * PLOT.width / count)
    for i, point in enumerate(chart.points):
        odd = not point.low <= point.off <= point.high
        marks.append(circle(at(i, point.off), dot, CLAY if odd else CHALK))
    marks.append(
        Label(
            "reading, less what the first lot foretells",
            (PLOT.left, PLOT.top + 2),
            2.6,
            PALE,
            anchor="left",
        )
    )
    return tuple(marks)


def _lots(chart: Chart, at: Callable[[float, float], Point]) -> list[Mark]:
    """The band of each stretch of one lot, its name and the dates below."""
    marks: list[Mark] = []
    points = chart.points
    starts = [i for i, p in enumerate(points) if i == 0 or p.lot != points[i - 1].lot]
    free = -math.inf
    for start, end in zip(starts, [*starts[1:], len(points)], strict=True):
        own = points[start:end]
        upper = [at(start - 0.5, own[0].high)]
        upper += [at(start + i, p.high) for i, p in enumerate(own)]
        upper.append(at(end - 0.5, own[-1].high))
        lower = [at(start - 0.5, own[0].low)]
        lower += [at(start + i, p.low) for i, p in enumerate(own)]
        lower.append(at(end - 0.5, own[-1].low))
        marks.append(polygon([*upper, *reversed(lower)], BAND))
        left = at(start - 0.5, 0)[0]
        if start:
            marks.append(line([(left, PLOT.bottom - 2), (left, PLOT.top)], Pen(0.2, PALE, (1, 1))))
        name = f"lot {own[0].lot}" if own[0].lot else "no lot"
        wide = max(text_width(name, 2.9, 400), text_width(own[0].date, 2.5, 400))
        if left >= free and left + wide <= PLOT.right + 4:
            marks.append(Label(name, (left + 0.5, PLOT.bottom - 4.6), 2.9, CHALK, anchor="left"))
            marks.append(
                Label(own[0].date, (left + 0.5, PLOT.bottom - 8.2), 2.5, PALE, anchor="left")
            )
            free = left + wide + 3
    return marks


def _step(reach: float) -> float:
    """A round number of degrees that parts the scale into two to five."""
    for step in (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0):
        if reach / step <= 4:
            return step
    return 100.0


def _broken(text: str, width: float) -> list[str]:
    """Break a line of words where it is full."""
    lines, now = [], ""
    for word in text.split():
        longer = f"{now} {word}".strip()
        if now and text_width(longer, 2.9, 400) > width:
            lines.append(now)
            now = word
        else:
            now = longer
    return [*lines, now] if now else lines
