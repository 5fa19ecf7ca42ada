"""Tubes cut into beams: nodes along the centrelines, and stiff links between them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapstone.check.strength.model import Frame
from soapstone.geometry.along import places_at
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Array

Index = npt.NDArray[np.int64]

ARC_STEP = 4.0
"""Degrees of bend in one straight beam at most: chords of 5 degrees are 0.1 % too stiff."""

LEG_PIECES = 8
"""Beams in a straight, so that it can buckle and hum between its ends."""

SAME = 1e-6
"""mm: places nearer to each other along a tube are one node."""


@dataclass(frozen=True, slots=True)
class Mesh:
    """Nodes and beams of a frame.

    `points` (n, 3) the nodes; `beams` (m, 2) their ends; by beam: `tube` (m,) which tube,
    `radius` (m,) of the bend it is in, 0 in a straight; by node: `of` (n,) its tube and `along`
    (n,) its distance from the A end, or -1 for the node of a load in the air. `groups` are nodes
    joined stiffly, `welded` the nodes of welds, `held` the node of each support, `carried` the node
    of each load.
    """

    points: Array
    beams: Index
    tube: Index
    radius: Array
    of: Index
    along: Array
    groups: tuple[tuple[int, ...], ...]
    welded: tuple[int, ...]
    held: tuple[int, ...]
    carried: tuple[int, ...]


def mesh_of(frame: Frame, arc_step: float = ARC_STEP, leg_pieces: int = LEG_PIECES) -> Mesh:
    """Cut a frame into beams."""
    wanted: dict[str, list[float]] = {tube.name: [] for tube in frame.tubes}
    for support in frame.supports:
        wanted[support.tube].append(support.along)
    joined = [weld.places for weld in frame.welds] + [load.onto for load in frame.loads]
    for name, along in (place for group in joined for place in group):
        wanted[name].append(along)
    points, of, alongs, beams, tubes, radii = [], [], [], [], [], []
    node_at: dict[tuple[str, float], int] = {}
    count = 0
    for number, tube in enumerate(frame.tubes):
        cuts, bent = _cuts(tube.line, wanted[tube.name], arc_step, leg_pieces)
        points.append(places_at(tube.line, cuts)[0])
        of += [number] * len(cuts)
        alongs += cuts.tolist()
        ends = np.arange(count, count + len(cuts))
        beams.append(np.stack((ends[:-1], ends[1:]), axis=1))
        tubes += [number] * (len(cuts) - 1)
        radii.append(bent)
        for along in wanted[tube.name]:
            node_at[tube.name, along] = count + int(np.abs(cuts - along).argmin())
        count += len(cuts)
    groups = [tuple(node_at[place] for place in weld.places) for weld in frame.welds]
    welded = tuple(sorted({node for group in groups for node in group}))
    carried = []
    for load in frame.loads:
        points.append(np.array([load.at], dtype=float))
        of.append(-1)
        alongs.append(-1.0)
        carried.append(count)
        groups.append((count, *(node_at[place] for place in load.onto)))
        count += 1
    return Mesh(
        np.concatenate(points),
        np.concatenate(beams).astype(np.int64),
        np.array(tubes, dtype=np.int64),
        np.concatenate(radii),
        np.array(of, dtype=np.int64),
        np.array(alongs),
        tuple(_joined(groups)),
        welded,
        tuple(node_at[support.tube, support.along] for support in frame.supports),
        tuple(carried),
    )


def _joined(groups: Iterable[Sequence[int]]) -> list[tuple[int, ...]]:
    """Join groups that share a node; nodes in order, groups by their first."""
    found: list[set[int]] = []
    for group in groups:
        mine = set(group)
        for other in [one for one in found if one & mine]:
            mine |= other
            found.remove(other)
        found.append(mine)
    return sorted((tuple(sorted(one)) for one in found if len(one) > 1), key=lambda one: one[0])


def _cuts(
    line: Centreline, wanted: Sequence[float], arc_step: float, leg_pieces: int
) -> tuple[Array, Array]:
    """Distances along a tube at which it is cut, and the bend radius of each piece between."""
    cuts: list[Array] = [np.zeros(1)]
    edges: list[tuple[float, float, float]] = []
    at = 0.0
    for i, leg in enumerate(line.legs):
        if leg > SAME:
            cuts.append(at + leg * np.arange(1, leg_pieces + 1) / leg_pieces)
            edges.append((at, at + leg, 0.0))
        at += leg
        if i < len(line.angles):
            long = line.radii[i] * float(np.radians(line.angles[i]))
            count = max(1, int(np.ceil(line.angles[i] / arc_step)))
            cuts.append(at + long * np.arange(1, count + 1) / count)
            edges.append((at, at + long, line.radii[i]))
            at += long
    every = np.sort(np.concatenate((*cuts, np.clip(np.array(wanted, dtype=float), 0.0, at))))
    kept = every[np.concatenate(([True], np.diff(every) > SAME))]
    middles = (kept[1:] + kept[:-1]) / 2
    bent = np.array([next(r for low, high, r in edges if low <= m <= high) for m in middles])
    return kept, bent
