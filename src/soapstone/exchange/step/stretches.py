"""Pieces on one cylinder or torus that touch, put together: a straight or a bend of a tube."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from soapstone.exchange.step.model import NEAR, Piece, Surface
from soapstone.geometry.vectors import Array, any_perpendicular, cross, norm, unit

SECTORS = 12
"""Parts of a turn in which the reach of a cut end is looked at: the points of a round edge, 17 to a
turn, leave none empty."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight or a bend, all round.

    Attributes
    ----------
    surface
        Its cylinder or torus.
    spoke
        For a bend, the unit direction from its centre that angles are counted from.
    low, high
        Where it starts and ends: mm along the axis from `surface.at`, or radians from the spoke.
    cut
        mm by which its edge at the low and at the high end is out of square.
    area, residual
        As of a piece.
    """

    surface: Surface
    spoke: Array
    low: float
    high: float
    cut: tuple[float, float]
    area: float
    residual: float

    @property
    def length(self) -> float:
        """Length along its centreline in mm."""
        return (self.high - self.low) * (self.surface.bend or 1.0)

    @property
    def around(self) -> float:
        """How much of the round there is, 1 for all of it."""
        whole = 2 * np.pi * self.surface.radius * self.length
        return self.area / whole if whole > 0 else 0.0

    @property
    def ring(self) -> bool:
        """Whether it closes on itself."""
        known = self.surface
        return bool(known.bend) and self.area > 0.999 * 4 * np.pi**2 * known.bend * known.radius

    def end(self, high: bool) -> tuple[Array, Array]:
        """Give the point where its centreline ends, and the unit direction out of it there."""
        known, at = self.surface, self.high if high else self.low
        sign = 1.0 if high else -1.0
        if not known.bend:
            return known.at + at * known.axis, sign * known.axis
        side = cross(known.axis, self.spoke)
        out = np.cos(at) * self.spoke + np.sin(at) * side
        return known.at + known.bend * out, sign * (np.cos(at) * side - np.sin(at) * self.spoke)


def same_line(a: Surface, b: Surface, slack: float) -> bool:
    """Whether the centrelines of two surfaces lie on one line or circle, within `slack` mm."""
    if bool(a.bend) != bool(b.bend):
        return False
    if a.bend:
        tilt = float(np.linalg.norm(cross(a.axis, b.axis))) * a.bend
        apart = float(np.linalg.norm(a.at - b.at))
        return max(tilt, apart, abs(a.bend - b.bend)) < slack
    # the fits of two short pieces of one straight may lean; a tenth of a degree tells no bend
    if float(np.linalg.norm(cross(a.axis, b.axis))) > 2e-3:
        return False
    between = b.at - a.at
    return float(np.linalg.norm(between - (between @ a.axis) * a.axis)) < slack


def put_together(pieces: Iterable[Piece]) -> list[Stretch]:
    """Join pieces of one radius on one line or circle that overlap or touch."""
    groups: list[list[Piece]] = []
    for piece in pieces:
        if not len(piece.rim):
            continue
        for group in groups:
            if _belongs(piece, group[0]):
                group.append(piece)
                break
        else:
            groups.append([piece])
    return [stretch for group in groups for stretch in _joined(group)]


def _belongs(piece: Piece, first: Piece) -> bool:
    slack = 2 * NEAR + 10 * (piece.residual + first.residual)
    if abs(piece.surface.radius - first.surface.radius) > slack:
        return False
    return same_line(_here(first.surface, piece), _here(piece.surface, piece), slack)


def _here(surface: Surface, piece: Piece) -> Surface:
    """Give a cylinder with its point beside a piece, where two axes are to be compared."""
    if surface.bend:
        return surface
    along = (piece.middle - surface.at) @ surface.axis
    return Surface(surface.at + along * surface.axis, surface.axis, 0.0, surface.radius)


def _joined(group: Sequence[Piece]) -> list[Stretch]:
    """Join the pieces of a line or circle where they touch; what lies apart stays apart."""
    best = min(group, key=lambda piece: (piece.residual, -piece.area))
    known = best.surface
    spoke = _spoke(known, best.middle)
    slack = 3 * NEAR / (known.bend or 1.0)
    spans = [_span(piece, known, spoke) for piece in group]
    left = sorted(zip(spans, group, strict=True), key=lambda one: one[0][0])
    runs: list[tuple[float, float, list[Piece]]] = []
    for (low, high), piece in left:
        if runs and low <= runs[-1][1] + slack:
            runs[-1] = (runs[-1][0], max(runs[-1][1], high), [*runs[-1][2], piece])
        else:
            runs.append((low, high, [piece]))
    if known.bend and len(runs) > 1 and runs[-1][1] - 2 * np.pi >= runs[0][0] - slack:
        low, high, last = runs.pop()
        first = runs[0]
        runs[0] = (low - 2 * np.pi, max(first[1], high - 2 * np.pi), [*last, *first[2]])
    return [_stretch(known, spoke, *run) for run in runs]


def _stretch(
    known: Surface, spoke: Array, low: float, high: float, pieces: Sequence[Piece]
) -> Stretch:
    rim = np.concatenate([piece.rim for piece in pieces])
    return Stretch(
        known,
        spoke,
        low,
        high,
        _out_of_square(known, spoke, rim, (low + high) / 2),
        sum(piece.area for piece in pieces),
        max(piece.residual for piece in pieces),
    )


def _spoke(known: Surface, middle: Array) -> Array:
    if not known.bend:
        return any_perpendicular(known.axis)
    out = middle - known.at
    return unit(out - (out @ known.axis) * known.axis)


def _span(piece: Piece, known: Surface, spoke: Array) -> tuple[float, float]:
    """Where a piece lies along its line, or round its circle: counted from its own middle."""
    if not known.bend:
        along = (piece.rim - known.at) @ known.axis
        return float(along.min()), float(along.max())
    own = _spoke(known, piece.middle)
    middle = float(_turned(own[None], known.axis, spoke)[0])
    turned = _turned(piece.rim - known.at, known.axis, own)
    return middle + float(turned.min()), middle + float(turned.max())


def _turned(out: Array, axis: Array, spoke: Array) -> Array:
    """Radians that directions (n, 3) are turned from a spoke about the axis, in (-pi, pi]."""
    side = cross(axis, spoke)
    angles: Array = np.arctan2(out @ side, out @ spoke)
    return angles


def _out_of_square(known: Surface, spoke: Array, rim: Array, middle: float) -> tuple[float, float]:
    """How far the edges at the two ends are from lying square across, in mm."""
    from_axis = rim - known.at
    if known.bend:
        along = _turned(from_axis, known.axis, spoke)
        along = middle + (along - middle + np.pi) % (2 * np.pi) - np.pi
        height = from_axis @ known.axis
        out = norm(from_axis - height[:, None] * known.axis) - known.bend
        around, scale = np.arctan2(height, out), known.bend
    else:
        along = from_axis @ known.axis
        around, scale = _turned(from_axis, known.axis, spoke), 1.0
    sector = np.floor((around + np.pi) / (2 * np.pi) * SECTORS).astype(int) % SECTORS
    lows, highs = np.full(SECTORS, np.inf), np.full(SECTORS, -np.inf)
    np.minimum.at(lows, sector, along)
    np.maximum.at(highs, sector, along)
    # a sector that only a seam passes says nothing of the far end
    lows, highs = lows[lows < middle], highs[highs > middle]
    return (
        float(np.ptp(lows)) * scale if len(lows) else 0.0,
        float(np.ptp(highs)) * scale if len(highs) else 0.0,
    )
