"""Random tubes and keep-outs of every kind, invented."""

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.solids import Ball, Box, Cylinder, HalfSpace, Mesh, Rod, Solid, box_mesh

KINDS = ("box", "cylinder", "ball", "halfspace", "rod", "closed mesh", "open mesh")


def random_line(rng: np.random.Generator) -> Centreline:
    """A centreline of up to four bends."""
    n = int(rng.integers(0, 5))
    along, other = rng.normal(size=(2, 3))
    along /= np.linalg.norm(along)
    up = np.cross(along, other)
    up /= np.linalg.norm(up)
    return Centreline(
        start=vec(rng.uniform(-300, 300, 3)),
        along=vec(along),
        up=vec(up),
        legs=tuple(rng.uniform(20, 400, n + 1).tolist()),
        angles=tuple(rng.uniform(5, 150, n).tolist()),
        rotations=(0.0, *rng.uniform(-179, 180, max(n - 1, 0)).tolist())[:n],
        radii=tuple(rng.uniform(60, 160, n).tolist()),
    )


def random_box(rng: np.random.Generator) -> Box:
    """A box about the origin, thin or thick, turned anyhow."""
    places = rng.uniform(-600, 600, 3), rng.uniform(5, 400, 3), rng.uniform(-180, 180, 3)
    at, size, turn = (vec(place) for place in places)
    return Box(at, size, turn)


def random_convex(rng: np.random.Generator, kind: str) -> Solid:
    """A cylinder, ball or half-space about the origin."""
    at = rng.uniform(-600, 600, 3)
    if kind == "cylinder":
        return Cylinder(vec(at), vec(at + rng.uniform(-300, 300, 3)), float(rng.uniform(5, 300)))
    if kind == "ball":
        return Ball(vec(at), float(rng.uniform(5, 400)))
    normal = rng.normal(size=3)
    return HalfSpace(vec(-normal / np.linalg.norm(normal) * rng.uniform(100, 900)), vec(normal))


def random_solid(rng: np.random.Generator, kind: str) -> Solid:
    """A solid of one of the `KINDS`."""
    if kind == "box":
        return random_box(rng)
    if kind == "rod":
        return Rod(random_line(rng), float(rng.uniform(10, 60)))
    if "mesh" in kind:
        closed = box_mesh(random_box(rng))
        kept = len(closed.faces) if kind == "closed mesh" else int(rng.integers(1, 10))
        return Mesh(closed.vertices, closed.faces[:kept], closed.at, closed.turn)
    return random_convex(rng, kind)


def random_hinges(rng: np.random.Generator, count: int) -> tuple[Hinge, ...]:
    """Hinges about the origin; some of their axes lie along x, y or z."""
    hinges = []
    for _ in range(count):
        along = rng.normal(size=3) if rng.random() < 0.6 else np.eye(3)[rng.integers(3)]
        low, high = np.sort(rng.uniform(-90, 90, 2))
        through = vec(rng.uniform(-400, 400, 3))
        hinges.append(Hinge(through, vec(along), float(low), float(high)))
    return tuple(hinges)


def random_case(seed: int) -> tuple[Centreline, float, KeepOut]:
    """A tube, its outside diameter, and a keep-out: kinds and numbers of hinges in turn.

    What takes long to sample (meshes, rods) moves on one hinge at most, the rest on two.
    """
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    most = 2 if kind in {"box", "cylinder", "ball", "halfspace"} else 1
    hinges = min(seed // len(KINDS) % 3, most)
    line, od = random_line(rng), float(rng.uniform(8, 60))
    solid = random_solid(rng, kind)
    return line, od, KeepOut(kind, solid, 5.0, random_hinges(rng, hinges))
