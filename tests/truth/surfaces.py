"""Points on the surface of bent tubes, by rotation matrices: shares no code with soapstone."""

import numpy as np
from scipy.spatial.transform import Rotation


def surface(line, od, around=72, steps=60):
    """Points (n, 3) of a tube's outside: rings at both ends of every straight and along arcs."""
    place, going = np.array(line.start, float), np.array(line.along, float)
    axis = np.cross(going, np.array(line.up, float))
    angles = np.linspace(0, 2 * np.pi, around, endpoint=False)
    points = []

    def ring(at, along, side):
        other = np.cross(along, side)
        spokes = np.cos(angles)[:, None] * side + np.sin(angles)[:, None] * other
        points.append(at + od / 2 * spokes)

    ring(place, going, axis)
    for i, angle in enumerate(line.angles):
        place = place + line.legs[i] * going
        axis = Rotation.from_rotvec(np.radians(line.rotations[i]) * going).apply(axis)
        centre = place + line.radii[i] * np.cross(axis, going)
        for step in range(steps + 1):
            turn = Rotation.from_rotvec(np.radians(angle * step / steps) * axis)
            ring(centre + turn.apply(place - centre), turn.apply(going), axis)
        place, going = centre + turn.apply(place - centre), turn.apply(going)
    ring(place + line.legs[-1] * going, going, axis)
    return np.concatenate(points)
