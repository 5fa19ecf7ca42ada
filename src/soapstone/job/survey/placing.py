"""Where the points may lie: placed one by one from those already placed, all branches kept.

A point taped from three others has two places, mirror images; every such branch is followed until
later rows tell which is right. Nothing is drawn by lot: the same survey gives the same places.
"""

from collections.abc import Collection, Iterable

import numpy as np

from soapstone.geometry.vectors import Array
from soapstone.job.survey.descent import NEARLY, descend, vote
from soapstone.job.survey.equations import DATUM, Claim, Equations, Indices, equations
from soapstone.job.survey.model import Levelled, Plumbed, Survey, Taped

BRANCHES = 32
"""Placings kept while points are added; the best ones by how well the rows fit."""

CLIP = 25.0
"""Squared misfit above which a row counts as wrong, however wrong it is."""

SOFTNESS = (300.0, 50.0, 10.0, 3.0)
"""Rounds of Cauchy's loss in standard deviations, from nearly least squares to nearly a vote."""

_SAME = 0.5  # mm; two placings nearer than this at every point are one


def clipped(equations: Equations, places: Array) -> Array:
    """Sum of squared misfits of placings (S, P, 3), each square at most `CLIP`."""
    result: Array = np.minimum(equations.misfits(places) ** 2, CLIP).sum(axis=-1)
    return result


def numbers(data: Survey, names: Iterable[str]) -> Indices:
    """Give the numbers of points."""
    order = {name: place for place, name in enumerate(data.names)}
    return np.array([order[name] for name in names], dtype=np.intp)


def known_points(data: Survey, dropped: Collection[Claim] = ()) -> tuple[str, ...]:
    """Give the names of the points of the datum that are where it says."""
    return tuple(name for name in data.datum if Claim(DATUM, name) not in dropped)


def sought_points(data: Survey, dropped: Collection[Claim] = ()) -> tuple[str, ...]:
    """Give the names of the points to be found."""
    known = set(known_points(data, dropped))
    return tuple(name for name in data.names if name not in known)


def groups(data: Survey, dropped: Collection[Claim] = ()) -> list[tuple[str, ...]]:
    """Part the points sought into groups with no row between them; each is solved by itself.

    A hint from one point toward another ties them too, as it chooses among places of both.
    """
    group_of: dict[str, tuple[str, ...]] = {name: (name,) for name in sought_points(data, dropped)}
    ties = [
        [point for point in row.points if Claim(place, point) not in dropped]
        for place, row in enumerate(data.rows)
        if Claim(place) not in dropped
    ]
    ties += [[side.point, side.toward] for side in data.sides if isinstance(side.toward, str)]
    for points in ties:
        tied = [point for point in points if point in group_of]
        joined = tuple(dict.fromkeys(name for point in tied for name in group_of[point]))
        group_of.update(dict.fromkeys(joined, joined))
    return list(dict.fromkeys(group_of.values()))


def nowhere(data: Survey) -> Array:
    """Give a placing (P, 3) with the datum where it is and all other points at the origin."""
    places = np.zeros((len(data.names), 3))
    places[: len(data.datum)] = np.array(list(data.datum.values()), dtype=float).reshape(-1, 3)
    return places


def size(data: Survey) -> float:
    """Give the extent of a survey in mm: the longest tape, or across the datum."""
    known = np.array(list(data.datum.values()), dtype=float).reshape(-1, 3)
    across = float(np.linalg.norm(np.ptp(known, axis=0))) if len(known) else 0.0
    return max([across, *(row.length for row in data.tapes)], default=1000.0) or 1000.0


def placings(
    data: Survey,
    group: Collection[str],
    dropped: Collection[Claim] = (),
    branches: int = BRANCHES,
) -> Array:
    """Give (S, P, 3) fitted placings of the points of a group, the best fit first, none twice.

    At most `branches` are followed.
    """
    whole = equations(data, dropped, among=(*known_points(data, dropped), *group))
    begun = _begin(data, group, dropped, branches)
    return distinct(whole, vote(whole, begun, numbers(data, group), SOFTNESS))


def distinct(equations: Equations, places: Array, most: int = BRANCHES) -> Array:
    """Sort placings by fit and keep one of those that are alike."""
    kept: list[Array] = []
    for placing in places[np.argsort(clipped(equations, places), kind="stable")]:
        if all(np.abs(placing - other).max() > _SAME for other in kept):
            kept.append(placing)
        if len(kept) == most:
            break
    return np.array(kept)


def elsewhere(data: Survey, placing: Array, name: str, dropped: Collection[Claim] = ()) -> Array:
    """Give the places (K, 3) that a point's own rows allow, the others staying where they are."""
    about = equations(data, dropped, about=name)
    p = data.names.index(name)
    found = _places_of(about, placing[None], p, _centres(about, placing[None], p), size(data))
    return found[:, p]


def _begin(
    data: Survey, group: Collection[str], dropped: Collection[Claim], branches: int
) -> Array:
    """Place points one by one, those tied best to what stands already first."""
    names, known = data.names, list(known_points(data, dropped))
    places = nowhere(data)[None]
    extent = size(data)
    most = int(np.clip(branches * (30 / len(group)) ** 2, 4, branches))
    waiting = list(group)
    while waiting:
        name = max(waiting, key=lambda point: _ties(data, point, known, dropped))
        waiting.remove(name)
        p = names.index(name)
        about = equations(data, dropped, among=(*known, name), about=name)
        here = [names.index(other) for other in known]
        centres = _centres(about, places, p, here)
        places = _places_of(about, places, p, centres, extent)
        spent = clipped(equations(data, dropped, among=(*known, name)), places)
        places = places[np.argsort(spent, kind="stable")][:most]
        known.append(name)
    return places


def _ties(
    data: Survey, point: str, known: Collection[str], dropped: Collection[Claim]
) -> tuple[int, int]:
    """Count the equations that tie a point to those placed; and its rows, to settle draws."""
    ties = rows = 0
    for place, row in enumerate(data.rows):
        if point not in row.points or Claim(place) in dropped:
            continue
        rows += 1
        others = sum(1 for other in row.points if other != point and other in known)
        if isinstance(row, Taped):
            ties += others
        elif isinstance(row, (Levelled, Plumbed)):
            ties += (1 if isinstance(row, Levelled) else 2) * min(others, 1)
        else:
            ties += 3 * (others == 2)
    return min(ties, 4), rows


def _centres(
    about: Equations, places: Array, p: int, here: Iterable[int] | None = None
) -> tuple[Array, float]:
    """Where to look for point p: about its nearest taped neighbour, or the middle of the others."""
    if len(about.length):
        near = int(np.argmin(about.length))
        other = about.start[near] if about.end[near] == p else about.end[near]
        return places[:, other], float(about.length[near])
    placed = list(range(places.shape[1])) if here is None else list(here)
    placed = [other for other in placed if other != p]
    return (places[:, placed].mean(axis=1) if placed else places[:, p]), 0.0


def _places_of(
    about: Equations, places: Array, p: int, centres: tuple[Array, float], extent: float
) -> Array:
    """Give each placing once for each place of point p that its rows in `about` lead to."""
    around, distance = centres
    starts = np.repeat(places, len(_DIRECTIONS), axis=0)
    reach = distance or 0.3 * extent
    starts[:, p] = (around[:, None] + reach * _DIRECTIONS).reshape(-1, 3)
    ended = descend(about, starts, np.array([p], dtype=np.intp), steps=25, settled=NEARLY)
    fit = clipped(about, ended).reshape(len(places), -1)
    ended = ended.reshape(len(places), len(_DIRECTIONS), *places.shape[1:])
    kept = [
        candidates[i]
        for candidates, fits in zip(ended, fit, strict=True)
        for i in _alternatives(candidates[:, p], fits)
    ]
    return np.array(kept)


def _alternatives(at: Array, fits: Array, most: int = 6) -> list[int]:
    """Choose ends that differ, best fit first, none much worse than the best."""
    chosen: list[int] = []
    for i in np.argsort(np.round(fits, 3), kind="stable"):
        if fits[i] > fits.min() + 2 * CLIP or len(chosen) == most:
            break
        if all(np.abs(at[i] - at[j]).max() > _SAME for j in chosen):
            chosen.append(int(i))
    return chosen


def _icosahedron() -> Array:
    """Twelve directions spread evenly, turned so that none lies along an axis."""
    golden = (1 + np.sqrt(5)) / 2
    corners = [(0.0, a, b * golden) for a in (-1, 1) for b in (-1, 1)]
    directions = np.array([np.roll(c, k) for c in corners for k in range(3)])
    tilt = np.linalg.qr(np.array([[0.9, 0.3, 0.2], [-0.3, 1.0, 0.4], [0.1, -0.4, 1.1]]))[0]
    result: Array = directions @ tilt / np.sqrt(1 + golden**2)
    return result


_DIRECTIONS = _icosahedron()
