"""A solid's faces as pieces of cylinders and tori: as the file says them, or fitted to points."""

import itertools
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from soapstone.exchange.step.fitting import fit_round
from soapstone.exchange.step.model import NEAR, Body, Piece, Surface
from soapstone.geometry.vectors import Array, cross, norm, unit

GRID = 7
"""Points each way that a patch of a free surface is sampled at."""

HALVED = 6
"""Times that a patch which is neither is cut in two."""

MOST_PATCHES = 2000
"""Patches of a face: one with more is no tube that a CAD program swept."""

Span: TypeAlias = tuple[float, float, float, float]
"""Where a patch lies on its surface: u from, u to, v from, v to."""


def body_of(name: str, solid: Any, *, closed: bool) -> Body:
    """Look at all faces of one of the kernel's solids."""
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    pieces: list[Piece] = []
    other = 0.0
    found = TopExp_Explorer(solid, TopAbs_FACE)
    while found.More():
        seen, rest = _face(TopoDS.Face(found.Current()))
        pieces += seen
        other += rest
        found.Next()
    return Body(name, tuple(pieces), other, closed)


def _face(face: Any) -> tuple[list[Piece], float]:
    """Give a face's round pieces, and the area of what is none."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType as Kind

    surface = BRepAdaptor_Surface(face, True)
    kind = surface.GetType()
    span = _span(surface)
    if span is None:
        return [], 0.0
    if kind in (Kind.GeomAbs_Cylinder, Kind.GeomAbs_Torus):
        known = _said(surface, kind == Kind.GeomAbs_Torus)
        points, normals = _sampled(surface, span, 3)
        outside = _outside(known, points[1, 1], normals[1, 1], _reversed(face))
        rim, _ = _edges(face, with_places=False)
        return [Piece(known, rim, points[1, 1], _area(face), outside)], 0.0
    if kind in (Kind.GeomAbs_Plane, Kind.GeomAbs_Cone, Kind.GeomAbs_Sphere):
        return [], _area(face)
    return _free(face, surface, span)


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
        return [], area
    patches, missed = [], 0.0
    for u in itertools.pairwise(us):
        for v in itertools.pairwise(vs):
            fitted, lost = _patches(surface, (*u, *v), 0)
            patches += fitted
            missed += lost
    whole = missed + sum(patch.size for patch in patches)
    if not whole > 0:
        return [], area
    rim, places = _edges(face, with_places=True)
    flipped = _reversed(face)
    pieces = [_piece(patch, span, rim, places, flipped, area / whole) for patch in patches]
    return pieces, area * missed / whole


@dataclass(frozen=True, slots=True)
class _Patch:
    """A patch of a free surface and what fits it; points and normals (GRID, GRID, 3)."""

    span: Span
    known: Surface
    worst: float
    points: Array
    normals: Array
    size: float


def _patches(surface: Any, span: Span, depth: int) -> tuple[list[_Patch], float]:
    """Fit a patch, or its halves along the tube; also gives the size of what fits nothing."""
    points, normals = _sampled(surface, span, GRID)
    size = _size(points)
    fitted = fit_round(points.reshape(-1, 3), normals.reshape(-1, 3))
    if fitted and fitted[1] < NEAR:
        return [_Patch(span, *fitted, points, normals, size)], 0.0
    if depth == HALVED or not size > 0:
        return [], size
    u0, u1, v0, v1 = span
    if _along_u(points, normals):
        halves = ((u0, (u0 + u1) / 2, v0, v1), ((u0 + u1) / 2, u1, v0, v1))
    else:
        halves = ((u0, u1, v0, (v0 + v1) / 2), (u0, u1, (v0 + v1) / 2, v1))
    found, lost = zip(*(_patches(surface, half, depth + 1) for half in halves), strict=True)
    return [*found[0], *found[1]], sum(lost)


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
    cuts = [side for side, is_cut, wanted in zip(sides, cut, across, strict=True) if is_cut and wanted]
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
    from OCP.gp import gp_Pnt, gp_Vec

    at, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    rows = []
    for u in np.linspace(span[0], span[1], count).tolist():
        for v in np.linspace(span[2], span[3], count).tolist():
            surface.D1(u, v, at, along_u, along_v)
            rows.append(
                (at.X(), at.Y(), at.Z(), along_u.X(), along_u.Y(), along_u.Z(),
                 along_v.X(), along_v.Y(), along_v.Z())
            )  # fmt: skip
    found = np.array(rows).reshape(count, count, 9)
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
        for at in map(curve.Value, steps):
            points.append((at.X(), at.Y(), at.Z()))
        if with_places:
            flat = BRepAdaptor_Curve2d(edge, face)
            for place in map(flat.Value, steps):
                places.append((place.X(), place.Y()))
    return np.array(points).reshape(-1, 3), np.array(places).reshape(-1, 2)
