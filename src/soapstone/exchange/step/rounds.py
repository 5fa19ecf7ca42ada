"""A solid's faces as pieces of cylinders and tori: as the file says them, or fitted to points."""

import itertools
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeAlias

import numpy as np

from soapstone.exchange.step.fitting import fit_round
from soapstone.exchange.step.model import NEAR, Body, Piece, Surface
from soapstone.exchange.step.spine import length_of, middle_of, rings, runs
from soapstone.geometry.vectors import Array, cross, norm, unit

GRID = 7
"""Points each way that a patch of a free surface is sampled at."""

STATIONS, RING = 600, 12
"""Places along a swept surface, and points round it, where its patches are neither."""

FARTHEST, MOST_AREA = 1e7, 1e12
"""mm and mm2: beyond is a damaged file."""

MOST_PATCHES = 400
"""Patches of a face: one with more is no tube that a CAD program swept."""

Span: TypeAlias = tuple[float, float, float, float]
"""Where a patch lies on its surface: u from, u to, v from, v to."""


def body_of(name: str, solid: Any, *, closed: bool) -> Body:
    """Look at all faces of one of the kernel's solids."""
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    pieces: list[Piece] = []
    other = free = 0.0
    found = TopExp_Explorer(solid, TopAbs_FACE)
    damaged = False
    while found.More():
        try:
            seen, rest, formless = _face(TopoDS.Face(found.Current()))
        except Exception:  # noqa: BLE001 - the kernel raises kinds of its own
            seen, rest, formless, damaged = [], 0.0, False, True
        if not all(map(_is_sound, seen)) or not 0 <= rest < MOST_AREA:
            seen, rest, damaged = [], 0.0, True
        pieces += seen
        other += rest
        free += rest if formless else 0.0
        found.Next()
    return Body(name, tuple(pieces), other, free, closed, damaged)


def _is_sound(piece: Piece) -> bool:
    """Whether a piece has numbers that a tube may have."""
    known = piece.surface
    sizes = (known.bend, known.radius, piece.area, piece.residual)
    places = np.concatenate([known.at, known.axis, piece.middle, piece.rim.ravel()])
    return bool(
        all(0 <= size < MOST_AREA for size in sizes)
        and (np.abs(places) < FARTHEST).all()
        and known.radius > 0
    )


def _face(face: Any) -> tuple[list[Piece], float, bool]:
    """Give a face's round pieces, the area of what is none, and whether that is a free surface."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType as Kind

    surface = BRepAdaptor_Surface(face, True)
    kind = surface.GetType()
    span = _span(surface)
    if span is None:
        return [], 0.0, False
    if kind in (Kind.GeomAbs_Cylinder, Kind.GeomAbs_Torus):
        known = _said(surface, kind == Kind.GeomAbs_Torus)
        points, normals = _sampled(surface, span, 3)
        outside = _outside(known, points[1, 1], normals[1, 1], _reversed(face))
        rim, _ = _edges(face, with_places=False)
        return [Piece(known, rim, points[1, 1], _area(face), outside)], 0.0, False
    if kind in (Kind.GeomAbs_Plane, Kind.GeomAbs_Cone, Kind.GeomAbs_Sphere):
        return [], _area(face), False
    return *_free(face, surface, span), True


def _span(surface: Any) -> Span | None:
    ends = (
        surface.FirstUParameter(),
        surface.LastUParameter(),
        surface.FirstVParameter(),
        surface.LastVParameter(),
    )
    return ends if all(abs(end) < 1e9 for end in ends) else None


def _said(surface: Any, ring: bool) -> Surface:
    """Read a cylinder or torus as the file says it."""
    shape = surface.Torus() if ring else surface.Cylinder()
    place, way = shape.Position().Location(), shape.Position().Direction()
    at = np.array([place.X(), place.Y(), place.Z()])
    axis = np.array([way.X(), way.Y(), way.Z()])
    if ring:
        return Surface(at, axis, shape.MajorRadius(), shape.MinorRadius())
    return Surface(at, axis, 0.0, shape.Radius())


def _free(face: Any, surface: Any, span: Span) -> tuple[list[Piece], float]:
    """Cut a free surface where its curvature jumps, and fit each patch."""
    us = _breaks(surface.NbUIntervals, surface.UIntervals, span[:2])
    vs = _breaks(surface.NbVIntervals, surface.VIntervals, span[2:])
    area = _area(face)
    if (len(us) - 1) * (len(vs) - 1) > MOST_PATCHES:
        return _swept(face, surface, span)
    spans = [(*u, *v) for u in itertools.pairwise(us) for v in itertools.pairwise(vs)]
    patches = list(map(partial(_patch, surface), spans))
    fitting = [patch for patch in patches if patch]
    if not fitting or len(fitting) < len(patches):
        return _swept(face, surface, span)
    whole = sum(patch.size for patch in fitting)
    rim, places = _edges(face, with_places=True)
    flipped = _reversed(face)
    return [_piece(one, span, rim, places, flipped, area / whole) for one in fitting], 0.0


def _swept(face: Any, surface: Any, span: Span) -> tuple[list[Piece], float]:
    """Make pieces of the straights and arcs that a free surface was swept along, if it was."""
    area = _area(face)
    points, normals = _sampled(surface, span, GRID)
    if not _along_u(points, normals):
        points, normals = _grid(surface, span, RING, STATIONS)
        points, normals = points.swapaxes(0, 1), normals.swapaxes(0, 1)
    else:
        points, normals = _grid(surface, span, STATIONS, RING)
    found = runs(points, normals)
    length = sum(map(length_of, found))
    if not length > 0:
        return [], area
    inward = points[0, 0] - (found[0].ends[0] if found else points[0, 0])
    outside = bool((inward @ normals[0, 0] > 0) != _reversed(face))
    return [
        Piece(
            run.surface,
            rings(run, RING),
            middle_of(run),
            area * length_of(run) / length,
            outside,
            max(run.residual, 1e-9),
        )
        for run in found
    ], 0.0


@dataclass(frozen=True, slots=True)
class _Patch:
    """A patch of a free surface and what fits it; points and normals (GRID, GRID, 3)."""

    span: Span
    known: Surface
    worst: float
    points: Array
    normals: Array
    size: float


def _patch(surface: Any, span: Span) -> _Patch | None:
    """Fit a patch; None when it is neither cylinder nor torus."""
    points, normals = _sampled(surface, span, GRID)
    fitted = fit_round(points.reshape(-1, 3), normals.reshape(-1, 3))
    if fitted is None or fitted[1] > NEAR:
        return None
    return _Patch(span, *fitted, points, normals, _size(points))


def _along_u(points: Array, normals: Array) -> bool:
    """Whether the tube runs along u: there normals turn less for the way made than round it."""
    turned = [norm(np.diff(normals, axis=axis)).sum() for axis in (0, 1)]
    gone = [norm(np.diff(points, axis=axis)).sum() for axis in (0, 1)]
    return bool(turned[0] * gone[1] < turned[1] * gone[0])


def _size(points: Array) -> float:
    """About the area of a patch: the parallelograms of its grid."""
    one, other = np.diff(points, axis=0)[:, :-1], np.diff(points, axis=1)[:-1]
    return float(norm(cross(one, other)).sum())


def _piece(
    patch: _Patch, span: Span, rim: Array, places: Array, flipped: bool, per_size: float
) -> Piece:
    """Make a piece of a patch: its rim is the face's where it ends there, else where it was cut."""
    u0, u1, v0, v1 = patch.span
    slack_u, slack_v = 1e-6 * (span[1] - span[0]), 1e-6 * (span[3] - span[2])
    inside = (
        (places[:, 0] >= u0 - slack_u)
        & (places[:, 0] <= u1 + slack_u)
        & (places[:, 1] >= v0 - slack_v)
        & (places[:, 1] <= v1 + slack_v)
    )
    at = patch.points
    cut = (u0 > span[0] + slack_u, u1 < span[1] - slack_u, v0 > span[2] + slack_v,
           v1 < span[3] - slack_v)  # fmt: skip
    along = _along_u(patch.points, patch.normals)
    sides = (at[0], at[-1], at[:, 0], at[:, -1])
    across = (along, along, not along, not along)
    cuts = [
        side for side, is_cut, wanted in zip(sides, cut, across, strict=True) if is_cut and wanted
    ]
    points = np.concatenate([rim[inside], *cuts])
    middle, normal = at[GRID // 2, GRID // 2], patch.normals[GRID // 2, GRID // 2]
    outside = _outside(patch.known, middle, normal, flipped)
    area = patch.size * per_size
    return Piece(patch.known, points, middle, area, outside, patch.worst)


def _breaks(count: Any, intervals: Any, ends: tuple[float, float]) -> list[float]:
    """Parameters where the surface's curvature jumps, its ends included."""
    from OCP.collections import Array1_double
    from OCP.GeomAbs import GeomAbs_Shape

    many = count(GeomAbs_Shape.GeomAbs_C2)
    if many > MOST_PATCHES:
        return list(np.linspace(*ends, MOST_PATCHES + 2))
    found = Array1_double(1, many + 1)
    intervals(found, GeomAbs_Shape.GeomAbs_C2)
    return [found.Value(i) for i in range(1, many + 2)]


def _sampled(surface: Any, span: Span, count: int) -> tuple[Array, Array]:
    """Points and unit normals (count, count, 3) on a grid over a patch, its borders included."""
    return _grid(surface, span, count, count)


def _grid(surface: Any, span: Span, many: int, count: int) -> tuple[Array, Array]:
    """Points and unit normals (many, count, 3) along u and v."""
    from OCP.gp import gp_Pnt, gp_Vec

    at, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    rows = []
    for u in np.linspace(span[0], span[1], many).tolist():
        for v in np.linspace(span[2], span[3], count).tolist():
            surface.D1(u, v, at, along_u, along_v)
            rows.append(
                (at.X(), at.Y(), at.Z(), along_u.X(), along_u.Y(), along_u.Z(),
                 along_v.X(), along_v.Y(), along_v.Z())
            )  # fmt: skip
    found = np.array(rows).reshape(many, count, 9)
    return found[..., :3], unit(cross(found[..., 3:6], found[..., 6:]))


def _outside(known: Surface, middle: Array, normal: Array, flipped: bool) -> bool:
    """Whether a face's metal lies toward the middle of its section."""
    from_axis = middle - known.at
    out = from_axis - (from_axis @ known.axis) * known.axis
    centre = known.at + (from_axis @ known.axis) * known.axis
    if known.bend:
        centre = known.at + known.bend * unit(out)
    return bool(((middle - centre) @ normal > 0) != flipped)


def _reversed(face: Any) -> bool:
    from OCP.TopAbs import TopAbs_REVERSED

    return bool(face.Orientation() == TopAbs_REVERSED)


def _area(face: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face, found)
    return abs(float(found.Mass()))


def _edges(face: Any, *, with_places: bool) -> tuple[Array, Array]:
    """Points (n, 3) along a face's edges, and with_places where they are on it, (n, 2)."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d
    from OCP.GeomAbs import GeomAbs_CurveType as Kind
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    points, places = [], []
    found = TopExp_Explorer(face, TopAbs_EDGE)
    while found.More():
        edge = TopoDS.Edge(found.Current())
        found.Next()
        if BRep_Tool.Degenerated_s(edge):
            continue
        curve = BRepAdaptor_Curve(edge)
        count = {Kind.GeomAbs_Line: 2, Kind.GeomAbs_Circle: 17}.get(curve.GetType(), 129)
        steps = np.linspace(curve.FirstParameter(), curve.LastParameter(), count).tolist()
        points += [(at.X(), at.Y(), at.Z()) for at in map(curve.Value, steps)]
        if with_places:
            flat = BRepAdaptor_Curve2d(edge, face)
            places += [(place.X(), place.Y()) for place in map(flat.Value, steps)]
    return np.array(points).reshape(-1, 3), np.array(places).reshape(-1, 2)
