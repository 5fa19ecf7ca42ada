"""Small drawings of a made tube: where the tape lies, which bend, how high over the floor."""

from collections.abc import Sequence
from html import escape

import numpy as np

from soapstone.check.inspect.asked import AskedRow
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import arc_points, sample, walk
from soapstone.geometry.vectors import Array, dot, unit
from soapstone.plan.model import TubePlan

SMALL, LARGE = (132.0, 76.0), (520.0, 230.0)
"""Sizes in pixels of the drawing beside a reading, and of that with all places named."""

RIM = 13.0
"""Pixels left free all round."""


def row_svg(plan: TubePlan, row: AskedRow) -> str:
    """Draw where one reading is taken."""
    body = sample(plan.shape, 15.0)
    up = np.array(row.up) if row.kind == "height" else None
    at = Paper(body, SMALL, up)
    parts = [_tube(at(body), "tube")]
    if row.kind == "bend":
        x, y = at(_middles(plan.shape)[[row.bend - 1]])[0]
        parts.append(_dot(x, y, 7))
    elif row.kind == "tape":
        parts += _taped(at(np.array(row.ends)))
    else:
        parts += _over_floor(plan, row, at)
    return _svg(parts, SMALL)


def places_svg(plan: TubePlan) -> str:
    """Draw the whole tube with its ends and bends named."""
    body = sample(plan.shape, 10.0)
    at = Paper(body, LARGE, None, 30.0)
    parts = [_tube(at(body), "tube thick")]
    for n, (x, y) in enumerate(at(_middles(plan.shape)), start=1):
        parts.append(_dot(x, y, 13) + _word(x, y + 5, str(n), "no"))
    for letter, (x, y) in zip("AB", at(body[[0, -1]]), strict=True):
        parts.append(f'<circle class="end" cx="{x:.1f}" cy="{y:.1f}" r="13"/>')
        parts.append(_word(x, y + 5, letter, ""))
    return _svg(parts, LARGE, f"{plan.name}: ends A and B, bends by their numbers")


class Paper:
    """Puts points (n, 3) on paper (n, 2), the tube seen as broad as it can be."""

    def __init__(
        self, body: Array, size: tuple[float, float], up: Array | None, rim: float = RIM
    ) -> None:
        middle = body.mean(axis=0)
        away = body - middle
        if up is None:
            right, above = np.linalg.svd(away, full_matrices=False)[2][:2]
        else:
            above = unit(up)
            flat = away - dot(away, above)[:, None] * above
            right = np.linalg.svd(flat, full_matrices=False)[2][0]
        if right @ (body[-1] - body[0]) < 0:
            right = -right
        self.axes = np.stack((right, -above))
        flat_body = body @ self.axes.T
        low, high = flat_body.min(axis=0), flat_body.max(axis=0)
        room = np.array(size) - 2 * rim
        self.scale = float(np.min(room / np.maximum(high - low, 1e-6)))
        self.shift = np.array(size) / 2 - self.scale * (low + high) / 2

    def __call__(self, points: Array) -> Array:
        """Give places on paper, in pixels."""
        result: Array = points @ self.axes.T * self.scale + self.shift
        return result


def _middles(shape: Centreline) -> Array:
    """The middle of every bend's arc (n, 3)."""
    way = walk(shape)
    halves = np.radians(shape.angles) / 2
    found = [arc_points(way, bend, halves[[bend]])[0] for bend in range(len(halves))]
    return np.array(found).reshape(-1, 3)


def _taped(ends: Array) -> list[str]:
    (ax, ay), (bx, by) = ends
    line = f'<line class="tape" x1="{ax:.1f}" y1="{ay:.1f}" x2="{bx:.1f}" y2="{by:.1f}"/>'
    return [line, _dot(ax, ay, 4), _dot(bx, by, 4)]


def _over_floor(plan: TubePlan, row: AskedRow, at: Paper) -> list[str]:
    """Draw the floor below the two legs that lie on it, and the height over it."""
    flat = at(walk(plan.shape).nodes[[2 * row.bend - 1]])[0][1]
    floor = flat + max(plan.setup.od / 2 * at.scale, 3.0)
    x, y = at(np.array(row.ends))[0]
    return [
        f'<line class="floor" x1="2" x2="{SMALL[0] - 2}" y1="{floor:.1f}" y2="{floor:.1f}"/>',
        f'<line class="tape" x1="{x:.1f}" x2="{x:.1f}" y1="{floor:.1f}" y2="{y:.1f}"/>',
        _dot(x, y, 4),
    ]


def _tube(points: Sequence[Sequence[float]] | Array, kind: str) -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline class="{kind}" points="{path}"/>'


def _dot(x: float, y: float, radius: float) -> str:
    return f'<circle class="disc" cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}"/>'


def _word(x: float, y: float, text: str, kind: str) -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}">{escape(text)}</text>'


def _svg(parts: Sequence[str], size: tuple[float, float], said: str = "") -> str:
    """Give the drawing; what stands beside it in words says nothing to a reader of the screen."""
    name = f'role="img" aria-label="{escape(said)}"' if said else 'aria-hidden="true"'
    view = f'viewBox="0 0 {size[0]:g} {size[1]:g}"'
    return f'<svg class="taped" {view} {name}>{"".join(parts)}</svg>'
