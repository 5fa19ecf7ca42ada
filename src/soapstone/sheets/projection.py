"""Looking at space from afar: parallel projections onto the page."""

import math
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.vectors import Array, Vec3, cross


@dataclass(frozen=True, slots=True)
class View:
    """A parallel projection: unit vectors that run to the right and up on the page.

    `name` is what a fabricator calls it: "front", "top", "from the tail".
    """

    name: str
    right: Vec3
    up: Vec3

    @property
    def toward(self) -> Array:
        """Unit vector from the thing to the viewer."""
        return cross(np.array(self.right), np.array(self.up))

    def project(self, points: Array) -> Array:
        """Give (..., 3): x and y on the page, and how near to the viewer."""
        axes = np.array([self.right, self.up, tuple(self.toward)])
        result: Array = np.asarray(points, dtype=float) @ axes.T
        return result


def looking(name: str, azimuth: float, height: float) -> View:
    """Look at the world, z up on the page, from a bearing and a height in degrees.

    `azimuth` turns the viewer anticlockwise seen from above: 0 stands on -y looking along +y.
    """
    a, h = math.radians(azimuth), math.radians(height)
    right = (math.cos(a), math.sin(a), 0.0)
    back = (math.sin(a), -math.cos(a))
    up = (-back[0] * math.sin(h), -back[1] * math.sin(h), math.cos(h))
    return View(name, right, up)


FRONT = View("front", (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
TOP = View("top", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
RIGHT = View("right side", (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
CORNER = looking("seen from the front right corner", 35.0, 30.0)
ISOMETRIC = looking("isometric", 45.0, math.degrees(math.atan(math.sqrt(0.5))))
