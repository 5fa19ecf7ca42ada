"""The leg that the level lies on, seen square on so that its slope shows true."""

import math

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array
from soapstone.plan.model import LevelReading
from soapstone.sheets import palette
from soapstone.sheets.frame import covered, fit, outline_points, ring_letter
from soapstone.sheets.machine import Stage
from soapstone.sheets.placing import backed, beside, free_place, text_boxes
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    arc,
    circle,
    line,
    polygon,
)
from soapstone.sheets.tube_view import Tube
from soapstone.sheets.words import short_degrees

INSTRUMENT = (15.0, 3.6)
"""Length and height of the level as drawn, in page mm."""


def draw_level(stage: Stage, width: float, height: float) -> Sketch:
    """Draw the rolled tube with a level on its leg; a step without a level gives no marks."""
    level, index = stage.step.level, stage.level_leg
    if level is None or index is None:
        return ()
    setup = stage.plan.setup
    way = walk(stage.before)
    direction = way.directions[index]
    into = Box(0.0, 0.0, width, height).grown(-8.0)
    points = outline_points(stage.before, setup.od)
    frame = fit(square_view(direction), points, setup.od / 2, into, largest=0.5)
    marks: list[Mark] = [*frame.tubes([Tube(stage.before, setup.od, setup.wall)])]
    a, b = frame.at(way.nodes[2 * index]), frame.at(way.nodes[2 * index + 1])
    radius = setup.od / 2 * frame.scale
    if level.reads >= 0.05:
        marks += _reference(a, b)
    marks += _instrument(a, b, radius)
    marks += _ends(a, b, radius)
    page = Box(0.0, 0.0, width, height)
    tubes = covered(stage.before, setup.od, frame)
    marks += _reading((a, b), radius, level, page, text_boxes(marks), tubes)
    return tuple(marks)


def square_view(direction: Array) -> View:
    """Look horizontally across a leg; of the two sides, the one nearer to the tail's.

    A plumb leg is seen from the tail.
    """
    across = np.array([direction[0], direction[1], 0.0])
    size = float(np.linalg.norm(across))
    if size < 1e-6:
        return View("from the tail", (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    across /= size
    forward = across[1] if abs(across[1]) > 1e-6 else across[0]
    right = across if forward > 0 else -across
    return View("across the leg", (float(right[0]), float(right[1]), 0.0), (0.0, 0.0, 1.0))


def _reference(a: Point, b: Point) -> Sketch:
    """Draw the horizontal through the lower end, and the angle between it and the leg."""
    low, high = (a, b) if a[1] <= b[1] else (b, a)
    side = 1.0 if high[0] >= low[0] else -1.0
    reach = min(max(12.0, 0.7 * math.dist(a, b)), 22.0)
    pen = Pen(0.25, palette.STONE, (1.2, 0.9))
    slope = math.degrees(math.atan2(high[1] - low[1], high[0] - low[0]))
    flat = 0.0 if side > 0 else 180.0
    return (
        line((low, (low[0] + side * reach, low[1])), pen),
        arc(low, 0.7 * reach, flat, slope, Pen(0.35, palette.EMBER)),
    )


def _instrument(a: Point, b: Point, radius: float) -> Sketch:
    """Draw a level lying on the leg, on its upper side or, when plumb, on its right."""
    long, thick = INSTRUMENT
    along = np.array([b[0] - a[0], b[1] - a[1]])
    size = float(np.linalg.norm(along))
    along = along / size if size > 1e-6 else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    if across[1] < -1e-6 or (abs(across[1]) <= 1e-6 and across[0] < 0):
        across = -across
    middle = (np.array(a) + np.array(b)) / 2
    long = min(long, max(0.8 * size, 7.0))

    def at(u: float, v: float) -> Point:
        x, y = middle + u * along + (radius + v) * across
        return (float(x), float(y))

    half = long / 2
    body = [at(-half, 0.2), at(half, 0.2), at(half, thick), at(-half, thick)]
    vial = [at(-2.2, 0.9), at(2.2, 0.9), at(2.2, thick - 0.7), at(-2.2, thick - 0.7)]
    bubble = at(0.0, thick / 2 + 0.1)
    return (
        polygon(body, palette.EMBER, Pen(0.3)),
        polygon(vial, palette.PAPER),
        circle(bubble, 0.65, palette.CLAY, Pen(0.2)),
    )


def _ends(a: Point, b: Point, radius: float) -> Sketch:
    """Tag which end of the leg is toward A and which toward B, beside it."""
    along = np.array([b[0] - a[0], b[1] - a[1]])
    size = float(np.linalg.norm(along))
    along = along / size if size > 1e-6 else np.array([1.0, 0.0])
    across = np.array([along[1], -along[0]])
    if across[1] > 1e-6 or (abs(across[1]) <= 1e-6 and across[0] > 0):
        across = -across
    marks: list[Mark] = []
    for letter, end, inward in (("A", a, along), ("B", b, -along)):
        x, y = np.array(end) + across * (radius + 3.2) + inward * min(2.4, (size - 4.6) / 2)
        marks += ring_letter(letter, (float(x), float(y)), 1.9)
    return tuple(marks)


def _reading(
    leg: tuple[Point, Point],
    radius: float,
    level: LevelReading,
    page: Box,
    texts: list[Box],
    tubes: list[Box],
) -> Sketch:
    """Write what the level must read, beside it."""
    a, b = leg
    text = "plumb" if round(level.reads, 1) >= 90 else short_degrees(level.reads)
    label = Label(text if level.rises else "level", (0, 0), 4.8, palette.EMBER, 700)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    upward = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) + 90
    if math.sin(math.radians(upward)) < -1e-6:
        upward += 180
    if abs(math.sin(math.radians(upward))) <= 1e-6:
        upward = 0.0
    places = [
        beside(label, middle, upward, radius + INSTRUMENT[1] + 1.6),
        beside(label, middle, upward + 180, radius + 1.5),
        (page.middle[0], page.top - 5.0),
    ]
    return backed(free_place(label, places, page, texts, tubes))
