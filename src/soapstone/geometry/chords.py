"""Tubes as chains of chords, and how near two such chains come: a distance on the safe side."""

from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.geometry.vectors import Array, dot

COARSE = 15.0
"""Degrees of bend to a chord, unless another is asked for."""


@dataclass(frozen=True, slots=True)
class Chords:
    """A centreline as chords: `starts`, `ends` (n, 3) in mm.

    `around` (n,): no point of the tube's surface is further than that from its chord: the tube's
    radius and how far the arc bulges beyond the chord.
    """

    starts: Array
    ends: Array
    around: Array


def chords_of(line: Centreline, od: float, step: float = COARSE) -> Chords:
    """Cut a tube's centreline into chords, arcs every `step` degrees at most."""
    way = walk(line)
    places, bulges = [way.nodes[:1]], []
    for i, (angle, radius) in enumerate(zip(line.angles, line.radii, strict=True)):
        parts = max(1, int(np.ceil(angle / step)))
        turned = np.radians(angle) * np.arange(parts + 1)[:, None] / parts
        spoke, onward = way.nodes[2 * i + 1] - way.centres[i], radius * way.directions[i]
        places.append(way.centres[i] + np.cos(turned) * spoke + np.sin(turned) * onward)
        bulge = radius * (1 - np.cos(np.radians(angle) / parts / 2))
        bulges += [0.0, *([bulge] * parts)]
    places.append(way.nodes[-1:])
    at = np.concatenate(places)
    return Chords(at[:-1], at[1:], od / 2 + np.array([*bulges, 0.0]))


def moved_chords(chords: Chords, turn: Array, shift: Array) -> Chords:
    """Turn chords by a matrix (3, 3) about the origin, then shift them by (3,) mm."""
    return Chords(chords.starts @ turn.T + shift, chords.ends @ turn.T + shift, chords.around)


def joined_chords(parts: list[Chords]) -> Chords:
    """Bring the chords of several tubes together."""
    return Chords(
        np.concatenate([part.starts for part in parts]),
        np.concatenate([part.ends for part in parts]),
        np.concatenate([part.around for part in parts]),
    )


def least_gap(one: Chords, starts: Array, ends: Array, around: Array) -> Array:
    """Give a gap (k,) in mm that the surfaces of tubes surely keep; negative where they may clash.

    The other tube stands in k poses: `starts`, `ends` (k, m, 3), `around` (m,). Distance of two
    segments in closed form: the nearest of the four ends to the other segment, or of the two lines
    where their nearest points lie within both.
    """
    a, b = one.starts[None, :, None], one.ends[None, :, None]
    c, d = starts[:, None], ends[:, None]
    apart = np.minimum(
        np.minimum(_to_segment(a, c, d), _to_segment(b, c, d)),
        np.minimum(_to_segment(c, a, b), _to_segment(d, a, b)),
    )
    apart = np.sqrt(np.minimum(apart, _of_lines(a, b, c, d)))
    gaps: Array = (apart - one.around[None, :, None] - around).min(axis=(1, 2))
    return gaps


def _to_segment(point: Array, start: Array, end: Array) -> Array:
    """Squared distance of points from segments; one of no length is a point."""
    along = end - start
    share = dot(point - start, along) / np.maximum(dot(along, along), 1e-30)
    off = point - start - np.clip(share, 0, 1)[..., None] * along
    return dot(off, off)


def _of_lines(a: Array, b: Array, c: Array, d: Array) -> Array:
    """Squared distance of lines ab and cd; infinite where they are nearest beyond an end."""
    u, v, w = b - a, d - c, a - c
    uu, uv, vv, uw, vw = dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)
    det = uu * vv - uv * uv
    skew = det > 1e-9 * uu * vv
    s = np.where(skew, uv * vw - vv * uw, -1.0) / np.where(skew, det, 1.0)
    t = np.where(skew, uu * vw - uv * uw, -1.0) / np.where(skew, det, 1.0)
    off = w + s[..., None] * u - t[..., None] * v
    within = (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    return np.where(within, dot(off, off), np.inf)
