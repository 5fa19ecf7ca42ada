"""Pages that show a frame under load: bent more than it gives, and the darker the more stressed."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from soapstone.check.strength.model import CaseResult, Shape
from soapstone.geometry.vectors import Array, Vec3
from soapstone.quantities import Units, format_fine, format_stress
from soapstone.sheets import palette
from soapstone.sheets.contents import Paper
from soapstone.sheets.figures import Figure, figure_page
from soapstone.sheets.frame import Frame, fit
from soapstone.sheets.lettering import text_width
from soapstone.sheets.projection import CORNER
from soapstone.sheets.sketch import (
    Anchor,
    Box,
    Label,
    Mark,
    Pen,
    Sketch,
    arrow_head,
    bounds,
    circle,
    line,
    moved,
    polygon,
    rectangle,
)
from soapstone.sheets.sketch_svg import to_svg
from soapstone.sheets.typesetting import to_pdf
from soapstone.sheets.words import shortened

WIDTH, HEIGHT = 186.0, 130.0
"""Page mm of a drawing."""

SHADES = ("#dbe2e5", "#c3c6bf", "#d9a884", "#cf7a48", "#b8430f", "#6e2406")
"""From little stress to much; each is darker than the one before, in black and white too."""

SHOWN = 0.07
"""How far the most that gives is drawn off its place, over the frame's size."""

CODES = (
    "Which codes rule depends on where it stands: on small craft the rules for hull and deck gear "
    "(ISO 12215) and those of class or flag; on buildings and as a guard rail the building code; "
    "on vehicles the road law, and in sport its rule book; under hooks the rules for lifting gear."
)
"""Which codes may rule, in words; common knowledge, from memory."""

ARROW = 14.0
"""Page mm of a load's arrow."""


def exaggeration(case: CaseResult) -> float:
    """By how much the give of a case is drawn larger than it is: 1, 2 or 5 with noughts."""
    points = np.array([point for shape in case.shapes for point in shape.points])
    size = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
    if case.deflection <= 1e-9 * size:
        return 1.0
    wanted = max(SHOWN * size / case.deflection, 1.0)
    step = 10.0 ** math.floor(math.log10(wanted))
    return max(n * step for n in (1, 2, 5) if n * step <= wanted * (1 + 1e-9))


def strength_drawing(
    case: CaseResult,
    ods: Mapping[str, float],
    held: Sequence[Vec3],
    loads: Sequence[tuple[Vec3, Vec3]],
    units: Units,
) -> Sketch:
    """Draw one case: the frame as it stands, as it gives, its feet, its loads (place, force).

    `ods` in mm by tube name; the scale of stress goes from nothing to the most in this case.
    """
    times = exaggeration(case)
    still = [np.array(shape.points) for shape in case.shapes]
    bent = [np.array(s.points) + times * np.array(s.moves) for s in case.shapes]
    places = [np.array([at]) for at, _ in loads]
    every = np.concatenate([*still, *bent, *places])
    into = Box(16.0, 16.0, WIDTH - 16.0, HEIGHT - 16.0)
    frame = fit(CORNER, every, max(ods.values()) / 2, into)
    dashed = Pen(0.3, palette.STONE, (1.4, 1.0))
    marks: list[Mark] = [line([frame.at(p) for p in points], dashed) for points in still]
    marks += _bent(case.shapes, bent, ods, frame, case.stress)
    for foot in held:
        x, y = frame.at(foot)
        marks.append(polygon([(x, y), (x - 2.2, y - 4), (x + 2.2, y - 4)], palette.PAPER, Pen(0.4)))
    for at, force in loads:
        marks += _load(frame, at, force)
    marks += _worst(case, bent, frame)
    return (*marks, *_legend(case, times, units))


def _bent(
    shapes: Sequence[Shape],
    bent: Sequence[Array],
    ods: Mapping[str, float],
    frame: Frame,
    most: float,
) -> list[Mark]:
    """Pieces of the bent tubes, the nearest last."""
    pieces = []
    for shape, points in zip(shapes, bent, strict=True):
        width = max(ods[shape.tube] * frame.scale, 1.0)
        nearness = frame.view.project(points)[:, 2]
        for i in range(len(points) - 1):
            stress = (shape.stresses[i] + shape.stresses[i + 1]) / 2
            shade = SHADES[min(int(stress / max(most, 1e-9) * len(SHADES)), len(SHADES) - 1)]
            ends = (frame.at(points[i]), frame.at(points[i + 1]))
            near = float(nearness[i] + nearness[i + 1])
            pieces.append((near, ends, width, shade))
    pieces.sort(key=lambda piece: piece[0])
    outlines: list[Mark] = [
        line(ends, Pen(width + 0.5, palette.INK, round=True)) for _, ends, width, _ in pieces
    ]
    return outlines + [
        line(ends, Pen(width, shade, round=True)) for _, ends, width, shade in pieces
    ]


def _load(frame: Frame, at: Vec3, force: Vec3) -> list[Mark]:
    """An arrow that ends where a load acts; one along the line of sight is a ring."""
    size = math.hypot(*force)
    if size == 0:
        return []
    x, y, _ = frame.view.project(np.array(force) / size)
    tip = frame.at(at)
    seen = math.hypot(x, y)
    if seen < 0.1:
        return [circle(tip, 1.6, None, Pen(0.5))]
    start = (tip[0] - ARROW * float(x), tip[1] - ARROW * float(y))
    angle = math.degrees(math.atan2(y, x))
    return [line((start, tip), Pen(0.6)), arrow_head(tip, angle, 3.0, palette.INK)]


def _worst(case: CaseResult, bent: Sequence[Array], frame: Frame) -> list[Mark]:
    """Ring the place nearest to yield."""
    if not math.isfinite(case.reserve):
        return []
    shape, points = next(
        (s, p) for s, p in zip(case.shapes, bent, strict=True) if s.tube == case.worst.tube
    )
    off = np.linalg.norm(np.array(shape.points) - np.array(case.worst.point), axis=1)
    x, y = frame.at(points[int(off.argmin())])
    words = f"{case.reserve:.2f} × to yield"
    # beside the frame, where nothing is drawn over
    beside = max(frame.at(place)[0] for shape in bent for place in shape) + 8.0
    flat = beside + text_width(words, 3.6, 700) <= WIDTH
    end = (beside, y) if flat else (2.0 + text_width(words, 3.6, 700), y)
    near = x + 3.2 if flat else x - 3.2
    anchor: Anchor = "left" if flat else "right"
    return [
        circle((x, y), 3.2, None, Pen(0.6, palette.EMBER)),
        line(((near, y), end), Pen(0.25, palette.EMBER)),
        Label(words, (end[0] + (1.0 if flat else -1.0), y - 1.3), 3.6, palette.EMBER, 700, anchor),
    ]


def _legend(case: CaseResult, times: float, units: Units) -> list[Mark]:
    """The scale of stress, and how much the drawing exaggerates."""
    wide, top = 13.0, 7.0
    marks: list[Mark] = []
    for i, shade in enumerate(SHADES):
        box = Box(2.0 + i * wide, 3.4, 2.0 + (i + 1) * wide, top)
        marks.append(rectangle(box, shade, Pen(0.2)))
    for i in (0, len(SHADES) // 2, len(SHADES)):
        stress = format_stress(case.stress * i / len(SHADES), units)
        marks.append(Label(stress, (2.0 + i * wide, 0.0), 2.8, palette.INK))
    gives = format_fine(case.deflection, units)
    said = f"drawn {times:g} times what it gives, {gives} at most; dashed: unloaded"
    marks.append(Label(said, (14.0 + len(SHADES) * wide, 4.0), 3.2, palette.INK, 500, "left"))
    return marks


def strength_figures(
    drawn: Sequence[tuple[CaseResult, Sketch]], rows: Mapping[str, tuple[tuple[str, ...], ...]]
) -> list[Figure]:
    """Give a figure for each case, with a table (first row: its heads) by the case's name."""
    return [
        Figure(f"Case: {shortened(case.case, 60)}", sketch, rows.get(case.case, ()))
        for case, sketch in drawn
    ]


def strength_page(figures: Sequence[Figure], caution: str) -> dict[str, Any]:
    """Give the data of the pages; `caution` stands over them."""
    words = f"{caution[:1].upper()}{caution[1:]}. {CODES}"
    return figure_page("Strength", "what the frame carries", words, figures, "strength")


def strength_pdf(
    figures: Sequence[Figure], caution: str, units: Units, paper: Paper, job: str, date: str
) -> bytes:
    """Print the pages alone."""
    return to_pdf(
        {
            "job": shortened(job, 60),
            "paper": paper,
            "units": units,
            "notice": shortened(date, 40),
            "pages": [strength_page(figures, caution)],
        }
    )


def strength_svg(figures: Sequence[Figure], caution: str) -> str:
    """Draw all cases one below the other as an SVG document."""
    marks: list[Mark] = []
    down = 0.0
    for figure in figures:
        box = bounds(figure.sketch)
        down -= box.top + 8.0
        marks += moved(figure.sketch, 0.0, down)
        marks.append(Label(figure.head, (0.0, down + box.top + 3.0), 4.2, palette.INK, 700, "left"))
        down += box.bottom - 6.0
    marks.append(Label(caution, (0.0, down), 2.6, palette.STONE, 400, "left"))
    frame = bounds(tuple(marks)).grown(6.0)
    return to_svg((rectangle(frame, palette.PAPER), *marks), frame, "Strength")
