"""The roll before a bend as one sees it who stands at the tail and looks at the die."""

import math
from dataclasses import replace

import numpy as np

from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross
from soapstone.sheets import palette
from soapstone.sheets.frame import (
    Frame,
    along_arc,
    covered,
    end_tag,
    fit_round,
    outline_points,
    polar,
)
from soapstone.sheets.machine import Stage
from soapstone.sheets.placing import beside, free_place, led, text_boxes
from soapstone.sheets.projection import View
from soapstone.sheets.sketch import (
    Box,
    Label,
    Mark,
    Pen,
    Point,
    Sketch,
    arc_arrow,
    circle,
    line,
    polygon,
)
from soapstone.sheets.tube_view import GHOST, Tube
from soapstone.sheets.words import is_still, roll_title

RING = 14.0
"""Radius of the ring of degrees in page mm."""

SMALL = 25.0
"""Degrees of roll below which the arrow stands outside the ring, clear of the tube."""

FROM_THE_TAIL = View("from the tail", (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def draw_roll(stage: Stage, width: float, height: float) -> Sketch:
    """Draw the tube end on before the roll (ghost) and after it, in a ring of 10 degree ticks."""
    setup = stage.plan.setup
    into = Box(0.0, 0.0, width, height).grown(-7.0)
    lines = [_shown(stage, line_) for line_ in (stage.before, stage.unrolled)]
    points = np.concatenate([*(outline_points(x, setup.od) for x in lines), np.zeros((1, 3))])
    ring = min(RING, 0.24 * height)
    frame = fit_round(FROM_THE_TAIL, points, setup.od / 2, into, ring, 0.6 * ring / setup.od)
    centre = frame.at((0.0, 0.0, 0.0))
    page = Box(0.0, 0.0, width, height)
    marks: list[Mark] = [*_die_on_edge(stage, frame, page), *_ring(centre, ring)]
    still = is_still(stage.step.roll)
    if not still:
        marks += frame.tubes([Tube(lines[1], setup.od, setup.wall, GHOST)], 0.25)
    marks += frame.tubes([Tube(lines[0], setup.od, setup.wall)])
    if stage.bent_ahead or stage.turned is None:
        marks += _eye(centre, setup.od / 2 * frame.scale)
    marks += _lead_tag(lines[0], stage.step.lead, frame)
    if not still:
        tubes = covered(lines[0], setup.od, frame)
        section = Box(*centre, *centre).grown(setup.od / 2 * frame.scale + 0.5)
        marks += _arrow(stage, centre, ring, page, [*text_boxes(marks), section], tubes)
    return tuple(marks)


def _shown(stage: Stage, line_: Centreline) -> Centreline:
    """Cut the tail off at the bend's start, so that one looks into it there.

    With nothing bent ahead it is the tail that shows the roll, and it stays on.
    """
    if stage.turned is not None and not stage.bent_ahead:
        return line_
    way, leg = walk(line_), stage.leg
    if stage.step.lead == "A":
        run = max(-float(way.nodes[2 * leg][0]), 1.0)
        return replace(
            line_,
            legs=(*line_.legs[:leg], run),
            angles=line_.angles[:leg],
            rotations=line_.rotations[:leg],
            radii=line_.radii[:leg],
        )
    run = max(-float(way.nodes[2 * leg + 1][0]), 1.0)
    along = way.directions[leg]
    return Centreline(
        start=vec(way.nodes[2 * leg + 1] - run * along),
        along=vec(along),
        up=vec(cross(way.axes[leg], along)) if leg < len(line_.angles) else _across(along),
        legs=(run, *line_.legs[leg + 1 :]),
        angles=line_.angles[leg:],
        rotations=(0.0, *line_.rotations[leg + 1 :])[: len(line_.angles) - leg],
        radii=line_.radii[leg:],
    )


def _across(along: Array) -> Vec3:
    return vec(any_perpendicular(along))


def _die_on_edge(stage: Stage, frame: Frame, page: Box) -> Sketch:
    """Draw the die edge on, behind the tube, where the lead will swing; the page may cut it."""
    setup = stage.plan.setup
    swing = np.array(stage.swing)
    across = np.array([0.0, swing[2], -swing[1]])
    near, far = 0.5 * setup.od * swing, (2 * setup.clr - setup.od / 2) * swing
    half = 0.7 * setup.od * across
    corners = [near - half, near + half, far + half, far - half]
    clipped = [
        (min(max(x, page.left), page.right), min(max(y, page.bottom), page.top))
        for x, y in map(frame.at, corners)
    ]
    return (polygon(clipped, palette.HAZE, Pen(0.2, palette.PALE)),)


def _ring(centre: Point, radius: float) -> Sketch:
    """Draw ticks each 10 degrees, longer at the quarters."""
    marks: list[Mark] = [circle(centre, radius, pen=Pen(0.15, palette.PALE))]
    for degree in range(0, 360, 10):
        inner = radius - (2.2 if degree % 90 == 0 else 1.0)
        pen = Pen(0.35 if degree % 90 == 0 else 0.2, palette.STONE)
        marks.append(line((polar(centre, inner, degree), polar(centre, radius, degree)), pen))
    return tuple(marks)


def _eye(centre: Point, radius: float) -> Sketch:
    """Mark the middle of the tube that one looks into."""
    cross = min(1.2, 0.6 * radius)
    pen = Pen(0.25, palette.PAPER)
    x, y = centre
    return (
        line(((x - cross, y), (x + cross, y)), pen),
        line(((x, y - cross), (x, y + cross)), pen),
    )


def _lead_tag(line_: Centreline, lead: str, frame: Frame) -> Sketch:
    nodes = [frame.at(p) for p in walk(line_).nodes]
    end, before = (nodes[0], nodes[1]) if lead == "A" else (nodes[-1], nodes[-2])
    if math.dist(end, frame.at((0.0, 0.0, 0.0))) < 4.0:
        return ()  # straight away from the viewer, behind the tube's own section
    return end_tag(lead, end, before, 0.8)


def _arrow(
    stage: Stage, centre: Point, ring: float, page: Box, texts: list[Box], tubes: list[Box]
) -> Sketch:
    """Draw the roll as an arrow from where the last leg lay to where it goes."""
    roll = stage.step.roll
    start = _bearing(stage)
    end = start - roll
    radius = ring if abs(roll) >= SMALL else ring + 4.5
    head = min(3.6, max(1.8, 0.7 * math.radians(abs(roll)) * radius))
    arrow = arc_arrow(centre, radius, start, end, Pen(0.9, palette.EMBER), head)
    label = Label(roll_title(roll), (0, 0), 5.6, palette.EMBER, 700)
    places = [
        beside(label, polar(centre, radius, turn), turn + flip, gap)
        for flip in (0.0, 180.0)
        for gap in (1.8, 4.0)
        for part in (0.5, 0.35, 0.65, 0.2, 0.8, 1.3, -0.3, 1.8, -0.8)
        for turn in [start - roll * part]
    ]
    here = along_arc(centre, radius, start, end)
    put = free_place(label, places, page, [*texts, *here], tubes)
    return (*arrow, *led(put, polar(centre, radius, start - roll / 2), palette.EMBER))


def _bearing(stage: Stage) -> float:
    """Side of the page, in degrees, to which the bend beside the die lay before the roll.

    The leg beyond a bend of more than 180 degrees points back across the tube, so its own direction
    would not do: it is the side that the bend's centre lies on.
    """
    if stage.turned is None:
        return 90.0
    way = walk(stage.unrolled)
    _, right, up = cross(way.axes[stage.turned], way.directions[stage.leg])
    return math.degrees(math.atan2(float(up), float(right)))
