"""Keep-outs on the page, behind the tubes and before them, with all that the moving ones sweep."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soapstone.fit.clearance import KeepOut
from soapstone.fit.motion import Hinge, swung
from soapstone.geometry.solids import HalfSpace, Rod
from soapstone.geometry.vectors import Array, unit
from soapstone.sheets import palette
from soapstone.sheets.bodies import Body, body_of, hull, outline
from soapstone.sheets.frame import Frame
from soapstone.sheets.projection import FRONT, RIGHT, TOP
from soapstone.sheets.silhouette import CELL, Cover, area
from soapstone.sheets.sketch import Box, Mark, Pen, Point, Sketch, line, polygon
from soapstone.sheets.swing_view import Angles, at_ends, at_rest, on_the_way, stretches

VIEWS = (FRONT, TOP, RIGHT)
"""Where a room is seen from."""

PIECES = 100
"""Pieces of the way that what a keep-out sweeps is put together from; fewer when many move."""

MOST_POINTS = 1_000_000
"""Points of a mesh, over all its poses, that are looked at in one view."""

SOME = 1000

OUTSIDE = 4.0
"""Page mm round a picture within which outlines are still true; the picture itself is clipped."""

_LINE = Pen(0.3, palette.STONE)
_ENDS = Pen(0.22, palette.STONE, (1.3, 0.9))
_SWEPT = Pen(0.15, palette.PALE)
_HATCH = Pen(0.18, palette.STONE)
_EDGE_ON = 0.05

_TICK, _PITCH = 2.2, 2.4
"""Page mm: length of a half-space's hatching, and from one stroke to the next."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One keep-out on the page: all it sweeps, itself, both under the tubes, and what goes over.

    `loops` (m, 2) are its outlines: at rest first, then at the ends of its travel.
    """

    swept: Sketch
    still: Sketch
    over: Sketch
    loops: tuple[Array, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """What the pictures show of space, in mm: a box from `low` to `high`, and what is in it.

    For each keep-out its body, None for a half-space, and some points (n, 3) of it at rest.
    """

    low: Array
    high: Array
    keepouts: tuple[KeepOut, ...]
    bodies: tuple[Body | None, ...]
    at_rest: tuple[Array, ...]

    @property
    def moving(self) -> int:
        """Count the keep-outs that move."""
        return sum(bool(keepout.hinges) for keepout in self.keepouts)


def scene_of(keepouts: Sequence[KeepOut], low: Array, high: Array, scale: float) -> Scene:
    """Make a scene for pictures at a scale. Tubes of the job that stand still are left out."""
    kept = tuple(k for k in keepouts if k.hinges or not isinstance(k.solid, Rod))
    wide = (high - low).max()
    bodies = []
    for keepout in kept:
        reach = np.inf if keepout.hinges else wide / 4
        bodies.append(body_of(keepout.solid, CELL / scale, low - reach, high + reach))
    some = [
        swung(_thinned(body), keepout.hinges, at_rest(keepout.hinges))
        for keepout, body in zip(kept, bodies, strict=True)
    ]
    return Scene(low, high, kept, tuple(bodies), tuple(some))


def _thinned(body: Body | None) -> Array:
    """Give at most about `SOME` points of a body; none of a half-space."""
    if body is None:
        return np.empty((0, 3))
    return body.points[:: max(1, len(body.points) // SOME)]


def show(scene: Scene, i: int, frame: Frame, page: Box, nearness: float) -> Shown:
    """Draw one keep-out. It is also drawn over the tubes where it is nearer than `nearness` mm."""
    keepout, body = scene.keepouts[i], scene.bodies[i]
    if isinstance(keepout.solid, HalfSpace):
        return _plane(keepout.solid, keepout.hinges, scene, frame, page)
    if body is None or not len(body.points):
        return Shown((), (), (), ())
    rest = at_rest(keepout.hinges)
    swept: list[Mark] = []
    if keepout.hinges:
        most = max(12, PIECES // scene.moving)
        around = _swept(body, keepout.hinges, most, frame, page)
        swept += [polygon(_points(p), _ground(p, palette.HAZE), _SWEPT) for p in around]
    still = _loops(body, keepout.hinges, rest, frame, page)
    solid: list[Mark] = [polygon(_points(p), _ground(p, palette.MIST), _LINE) for p in still]
    ends = [
        loop
        for angles in at_ends(keepout.hinges)
        for loop in _loops(body, keepout.hinges, angles, frame, page)
    ]
    solid += [_closed_line(loop, _ENDS) for loop in ends]
    before = float(scene.at_rest[i].mean(axis=0) @ frame.view.toward) > nearness
    over = [_closed_line(loop, _LINE) for loop in still] if before else []
    return Shown(tuple(swept), tuple(solid), tuple(over), (*still, *ends))


def _swept(
    body: Body, hinges: tuple[Hinge, ...], most: int, frame: Frame, page: Box
) -> list[Array]:
    """Outlines of all that a body covers on its way, put together from at most `most` pieces."""
    cover = Cover(page.grown(OUTSIDE), max(CELL, body.spacing * frame.scale))
    if body.spacing:
        for angles in on_the_way(hinges, min(most, max(8, MOST_POINTS // len(body.points)))):
            cover.add_points(_seen(body, hinges, angles, frame))
        return cover.loops()
    for corners in stretches(hinges, most):
        # a convex body covers, on a short way, about the hull of its two ends
        seen = [_seen(body, hinges, angles, frame) for angles in corners]
        cover.add_convex(outline(body, np.concatenate(seen), frame.scale))
    return cover.loops()


def _loops(
    body: Body, hinges: tuple[Hinge, ...], angles: Angles, frame: Frame, page: Box
) -> list[Array]:
    """Outlines of a body at one place."""
    seen = _seen(body, hinges, angles, frame)
    if body.spacing:
        cover = Cover(page.grown(OUTSIDE), max(CELL, body.spacing * frame.scale))
        cover.add_points(seen)
        return cover.loops()
    loop = clipped(outline(body, seen, frame.scale), page.grown(OUTSIDE))
    return [loop] if len(loop) > 2 else []


def _seen(body: Body, hinges: tuple[Hinge, ...], angles: Angles, frame: Frame) -> Array:
    """Put a body's points (n, 3) on the page (n, 2), its hinges at `angles` degrees."""
    # swinging and looking together are one linear map: its constant, then what x, y and z add
    ends = frame.view.project(swung(np.concatenate([np.zeros((1, 3)), np.eye(3)]), hinges, angles))
    flat = ends[:, :2] * frame.scale
    # einsum, not a matrix product: starting threads for three columns takes longer than the work
    result: Array = np.einsum("ni,ij->nj", body.points, flat[1:] - flat[0])
    result += flat[0] + np.array([frame.dx, frame.dy])
    return result


def clipped(polygon_: Array, box: Box) -> Array:
    """Cut a convex polygon (m, 2) to a box (Sutherland and Hodgman's way: side after side)."""
    sides = ((0, 1, box.right), (0, -1, -box.left), (1, 1, box.top), (1, -1, -box.bottom))
    for axis, sign, most in sides:
        kept: list[Array] = []
        for here, ahead in zip(polygon_, np.roll(polygon_, -1, axis=0), strict=True):
            out, out_ahead = sign * here[axis] - most, sign * ahead[axis] - most
            if out <= 0:
                kept.append(here)
            if (out < 0 < out_ahead) or (out_ahead < 0 < out):
                kept.append(here + (ahead - here) * (out / (out - out_ahead)))
        polygon_ = np.array(kept).reshape(-1, 2)
    return polygon_


def _plane(
    plane: HalfSpace, hinges: tuple[Hinge, ...], scene: Scene, frame: Frame, page: Box
) -> Shown:
    """Draw a half-space: a hatched line in the views that see it on edge.

    One that no view sees so is drawn where it cuts the scene.
    """
    edge_on = any(abs(unit(np.array(plane.normal)) @ view.toward) < _EDGE_ON for view in VIEWS)
    at, normal = np.array(plane.at, float), unit(np.array(plane.normal, float))
    marks: list[Mark] = []
    loops: list[Array] = []
    for n, angles in enumerate((at_rest(hinges), *at_ends(hinges))):
        ends = swung(np.stack([at, at + normal]), hinges, angles)
        edge = _section(ends[0], ends[1] - ends[0], scene)
        if len(edge) < 2:
            continue
        solid = frame.view.project(ends[0] - ends[1])
        seen = np.array([frame.at(point) for point in edge])
        pen = _ENDS if n else _LINE
        if abs(solid[2]) < _EDGE_ON:
            marks += _hatched(seen, solid[:2], replace(pen, width=0.4), page)
            loops.append(np.stack([seen.min(axis=0), seen.max(axis=0)]))
        elif not edge_on:
            loops.append(hull(seen))
            marks.append(_closed_line(loops[-1], replace(pen, colour=palette.PALE)))
    return Shown((), tuple(marks), (), tuple(loops))


def _section(at: Array, normal: Array, scene: Scene) -> Array:
    """Points (m, 3) where a plane cuts the edges of the scene's box."""
    signs = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    corners = scene.low + signs * (scene.high - scene.low)
    heights = (corners - at) @ normal
    found = []
    for i in range(8):
        for j in range(i + 1, 8):
            if np.abs(signs[i] - signs[j]).sum() == 1 and heights[i] * heights[j] <= 0:
                gone = heights[i] - heights[j]
                part = heights[i] / gone if gone else 0.0
                found.append(corners[i] + part * (corners[j] - corners[i]))
    return np.array(found).reshape(-1, 3)


def _hatched(seen: Array, into: Array, pen: Pen, page: Box) -> Sketch:
    """Draw a plane on edge, through points `seen` (n, 2), hatched toward `into`."""
    into = into / np.hypot(*into)
    along = np.array([-into[1], into[0]])
    places = (seen - seen[0]) @ along
    reach = page.width + page.height
    low, high = max(places.min(), -reach), min(places.max(), reach)
    start = seen[0] + low * along
    marks: list[Mark] = [line(_points(np.array([start, seen[0] + high * along])), pen)]
    stroke = (into - along) * (_TICK / 2**0.5)
    for step in np.arange(_PITCH / 2, high - low, _PITCH):
        foot = start + step * along
        marks.append(line(_points(np.array([foot, foot + stroke])), _HATCH))
    return tuple(marks)


def _ground(loop: Array, colour: str) -> str:
    """Fill of a loop: paper where it goes clockwise, round a hole."""
    return colour if area(loop) > 0 else palette.PAPER


def _closed_line(loop: Array, pen: Pen) -> Mark:
    return polygon(_points(loop), None, pen)


def _points(loop: Array) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in loop)
