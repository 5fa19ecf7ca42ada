"""Load cases: moves, reactions, and stresses against yield, all along every tube."""

from collections.abc import Sequence
from math import inf, pi

import numpy as np

from soapstone.check.strength.beams import Beams, frames, stiffness
from soapstone.check.strength.frame import Solver, forces_of, moves_of, reaction, weights
from soapstone.check.strength.model import CaseResult, Reaction, Shape, TubeStress, Worst
from soapstone.check.strength.modes import buckling_factor
from soapstone.geometry.centreline import vec
from soapstone.geometry.vectors import Array, norm

ROUND = 24
"""Places round the tube at which stress is looked at."""

WELD_REACH = 25.0
"""mm from a weld within which the metal is softened: 1 in, as codes for welded aluminium have it,
from memory."""


NOTHING = 1e-6
"""MPa: what is stressed by less carries nothing."""


def solve_cases(solver: Solver) -> tuple[CaseResult, ...]:
    """Solve every load case of a frame, in the order in which they first stand."""
    names = list(dict.fromkeys(load.case for load in solver.frame.loads))
    if not names and solver.frame.own_weight:
        names = ["own weight"]
    return tuple(_case(solver, name) for name in names)


def _case(solver: Solver, name: str) -> CaseResult:
    frame, mesh = solver.frame, solver.mesh
    force = forces_of(solver, [load for load in frame.loads if load.case == name])
    moves = moves_of(solver, force)
    ends = end_forces(solver, moves)
    stress = stresses(solver.beams, ends)
    soft = _beside_weld(solver)
    limit = np.where(
        soft,
        np.array([tube.welded_yield for tube in frame.tubes])[mesh.tube][:, None],
        np.array([tube.yield_strength for tube in frame.tubes])[mesh.tube][:, None],
    )
    reserve = np.where(stress > NOTHING, limit / np.maximum(stress, NOTHING), inf)
    on_tube = mesh.of >= 0
    size = np.where(on_tube, norm(moves[:, :3]), -1.0)
    most = int(size.argmax())
    beam, end = divmod(int(reserve.argmin()), 2)
    node = int(mesh.beams[beam, end])
    return CaseResult(
        case=name,
        supports=tuple(
            Reaction(support.tube, support.at, *reaction(solver, force, moves, place))
            for place, support in enumerate(frame.supports)
        ),
        deflection=float(size[most]),
        deflected=(frame.tubes[int(mesh.of[most])].name, float(mesh.along[most])),
        stress=float(stress.max()),
        reserve=float(reserve.min()),
        worst=Worst(
            frame.tubes[int(mesh.tube[beam])].name,
            float(mesh.along[node]),
            vec(mesh.points[node]),
            bool(soft[beam, end]),
        ),
        tubes=tuple(_tube(solver, number, stress, reserve) for number in range(len(frame.tubes))),
        buckling=buckling_factor(solver, ends),
        shapes=tuple(
            _shape(solver, number, moves, stress, limit) for number in range(len(frame.tubes))
        ),
    )


def end_forces(solver: Solver, moves: Array) -> Array:
    """Forces and moments (m, 12) on the beams' ends by their own axes, N and N mm."""
    mesh = solver.mesh
    by_beam = moves[mesh.beams].reshape(len(mesh.beams), 12)
    to_own = frames(solver.beams)
    own = np.einsum("mij,mj->mi", to_own, by_beam)
    result: Array = np.einsum("mij,mj->mi", stiffness(solver.beams), own)
    if solver.frame.own_weight:
        result = result - np.einsum("mij,mj->mi", to_own, weights(solver.beams))
    return result


def stresses(beams: Beams, ends: Array) -> Array:
    """Greatest von Mises stress (m, 2) in MPa round the outside of the tube at each beam's ends.

    Bending and pull add along the tube; twist and shear (2 V / A at most, of a thin tube) round it.
    """
    found = np.empty((len(ends), 2))
    phi = 2 * pi * np.arange(ROUND) / ROUND
    for end in (0, 1):
        pull, vy, vz, twist, my, mz = (ends[:, 6 * end + i, None] for i in range(6))
        sign = -1.0 if end == 0 else 1.0
        modulus = (beams.stiff_inertia / beams.outer)[:, None]
        bent = (my * np.sin(phi) - mz * np.cos(phi)) / modulus * beams.intensity[:, None]
        along = sign * pull / beams.area[:, None] + sign * bent
        sheared = 2 * (vz * np.cos(phi) - vy * np.sin(phi)) / beams.area[:, None]
        shear = twist / (2 * modulus) + sheared
        found[:, end] = np.sqrt(along**2 + 3 * shear**2).max(axis=1)
    return found


def _beside_weld(solver: Solver) -> Array:
    """Whether each beam's ends (m, 2) are within reach of a weld."""
    mesh = solver.mesh
    soft = np.zeros(len(mesh.points), dtype=bool)
    for node in (*mesh.welded, *mesh.held):
        near = (mesh.of == mesh.of[node]) & (np.abs(mesh.along - mesh.along[node]) <= WELD_REACH)
        soft |= near
    result: Array = soft[mesh.beams]
    return result


def _tube(solver: Solver, number: int, stress: Array, reserve: Array) -> TubeStress:
    mesh = solver.mesh
    mine = np.flatnonzero(mesh.tube == number)
    beam, end = divmod(int(reserve[mine].argmin()), 2)
    node = mesh.beams[mine[beam], end]
    return TubeStress(
        solver.frame.tubes[number].name,
        float(stress[mine].max()),
        float(reserve[mine].min()),
        float(mesh.along[node]),
    )


def _shape(solver: Solver, number: int, moves: Array, stress: Array, limit: Array) -> Shape:
    mesh = solver.mesh
    nodes = np.flatnonzero(mesh.of == number)
    most, used = np.zeros(len(mesh.points)), np.zeros(len(mesh.points))
    for end in (0, 1):
        np.maximum.at(most, mesh.beams[:, end], stress[:, end])
        np.maximum.at(used, mesh.beams[:, end], stress[:, end] / limit[:, end])
    return Shape(
        solver.frame.tubes[number].name,
        tuple(vec(point) for point in mesh.points[nodes]),
        tuple(vec(move) for move in moves[nodes, :3]),
        tuple(most[nodes].tolist()),
        tuple(used[nodes].tolist()),
    )


def least(results: Sequence[CaseResult]) -> float:
    """Give the least reserve of all cases; infinite without any."""
    return min((result.reserve for result in results), default=float("inf"))
