"""The frame put together and solved: stiff links, supports, loads, and what the supports hold."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from soapstone.check.strength.beams import Beams, beams_of, stiffness, turned
from soapstone.check.strength.mesh import Index, Mesh, mesh_of
from soapstone.check.strength.model import Carried, Frame
from soapstone.errors import InputError
from soapstone.geometry.vectors import Array, Vec3, cross

LOOSE = 1e-13
"""A pivot of less, where all are 1 at first, is rounding: the frame withstands nothing there."""

GRAVITY = 9.80665
"""m/s2, the standard value."""


@dataclass(frozen=True, slots=True)
class Solver:
    """A frame ready to be loaded.

    `whole` is the stiffness of all freedoms, before links and supports; `link` (6 n, r) gives all
    freedoms from the independent ones, `within` from those of them that no support holds. `stiff`
    is the stiffness of the latter, and `solve` gives their moves under forces on them.
    """

    frame: Frame
    mesh: Mesh
    beams: Beams
    whole: Any
    link: Any
    within: Any
    stiff: Any
    solve: Any


def solver_of(frame: Frame, mesh: Mesh | None = None, *, flexible: bool = True) -> Solver:
    """Put a frame together.

    Raises
    ------
    InputError
        Part of it is not held, or two supports sit on one stiff piece and fix it each in part.
    """
    cut = mesh_of(frame) if mesh is None else mesh
    _held_together(frame, cut)
    beams = beams_of(cut, frame.tubes, flexible=flexible)
    whole = spread(cut, turned(beams, stiffness(beams)))
    link, column = _link(cut)
    held = _fixed(frame, cut, column)
    free = np.setdiff1d(np.arange(link.shape[1]), held)
    within = link[:, free]
    stiff = within.T @ whole @ within
    return Solver(frame, cut, beams, whole, link, within, stiff, _factored(stiff))


def _factored(reduced: Any) -> Any:
    """Give a function that solves the frame for a force.

    The stiffness is first brought to a diagonal of ones, so that a pivot near nothing is no matter
    of units: it is a way to move that nothing withstands.
    """
    from scipy.sparse import csc_matrix, diags
    from scipy.sparse.linalg import splu

    stiff = reduced.diagonal()
    if not (stiff > 0).all():
        raise _loose()
    scale = 1 / np.sqrt(stiff)
    scaled = csc_matrix(diags(scale) @ reduced @ diags(scale))
    try:
        factor = splu(scaled)
    except RuntimeError:
        raise _loose() from None
    if len(stiff) and np.abs(factor.U.diagonal()).min() < LOOSE:
        raise _loose()

    def solve(force: Array) -> Array:
        by = scale if force.ndim == 1 else scale[:, None]
        result: Array = by * factor.solve(by * force)
        return result

    return solve


def spread(mesh: Mesh, by_beam: Array) -> Any:
    """Add up matrices of beams (m, 12, 12) into one of all freedoms (6 n, 6 n), sparse."""
    from scipy.sparse import coo_matrix

    freedoms = (6 * mesh.beams[:, :, None] + np.arange(6)).reshape(len(mesh.beams), 12)
    rows = np.repeat(freedoms, 12, axis=1).ravel()
    columns = np.tile(freedoms, (1, 12)).ravel()
    size = 6 * len(mesh.points)
    return coo_matrix((by_beam.ravel(), (rows, columns)), shape=(size, size)).tocsc()


def _link(mesh: Mesh) -> tuple[Any, dict[int, int]]:
    """Give the matrix of stiff links, and the first column of each node that stays independent.

    Of nodes joined stiffly one stays, one that is held if there is any; the others go with it:
    move = its move + its turn x the arm to them.
    """
    from scipy.sparse import coo_matrix

    master = np.arange(len(mesh.points))
    for group in mesh.groups:
        held = [node for node in group if node in mesh.held]
        master[list(group)] = held[0] if held else group[0]
    kept = np.unique(master)
    column = {int(node): 6 * place for place, node in enumerate(kept)}
    first = np.array([column[int(node)] for node in master])
    size = 6 * len(mesh.points)
    own = np.arange(size)
    rows, columns, values = [own], [(first[:, None] + np.arange(6)).ravel()], [np.ones(size)]
    arm = mesh.points - mesh.points[master]
    x, y, z = arm.T
    base = 6 * np.arange(len(mesh.points))
    for move, spin, value in ((0, 4, z), (0, 5, -y), (1, 3, -z), (1, 5, x), (2, 3, y), (2, 4, -x)):
        rows.append(base + move)
        columns.append(first + spin)
        values.append(value)
    entries = np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))
    return coo_matrix(entries, shape=(size, 6 * len(kept))).tocsc(), column


def _fixed(frame: Frame, mesh: Mesh, column: dict[int, int]) -> Index:
    found: list[int] = []
    for support, node in zip(frame.supports, mesh.held, strict=True):
        if node not in column:
            raise InputError(
                f'support of "{support.tube}" at {support.at}: another support sits on the same '
                "stiff joint; give them one place"
            )
        found += [column[node] + i for i in range(6) if support.fix[i]]
    return np.unique(np.array(found, dtype=np.int64))


def _held_together(frame: Frame, mesh: Mesh) -> None:
    """Refuse tubes that no chain of joints leads from to a support."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    pairs = [*mesh.beams.tolist()]
    for group in mesh.groups:
        pairs += [[group[0], other] for other in group[1:]]
    joined = np.array(pairs)
    size = len(mesh.points)
    graph = coo_matrix((np.ones(len(joined)), (joined[:, 0], joined[:, 1])), shape=(size, size))
    _, label = connected_components(graph, directed=False)
    firm = {int(label[node]) for node in mesh.held}
    loose = {int(mesh.of[node]) for node in range(size) if int(label[node]) not in firm}
    names = [f'"{frame.tubes[i].name}"' for i in sorted(loose) if i >= 0]
    if names:
        raise InputError(
            f"{', '.join(names[:6])}: nothing holds it; give a support, or a joint to a tube that "
            "is held"
        )


def _loose() -> InputError:
    return InputError("the frame moves freely on its supports: fix more of them, or join its tubes")


def forces_of(solver: Solver, loads: Sequence[Carried]) -> Array:
    """Forces (6 n,) on all freedoms of the loads of one case, and of the tubes' own weight."""
    frame, mesh = solver.frame, solver.mesh
    force = np.zeros(6 * len(mesh.points))
    node = dict(zip(map(id, frame.loads), mesh.carried, strict=True))
    for load in loads:
        at = 6 * node[id(load)]
        force[at : at + 3] += load.force
    if frame.own_weight:
        freedoms = (6 * mesh.beams[:, :, None] + np.arange(6)).reshape(len(mesh.beams), 12)
        np.add.at(force, freedoms, weights(solver.beams))
    return force


def weights(beams: Beams) -> Array:
    """What each beam's own weight does to its ends (m, 12), by the world's axes, N and N mm.

    Half of it at either end, and the moments that a beam built in at both ends would hold,
    q l² / 12 (any textbook): so the nodes move as they do under weight spread along the beams.
    """
    pull = np.zeros((len(beams.length), 3))
    pull[:, 2] = -beams.area * beams.density * GRAVITY
    half = pull * beams.length[:, None] / 2
    moment = cross(beams.axes[:, 0], pull) * beams.length[:, None] ** 2 / 12
    return np.hstack((half, moment, half, -moment))


def moves_of(solver: Solver, force: Array) -> Array:
    """Moves and turns (n, 6) of all nodes, mm and radians, under forces on all freedoms."""
    within = solver.within
    result: Array = (within @ solver.solve(within.T @ force)).reshape(-1, 6)
    return result


def reaction(solver: Solver, force: Array, moves: Array, place: int) -> tuple[Vec3, Vec3]:
    """Force in N and moment in N m that the support at `place` of the frame's list gives."""
    rest = solver.link.T @ (solver.whole @ moves.ravel() - force)
    node = solver.mesh.held[place]
    first = int(solver.link[6 * node : 6 * node + 1].nonzero()[1][0])
    support = solver.frame.supports[place]
    held = np.where(support.fix, rest[first : first + 6], 0.0)
    x, y, z, rx, ry, rz = (float(value) for value in held)
    return (x, y, z), (rx / 1000, ry / 1000, rz / 1000)
