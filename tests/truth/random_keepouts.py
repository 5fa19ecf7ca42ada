"""Random tubes and keep-outs of every kind, invented."""

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge
from soapstone.geometry.along import places_at
from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.measure import length
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    Faces,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
    box_mesh,
)
from soapstone.geometry.vectors import Array
from tests.geometry.meshes import lumpy_ball

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


def round_about(
    seed: int, triangles: int, most_hinges: int = 2
) -> tuple[Centreline, float, KeepOut]:
    """A tube inside a mesh that goes all round it: an egg or a hose, closed or open, in turn.

    Half of them swing so little that the tube need not touch; hinges go through the middle, or not.
    """
    rng = np.random.default_rng(seed)
    line = random_line(rng)
    places = places_at(line, np.linspace(0, length(line), 200))[0]
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    if seed % 2 == 0:
        vertices, faces = lumpy_ball(
            max(3, round(np.sqrt(triangles / 4))), 1.0, rng.uniform(0, 0.15)
        )
        vertices = vertices * (
            np.ptp(places, axis=0) * rng.uniform(0.6, 0.9) + rng.uniform(60, 150)
        )
        vertices += middle
    else:
        vertices, faces = hose(line, triangles, rng)
    name = "closed mesh" if seed // 2 % 2 == 0 else "open mesh"
    if name == "open mesh":
        faces = faces[: len(faces) - max(1, len(faces) // 20)]
    hinges = []
    for _ in range(int(rng.integers(0, most_hinges + 1))):
        through = middle + rng.uniform(-300, 300, 3) * rng.integers(0, 2)
        along = rng.normal(size=3) if rng.random() < 0.6 else np.eye(3)[rng.integers(3)]
        far = np.linalg.norm(vertices - through, axis=1).max()
        stop = rng.uniform(2, 60) if seed // 4 % 2 else np.degrees(rng.uniform(10, 40) / far)
        start = -float(stop * rng.uniform(0, 1))
        hinges.append(Hinge(vec(through), vec(along), start, float(stop)))
    return line, float(rng.uniform(8, 60)), KeepOut(name, Mesh(vertices, faces), 5, tuple(hinges))


def hose(line: Centreline, triangles: int, rng: np.random.Generator) -> tuple[Array, Faces]:
    """A closed, lumpy hose round a line."""
    around = max(3, round(np.sqrt(triangles / 8)))
    along = np.linspace(0, length(line), max(3, triangles // (2 * around)))
    places, ways = places_at(line, along)
    first = np.empty_like(ways)
    first[0] = np.cross(ways[0], np.eye(3)[np.argmin(abs(ways[0]))])
    for i in range(len(ways)):
        before = first[max(i - 1, 0)]
        carried = before - ways[i] * (before @ ways[i])
        first[i] = carried / np.linalg.norm(carried)
    phi = np.linspace(0, 2 * np.pi, around, endpoint=False)[None, :, None]
    lumps = np.sin(along / rng.uniform(10, 60))[:, None, None] * np.cos(rng.integers(1, 5) * phi)
    radius = rng.uniform(40, 58)
    spokes = np.cos(phi) * first[:, None] + np.sin(phi) * np.cross(ways, first)[:, None]
    rim = places[:, None] + radius * (1 + rng.uniform(0, 0.25) * lumps) * spokes
    caps = np.stack([places[0] - radius * ways[0], places[-1] + radius * ways[-1]])
    rows, turn = np.meshgrid(np.arange(len(along) - 1), np.arange(around), indexing="ij")
    a, b = (rows * around + turn).ravel(), (rows * around + (turn + 1) % around).ravel()
    k, last = np.arange(around), (len(along) - 1) * around
    after, tips = (k + 1) % around, len(along) * around + 0 * k
    faces = [
        np.stack([a, b, a + around], 1),
        np.stack([b, b + around, a + around], 1),
        np.stack([tips, after, k], 1),
        np.stack([tips + 1, last + k, last + after], 1),
    ]
    return np.concatenate([rim.reshape(-1, 3), caps]), np.concatenate(faces).astype(np.int64)
