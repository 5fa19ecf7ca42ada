"""The tube in the bender at one step, looking square on the plane the die turns in."""

import math

import numpy as np

from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array
from soapstone.sheets import palette
from soapstone.sheets.frame import Frame, along_arc, covered, end_tag, fit, outline_points, polar
from soapstone.sheets.machine import Stage
from soapstone.sheets.placing import beside, free_place, led, text_boxes
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Sketch,
    arc_arrow,
    circle,
    line,
    moved,
    polygon,
)
from soapstone.sheets.tube_view import GHOST, Tube, centre_line
from soapstone.sheets.words import short_degrees

FROM_ABOVE = View("from above", (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0))
"""Tail at the foot of the page, as one stands who pulls: left and right are one's own."""

FROM_THE_SIDE = View("from the side", (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
"""For a die that turns upright: tail to the right, up is up."""

BLOCK = 0.75
"""Thickness of clamp and follower blocks beside the tube, in OD."""


def die_view(plane: str) -> View:
    """Give the view in which a bender's die is round."""
    return FROM_ABOVE if plane == "horizontal" else FROM_THE_SIDE


def tail_shown(clr: float, follower: float) -> float:
    """Give how much tail is worth drawing, in mm."""
    return max(1.3 * follower, 1.6 * clr)


def draw_bender(stage: Stage, width: float, height: float) -> Sketch:
    """Draw the tube in the bender, `width` x `height`, the coming bend a ghost with its swing."""
    setup = stage.plan.setup
    view = die_view(setup.plane)
    into = Box(0.0, 0.0, width, height).grown(-7.5)
    frame = fit(view, _what_matters(stage), setup.od / 2, into, largest=0.6)
    marks: list[Mark] = [*_die(stage, frame)]
    marks += frame.tubes([Tube(stage.after, setup.od, setup.wall, GHOST)], 0.25)
    dashed = centre_line(stage.after, view, frame.scale, Pen(0.3, palette.EMBER, (1.4, 1.0)))
    marks += moved(dashed, frame.dx, frame.dy)
    marks += _blocks(stage, frame)
    marks += frame.tubes([Tube(stage.before, setup.od, setup.wall)])
    marks += _index_line(stage, frame)
    marks += _ends(stage, frame)
    tubes = covered(stage.before, setup.od, frame)
    marks += _swing(stage, frame, text_boxes(marks), tubes, into)
    return tuple(marks)


def _what_matters(stage: Stage) -> Array:
    """Points that the drawing must hold: the tube before and after, the die and the blocks."""
    setup = stage.plan.setup
    swing = np.array(stage.swing)
    x = np.array([1.0, 0.0, 0.0])
    radius = setup.clr - setup.od / 2
    turned = np.radians(np.arange(0, 360, 15))[:, None]
    die = setup.clr * swing + radius * (np.cos(turned) * x + np.sin(turned) * swing)
    side = -(0.6 + BLOCK) * setup.od * swing
    blocks = np.array([side - setup.clamp * x, side + setup.follower * x])
    tubes = [outline_points(line, setup.od) for line in (stage.before, stage.after)]
    return np.concatenate([die, blocks, *tubes])


def _die(stage: Stage, frame: Frame) -> Sketch:
    """Draw the die: its round groove, the straight that the clamp presses on, its middle."""
    setup = stage.plan.setup
    swing, x = np.array(stage.swing), np.array([1.0, 0.0, 0.0])
    centre = frame.at(setup.clr * swing)
    radius = (setup.clr - setup.od / 2) * frame.scale
    inner, depth = setup.od / 2 * swing, min(setup.clr, 1.6 * setup.od) * swing
    straight = [inner, inner - setup.clamp * x, depth - setup.clamp * x, depth]
    pen = Pen(0.3, palette.STONE)
    cross = 1.6
    return (
        polygon([frame.at(p) for p in straight], palette.MIST, pen),
        circle(centre, radius, palette.MIST, pen),
        line(((centre[0] - cross, centre[1]), (centre[0] + cross, centre[1])), pen),
        line(((centre[0], centre[1] - cross), (centre[0], centre[1] + cross)), pen),
    )


def _blocks(stage: Stage, frame: Frame) -> Sketch:
    """Draw clamp block (ahead of the bend) and follower block (behind it), across from the die."""
    setup = stage.plan.setup
    swing = np.array(stage.swing)
    marks: list[Mark] = []
    for start, end, name in ((-setup.clamp, 0.0, "clamp"), (0.0, setup.follower, "follower")):
        near, far = -setup.od / 2 * swing, -(0.5 + BLOCK) * setup.od * swing
        x = np.array([1.0, 0.0, 0.0])
        gap = 0.02 * (end - start) * x
        corners = [
            near + start * x + gap,
            near + end * x - gap,
            far + end * x - gap,
            far + start * x + gap,
        ]
        marks.append(polygon([frame.at(c) for c in corners], palette.STONE, Pen(0.25)))
        marks += _block_name(name, frame, corners)
    return tuple(marks)


def _block_name(name: str, frame: Frame, corners: list[Array]) -> Sketch:
    """Write a block's name in it, along it, when it is large enough to be read."""
    points = [frame.at(c) for c in corners]
    long = math.dist(points[0], points[1])
    thick = math.dist(points[1], points[2])
    size = min(3.2, thick * 0.62)
    if size < 2.0 or len(name) * size * 0.6 > long:
        return ()
    x = sum(p[0] for p in points) / 4
    y = sum(p[1] for p in points) / 4
    upright = abs(points[1][1] - points[0][1]) > abs(points[1][0] - points[0][0])
    shift = 0.25 * size
    at = (x + shift, y) if upright else (x, y - shift)
    return (Label(name, at, size, palette.PAPER, 500, turn=90 if upright else 0),)


def _index_line(stage: Stage, frame: Frame) -> Sketch:
    """Draw the die's index line across the tube, where the mark goes."""
    setup = stage.plan.setup
    swing = np.array(stage.swing)
    at = np.array([-setup.mark_offset, 0.0, 0.0])
    beyond = setup.od / 2 + 3.5 / frame.scale
    ends = [frame.at(at + beyond * swing), frame.at(at - setup.od / 2 * swing)]
    return (line(ends, Pen(0.8, palette.EMBER)),)


def _ends(stage: Stage, frame: Frame) -> Sketch:
    """Tag the lead end, and say that the tail goes on."""
    way = walk(stage.before)
    points = [frame.at(p) for p in way.nodes]
    first, last = (points[0], points[1]), (points[-1], points[-2])
    lead, tail = (first, last) if stage.step.lead == "A" else (last, first)
    letters = "AB" if stage.step.lead == "A" else "BA"
    return (*end_tag(letters[0], *lead, 1.0), *end_tag(letters[1], *tail, 1.0))


def _swing(stage: Stage, frame: Frame, texts: list[Box], tubes: list[Box], into: Box) -> Sketch:
    """Draw the arrow along which the lead swings, and the finished angle beside it."""
    setup, step = stage.plan.setup, stage.step
    centre = frame.at(setup.clr * np.array(stage.swing))
    lead = max(setup.clamp, 0.7 * setup.clr, 13.0 / frame.scale)
    start = frame.at((-lead, 0.0, 0.0))
    foot = frame.at((0.0, 0.0, 0.0))
    from_deg = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    radial = math.degrees(math.atan2(foot[1] - centre[1], foot[0] - centre[0]))
    sign = 1.0 if _wrapped(from_deg - radial) > 0 else -1.0
    radius = math.dist(centre, start)
    begin, end = from_deg + sign * min(3.0, 0.2 * step.loaded), from_deg + sign * step.loaded
    head = min(2.6, max(1.4, 0.7 * math.radians(step.loaded) * radius))
    arrow = arc_arrow(centre, radius, begin, end, Pen(0.6, palette.EMBER), head)
    label = Label(short_degrees(step.angle), (0, 0), 5.2, palette.EMBER, 700)
    page = into.grown(6.5)
    places = [
        beside(label, polar(centre, radius, turn), turn + flip, gap)
        for gap in (1.8, 4.0)
        for flip in (0.0, 180.0)
        for part in (0.5, 0.35, 0.65, 0.2, 0.8, 1.3, -0.3)
        for turn in [from_deg + sign * step.loaded * part]
    ]
    here = along_arc(centre, radius, begin, end)
    put = free_place(label, places, page, [*texts, *here], tubes)
    middle = polar(centre, radius, (begin + end) / 2)
    return (*arrow, *led(put, middle, palette.EMBER))


def _wrapped(angle: float) -> float:
    return (angle + 180.0) % 360.0 - 180.0
