"""Least distance from a line of straights and arcs to a solid that stands or swings, certified.

`pack` brings a solid into arrays once (a mesh gets its tree then); `line_pieces` does so with a
line; `least_distance` searches. All of it is about the line itself, without thickness.

For many points against many solids, as in a search for a route, `field_of` makes a
`distance_field.Field`, and compiled code calls `distance_field.field_distance(field, i, x, y, z,
within)`: signed distance to solid i in its nearest pose, its gradient, and the pose. A swing is
given to it as poses at chosen angles: between two of them, D rad apart, a point at distance rho
from the hinge's axis is at most rho D^2 / 8 nearer to a convex solid than in the nearer pose's
straight line, and rho D / 2 nearer than in the nearer pose.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import inf
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from soapstone.geometry.centreline import Centreline, vec
from soapstone.geometry.chain import walk
from soapstone.geometry.mesh_shells import OPEN, shells
from soapstone.geometry.solids import (
    Ball,
    Box,
    Cylinder,
    HalfSpace,
    Mesh,
    Rod,
    Solid,
    turn_matrix,
)
from soapstone.geometry.vectors import Array, Vec3, any_perpendicular, cross, norm, turn, unit

if TYPE_CHECKING:
    from soapstone.geometry.bvh import Tree
    from soapstone.geometry.distance_cells import Pieces, Target
    from soapstone.geometry.distance_field import Field

TOLERANCE = 0.01
"""mm: how far apart the certificate's two bounds may be."""

LIMIT = 2e7
"""Distances worked out at most in one search, two seconds or so; then a coarser one is made."""

DEPTH_LIMIT = 6e7
"""Nodes of the tree looked at in the search for the depth inside a closed mesh; then its bounds are
as far apart as they are."""

COARSER = (1.0, 4.0, 100.0)
"""Times the tolerance: what is tried in turn when a search is too long."""

CHORD_ERROR = 0.002
"""mm: how far the chords that stand for a rod's arcs may be from them, outside or inside."""

NO_HINGES: Array = np.empty((0, 8))


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """A solid as arrays.

    Attributes
    ----------
    target
        What the compiled search takes.
    thickness
        mm to take off distances: a rod's radius, else 0.
    slack
        mm by which distances may be wrong either way: a rod's chords, else 0.
    closed
        Whether some of its triangles enclose a solid.
    depth
        How deep a point can be inside it at most, in mm; 0 with triangles.
    slabs
        Of a tree with closed surfaces, those of its nodes (see `bvh_slabs`).
    """

    target: "Target"
    thickness: float = 0.0
    slack: float = 0.0
    closed: bool = False
    depth: float = 0.0
    slabs: Array = field(default_factory=lambda: np.empty((0, 5)))


@dataclass(frozen=True, slots=True)
class Found:
    """The least signed distance is within `low`..`high` mm.

    `high` is the distance at `s` mm along the line with the hinges at `angles_rad`; `point` is the
    point of the line there, and `nearest` that of the solid's surface, in the solid's drawn pose.
    """

    low: float
    high: float
    s: float
    angles_rad: tuple[float, ...]
    point: Vec3
    nearest: Vec3


def pack(solid: Solid) -> Packed:
    """Bring a solid into arrays; a mesh of 200,000 triangles takes a fraction of a second."""
    from soapstone.geometry.bvh import tree_of
    from soapstone.geometry.distance_kernels import TRIANGLES

    if isinstance(solid, Mesh):
        return _pack_mesh(solid)
    if isinstance(solid, Rod):
        tree = tree_of(rod_segments(solid.line))
        target = _target(TRIANGLES, np.zeros(15), tree)
        return Packed(target, thickness=solid.diameter / 2, slack=CHORD_ERROR)
    kind, shape = _convex(solid)
    return Packed(_target(kind, shape, None), depth=_depth(solid))


@lru_cache(maxsize=16)
def _pack_mesh(mesh: Mesh) -> Packed:
    """Plant a mesh's tree once for all the tubes that keep clear of it."""
    from soapstone.geometry.bvh import tree_of
    from soapstone.geometry.bvh_slabs import slabs_of
    from soapstone.geometry.distance_kernels import TRIANGLES

    kinds = shells(mesh)
    tree = tree_of(mesh.triangles(), kinds)
    target = _target(TRIANGLES, np.zeros(15), tree)
    if not (kinds != OPEN).any():
        return Packed(target)
    return Packed(target, closed=True, slabs=slabs_of(tree.triangles, tree.links))


def _depth(solid: Box | Cylinder | Ball | HalfSpace) -> float:
    if isinstance(solid, Box):
        return min(solid.size) / 2
    if isinstance(solid, Cylinder):
        return min(solid.diameter, float(norm(np.subtract(solid.end, solid.start)))) / 2
    return solid.diameter / 2 if isinstance(solid, Ball) else inf


def _target(kind: int, shape: Array, tree: "Tree | None") -> "Target":
    from soapstone.geometry.distance_cells import Target

    if tree is None:
        return Target(kind, shape, np.empty((0, 10)), np.empty((0, 6)), np.empty((0, 2), np.int32))
    return Target(kind, shape, tree.triangles, tree.boxes, tree.links)


def _convex(solid: Box | Cylinder | Ball | HalfSpace) -> tuple[int, Array]:
    """Kind and row of a convex solid, as `distance_kernels` describes them."""
    from soapstone.geometry import distance_kernels as kinds

    if isinstance(solid, Box):
        axes = turn_matrix(solid.turn).T
        return kinds.BOX, np.concatenate([solid.at, axes.ravel(), np.array(solid.size) / 2])
    if isinstance(solid, Cylinder):
        start, end = np.array(solid.start), np.array(solid.end)
        sizes = (solid.diameter / 2, float(norm(end - start)) / 2, 0.0)
        axes = _axes_along(end - start)
        return kinds.CYLINDER, np.concatenate([(start + end) / 2, axes.ravel(), sizes])
    if isinstance(solid, Ball):
        sizes = (solid.diameter / 2, 0.0, 0.0)
        return kinds.BALL, np.concatenate([solid.at, np.eye(3).ravel(), sizes])
    axes = _axes_along(np.array(solid.normal))
    return kinds.HALFSPACE, np.concatenate([solid.at, axes.ravel(), np.zeros(3)])


def _axes_along(direction: Array) -> Array:
    """Rows of a right-handed frame whose third axis is along `direction`."""
    third = unit(np.asarray(direction, dtype=float))
    first = any_perpendicular(third)
    return np.stack([first, cross(third, first), third])


def rod_segments(line: Centreline) -> Array:
    """Triangles (n, 3, 3) without area that lie within `CHORD_ERROR` of a line."""
    way = walk(line)
    chains = []
    for i in range(len(line.legs)):
        chains.append(way.nodes[2 * i : 2 * i + 2])
        if i < len(line.angles):
            radius, angle_rad = line.radii[i], np.radians(line.angles[i])
            widest = 4 * np.sqrt(CHORD_ERROR / (radius + CHORD_ERROR))
            count = max(1, int(np.ceil(angle_rad / widest)))
            # as far outside the arc at the joints as inside it between them
            outward = 2 / (1 + np.cos(angle_rad / count / 2))
            spokes = turn(
                way.nodes[2 * i + 1] - way.centres[i],
                way.axes[i],
                np.linspace(0, angle_rad, count + 1),
            )
            chains.append(way.centres[i] + outward * spokes)
    starts = np.concatenate([chain[:-1] for chain in chains])
    ends = np.concatenate([chain[1:] for chain in chains])
    return np.stack([starts, ends, ends], axis=1)


def line_pieces(line: Centreline) -> "Pieces":
    """Bring a line into arrays; straights and arcs of no length are left out."""
    from soapstone.geometry.distance_cells import Pieces

    way = walk(line)
    rows, lengths = [], []
    for i, leg in enumerate(line.legs):
        rows.append([0.0, *way.nodes[2 * i], *way.directions[i], 0.0, 0.0, 0.0])
        lengths.append(leg)
        if i < len(line.angles):
            radius = line.radii[i]
            spoke = way.nodes[2 * i + 1] - way.centres[i]
            ahead = radius * way.directions[i]
            rows.append([1 / radius, *way.centres[i], *spoke, *ahead])
            lengths.append(radius * np.radians(line.angles[i]))
    kept = [i for i, length in enumerate(lengths) if length > 0] or [0]
    starts = np.concatenate([[0.0], np.cumsum([lengths[i] for i in kept])])
    return Pieces(np.array([rows[i] for i in kept], dtype=float), starts)


def polyline_pieces(points: Array) -> "Pieces":
    """Bring a line of straights from point to point (n + 1, 3) into arrays."""
    from soapstone.geometry.distance_cells import Pieces

    steps = np.diff(points, axis=0)
    lengths = norm(steps)
    if not len(steps) or not (lengths > 0).all():
        raise ValueError("a line goes through at least two points, no two in a row the same")
    rows = np.zeros((len(steps), 10))
    rows[:, 1:4], rows[:, 4:7] = points[:-1], steps / lengths[:, None]
    return Pieces(rows, np.concatenate([[0.0], np.cumsum(lengths)]))


def least_distance(
    pieces: "Pieces",
    packed: Packed,
    hinges: Array = NO_HINGES,
    tolerance: float = TOLERANCE,
    ceiling: float = inf,
) -> Found:
    """Least signed distance from a line to the surface of a solid over all angles of its hinges.

    Negative where the line is inside, by its depth; a mesh with free edges has no inside, and
    the least distance to it is 0.

    Parameters
    ----------
    hinges
        (k, 8), applied first to last: a point of each axis, its unit direction, the least and
        greatest angle in radians, right-handed.
    tolerance
        mm that the two bounds of the result may be apart.
    ceiling
        mm above which distances need not be told apart.

    Raises
    ------
    ValueError
        The tolerance is not above 0.
    """
    if not tolerance > 0:
        raise ValueError("a search for the least distance needs a tolerance above 0")
    from soapstone.geometry.distance_depth import deepest
    from soapstone.geometry.distance_hinges import fewer_hinges
    from soapstone.geometry.distance_search import search

    target = packed.target
    fewer = fewer_hinges(target, hinges)
    hinges = fewer.rows
    beyond = ceiling + packed.thickness + packed.slack  # the search is about a rod's centreline
    result = _patiently(
        lambda wide: search(pieces, target, hinges, wide, beyond, -packed.depth, LIMIT),
        tolerance,
        LIMIT,
    )
    if packed.closed and (result[0] <= 0 or _is_within(pieces, packed, hinges, result)):
        result = deepest(pieces, target, packed.slabs, hinges, tolerance, DEPTH_LIMIT, result)
    point, seen = _seen(pieces, hinges, result)
    step = _way_to(packed, seen)
    return Found(
        low=float(result[0]) - packed.thickness - packed.slack,
        high=float(result[1]) - packed.thickness + packed.slack,
        s=float(result[3]),
        angles_rad=fewer.all_angles(result[4:]),
        point=vec(point),
        nearest=vec(seen + step),
    )


def _patiently(search: Callable[[float], Array], tolerance: float, limit: float) -> Array:
    """Search to the tolerance, or to a coarser one when that takes more than `limit` steps."""
    low = -inf
    for times in COARSER:
        result = search(times * tolerance)
        low = result[0] = max(low, result[0])
        if result[2] <= limit or result[1] - low <= times * tolerance:
            break
    return result


def _seen(pieces: "Pieces", hinges: Array, result: Array) -> tuple[Array, Array]:
    """Point of the line that a result is about, in the world and as seen from the swung solid."""
    from soapstone.geometry.distance_cells import put_on_line, swing_back

    frame = np.empty((len(hinges) + 2, 3))
    put_on_line(pieces, float(result[3]), frame)
    point = frame[0].copy()
    swing_back(hinges, result[4:], frame, np.empty(len(hinges)))
    return point, frame[0]


def _is_within(pieces: "Pieces", packed: Packed, hinges: Array, result: Array) -> bool:
    """Whether a line that nowhere meets a closed mesh is inside it: then every point of it is."""
    from soapstone.geometry.bvh_rays import is_inside

    seen = _seen(pieces, hinges, result)[1]
    target = packed.target
    return bool(is_inside(target.triangles, target.boxes, target.links, *vec(seen)))


def _way_to(packed: Packed, seen: Array) -> Array:
    """Step from a point to the nearest point of a solid's surface."""
    from soapstone.geometry.bvh import nearest
    from soapstone.geometry.distance_kernels import TRIANGLES, solid_distance, triangle_distance

    target, (x, y, z) = packed.target, vec(seen)
    if target.kind == TRIANGLES:
        i = nearest(target.triangles, target.boxes, target.links, x, y, z, inf)[1]
        d, *gradient = triangle_distance(target.triangles, i, x, y, z)
        d -= packed.thickness
    else:
        d, *gradient = solid_distance(target.kind, target.shape, x, y, z)
    return -d * np.array(gradient)


def least_self_distance(
    pieces: "Pieces", apart: float, tolerance: float = TOLERANCE
) -> tuple[float, float, float, float]:
    """Least distance between points of a line at least `apart` mm from each other along it.

    Gives its two bounds, and the distances s and t along the line at which the greater bound is
    found; all infinite when the line is shorter than `apart`.
    """
    from soapstone.geometry import distance_pairs

    low, high, _, s, t = distance_pairs.least_self_distance(pieces, apart, tolerance, LIMIT)
    return float(low), float(high), float(s), float(t)


def _starts(counts: list[int]) -> npt.NDArray[np.int64]:
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)


def field_of(solids: Sequence[Packed], poses: Sequence[Array], angles: Sequence[Array]) -> "Field":
    """Join solids for `distance_field`.

    Parameters
    ----------
    poses
        Of each solid (m, 12): rows of a matrix A, then b, as in `distance_field.Field`.
    angles
        Of each solid (m, k): the angles in degrees of its k hinges in those poses, k at most 8.
    """
    from soapstone.geometry.distance_field import Field

    targets = [packed.target for packed in solids]
    padded = [np.pad(a, ((0, 0), (0, 8 - a.shape[1]))) for a in angles]
    return Field(
        kinds=np.array([t.kind for t in targets], dtype=np.int64),
        shapes=np.array([t.shape for t in targets]).reshape(-1, 15),
        thickness=np.array([packed.thickness for packed in solids], dtype=float),
        closed=np.array([packed.closed for packed in solids], dtype=np.bool_),
        triangle_from=_starts([len(t.triangles) for t in targets]),
        node_from=_starts([len(t.boxes) for t in targets]),
        triangles=np.concatenate([np.empty((0, 10)), *(t.triangles for t in targets)]),
        boxes=np.concatenate([np.empty((0, 6)), *(t.boxes for t in targets)]),
        links=np.concatenate([np.empty((0, 2), np.int32), *(t.links for t in targets)]),
        pose_from=_starts([len(p) for p in poses]),
        poses=np.concatenate([np.empty((0, 12)), *poses]),
        angles=np.concatenate([np.empty((0, 8)), *padded]),
    )
