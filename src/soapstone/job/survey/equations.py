"""The rows of a survey as equations in the coordinates of its points.

Each row's misfit is divided by its standard deviation, half its plus_minus, so that every misfit
should be a standard normal number. Tapes are distances; levels, plumbs and midpoints are linear.
"""

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.vectors import Array
from soapstone.job.survey.model import Halfway, Levelled, Plumbed, Survey, Taped

Indices: TypeAlias = npt.NDArray[np.intp]

SURE = 2.0
"""Standard deviations in a plus_minus: it is right 19 times of 20."""


DATUM = -1
"""The `row` of a claim about where a known point is."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What one reading claims: all of row `row`, the part of one point in it, or a known place."""

    row: int
    point: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """N equations in the coordinates of P points, whitened.

    Attributes
    ----------
    start, end, length, sigma
        (T,) points, distance and standard deviation in mm of each tape.
    linear, target
        (L, 3P) and (L,): `linear @ coordinates - target` is the misfit of the other rows.
    claims
        The directions in which N misfits would move, each (N, 1 to 3), if a reading were wrong.
    """

    start: Indices
    end: Indices
    length: Array
    sigma: Array
    linear: Array
    target: Array
    claims: dict[Claim, Array] = field(default_factory=dict)

    def misfits(self, places: Array) -> Array:
        """Misfits (..., N) of points at `places` (..., P, 3)."""
        steps = places[..., self.end, :] - places[..., self.start, :]
        taped = (np.sqrt((steps**2).sum(axis=-1)) - self.length) / self.sigma
        flat = places.reshape(*places.shape[:-2], 3 * places.shape[-2])
        return np.concatenate((taped, flat @ self.linear.T - self.target), axis=-1)

    def slopes(self, places: Array, free: Indices) -> Array:
        """Derivatives (..., N, 3F) of the misfits by the coordinates of the F points `free`."""
        steps = places[..., self.end, :] - places[..., self.start, :]
        away = np.maximum(np.sqrt((steps**2).sum(axis=-1)), 1e-9) * self.sigma
        pull = steps / away[..., None]
        count, lead = len(self.length), places.shape[:-2]
        pulls = np.zeros((*lead, count, *places.shape[-2:]))
        row = np.arange(count)
        pulls[..., row, self.start, :] = -pull
        pulls[..., row, self.end, :] = pull
        taped = pulls[..., free, :].reshape(*lead, count, 3 * len(free))
        by_point = self.linear.reshape(len(self.linear), *places.shape[-2:])[:, free]
        others = by_point.reshape(len(self.linear), 3 * len(free))
        repeated = np.broadcast_to(others, (*lead, *others.shape))
        return np.concatenate((taped, repeated), axis=-2)


def equations(
    data: Survey,
    dropped: Collection[Claim] = (),
    among: Collection[str] | None = None,
    about: str | None = None,
) -> Equations:
    """Set up the equations of a survey.

    Parameters
    ----------
    data
        The survey; points are numbered as in its `names`.
    dropped
        Readings to leave out.
    among
        Only what ties these points together; None for all.
    about
        Only rows that tie this point.
    """
    number = {name: place for place, name in enumerate(data.names)}
    tapes: list[tuple[int, int, float, float]] = []
    taped_claims: list[Claim] = []
    blocks: list[Array] = []
    linear_claims: list[tuple[Claim, int, Array]] = []
    height = 0
    for place, row in enumerate(data.rows):
        if about is not None and about not in row.points:
            continue
        if Claim(place) in dropped:
            continue
        points = [
            name
            for name in row.points
            if (among is None or name in among) and Claim(place, name) not in dropped
        ]
        least = 2 if isinstance(row, Levelled | Plumbed) else len(row.points)
        if len(points) < least or (about is not None and about not in points):
            continue
        sigma = data.allowance(row) / SURE
        if isinstance(row, Taped):
            tapes.append((number[row.start], number[row.end], row.length, sigma))
            taped_claims.append(Claim(place))
            continue
        block, parts = _linear_block(row, place, points, sigma, number)
        blocks.append(block)
        linear_claims.extend((claim, height, part) for claim, part in parts)
        height += len(block)
    return _assembled(tapes, taped_claims, blocks, linear_claims, len(number))


def _assembled(
    tapes: list[tuple[int, int, float, float]],
    taped_claims: list[Claim],
    blocks: list[Array],
    linear_claims: list[tuple[Claim, int, Array]],
    points: int,
) -> Equations:
    linear = np.concatenate(blocks) if blocks else np.zeros((0, 3 * points))
    count, total = len(tapes), len(tapes) + len(linear)
    alone = np.eye(total)
    claims = {claim: alone[:, i : i + 1] for i, claim in enumerate(taped_claims)}
    for claim, height, part in linear_claims:
        column = np.zeros((total, part.shape[1]))
        column[count + height : count + height + len(part)] = part
        claims[claim] = column
    table = np.array(tapes, dtype=float).reshape(-1, 4)
    return Equations(
        start=table[:, 0].astype(np.intp),
        end=table[:, 1].astype(np.intp),
        length=table[:, 2],
        sigma=table[:, 3],
        linear=linear,
        target=np.zeros(len(linear)),
        claims=claims,
    )


def _linear_block(
    row: Levelled | Plumbed | Halfway,
    place: int,
    points: list[str],
    sigma: float,
    number: dict[str, int],
) -> tuple[Array, list[tuple[Claim, Array]]]:
    """Whitened equations of one row, and how they move if one of its readings is wrong."""
    if isinstance(row, Halfway):
        weights = np.array([1.0, -0.5, -0.5]) / sigma
        block = _spread(weights[None], points, (0, 1, 2), number)
        return block, [(Claim(place), np.eye(3))]
    axes = (2,) if isinstance(row, Levelled) else (0, 1)
    # any two points differ by sigma, so each lies sigma / sqrt 2 off their common height
    weights = _contrasts(len(points)) * np.sqrt(2) / sigma
    block = _spread(weights, points, axes, number)
    rows = len(weights)
    parts = []
    for i, name in enumerate(points):
        moved = np.zeros((len(block), len(axes)))
        for k in range(len(axes)):
            moved[k * rows : (k + 1) * rows, k] = weights[:, i]
        parts.append((Claim(place, name), moved))
    if len(points) == 2:
        parts = [(Claim(place), parts[0][1])]
    return block, parts


def _spread(
    weights: Array, points: list[str], axes: tuple[int, ...], number: dict[str, int]
) -> Array:
    """Equations of `weights` (R, points) in each of `axes`, over all coordinates."""
    block = np.zeros((len(axes), len(weights), len(number), 3))
    for k, axis in enumerate(axes):
        for i, name in enumerate(points):
            block[k, :, number[name], axis] += weights[:, i]
    return block.reshape(len(axes) * len(weights), -1)


def _contrasts(count: int) -> Array:
    """Orthonormal rows (count - 1, count) that sum to 0 (Helmert): differences without the mean."""
    rows = np.tril(np.ones((count, count)))[:-1]
    ks = np.arange(1, count)
    rows[ks - 1, ks] = -ks
    result: Array = rows / np.sqrt(ks * (ks + 1))[:, None]
    return result
