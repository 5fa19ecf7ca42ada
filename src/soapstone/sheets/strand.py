"""A tube cut into short lengths and seen from a view: what painting and hiding work on."""

import math
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, turn
from soapstone.sheets.projection import View

FINEST = 7.5
"""Degrees of arc from one node to the next: a chord strays 0.2 % of the bend's radius."""


@dataclass(frozen=True, slots=True)
class Strand:
    """Nodes along a tube, A end to B end.

    Attributes
    ----------
    seen
        (m, 3): x and y on the page in mm, and nearness to the viewer, in page mm.
    along
        (m,): place along the centreline, in page mm.
    going
        (m, 3): direction of travel in the view's axes.
    parts
        (m - 1,): which part each length belongs to, even for legs, odd for bends.
    radius
        Half the outside diameter in page mm.
    """

    seen: Array
    along: Array
    going: Array
    parts: Array
    radius: float


def strand(line: Centreline, od: float, view: View, scale: float) -> Strand:
    """Cut a tube into lengths of at most 0.6 OD and `FINEST` degrees, and project it.

    `scale` is page mm for one mm.
    """
    way = walk(line)
    nodes, going, parts = [way.nodes[:1]], [way.directions[:1]], []
    for i, leg in enumerate(line.legs):
        count = max(1, math.ceil(leg / (0.6 * od)))
        fractions = np.linspace(0, 1, count + 1)[1:, None]
        nodes.append(way.nodes[2 * i] + fractions * (way.nodes[2 * i + 1] - way.nodes[2 * i]))
        going.append(np.repeat(way.directions[i : i + 1], count, axis=0))
        parts += [2 * i] * count
        if i < len(line.angles):
            angle_rad = math.radians(line.angles[i])
            finest = max(math.degrees(angle_rad) / FINEST, line.radii[i] * angle_rad / (0.6 * od))
            turned = np.linspace(0, angle_rad, max(2, math.ceil(finest)) + 1)[1:]
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            nodes.append(way.centres[i] + turn(spoke, way.axes[i], turned))
            going.append(turn(way.directions[i], way.axes[i], turned))
            parts += [2 * i + 1] * len(turned)
    points = np.concatenate(nodes)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return Strand(
        seen=view.project(points) * scale,
        along=along * scale,
        going=view.project(np.concatenate(going)),
        parts=np.array(parts),
        radius=od / 2 * scale,
    )
