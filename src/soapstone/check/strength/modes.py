"""When the frame would buckle, and its lowest note."""

from math import inf, pi
from typing import Any

import numpy as np

from soapstone.check.strength.beams import geometric, turned
from soapstone.check.strength.frame import Solver, spread
from soapstone.geometry.vectors import Array

NEVER = 1e6
"""A factor above this is as good as none."""


def buckling_factor(solver: Solver, ends: Array) -> float:
    """How many times the loads of a case it would take for the frame to buckle; infinite if never.

    The least L above 0 with (K + L G) u = 0, G the geometric stiffness of the case's own tensions:
    linear buckling, of a perfect frame that stays elastic.
    """
    tension = (ends[:, 6] - ends[:, 0]) / 2
    if not (tension < 0).any():
        return inf
    within = solver.within
    added = within.T @ spread(solver.mesh, turned(solver.beams, geometric(solver.beams, tension)))
    found = _largest(solver, -(added @ within))
    return 1 / found if found > 1 / NEVER else inf


def first_note(solver: Solver) -> float:
    """Lowest frequency in Hz at which the frame hums, its tubes and what it carries moving.

    Half of each beam's mass stands at each of its ends; a mass that stands in several cases is
    counted once.
    """
    beams, mesh = solver.beams, solver.mesh
    mass = np.zeros(6 * len(mesh.points))
    half = beams.area * beams.length * beams.density / 2
    for end in (0, 1):
        for move in range(3):
            np.add.at(mass, 6 * mesh.beams[:, end] + move, half)
    seen = set()
    for load, node in zip(solver.frame.loads, mesh.carried, strict=True):
        key = load.at, load.mass, load.onto
        if load.mass > 0 and key not in seen:
            seen.add(key)
            mass[6 * node : 6 * node + 3] += load.mass
    from scipy.sparse import diags

    found = _largest(solver, solver.within.T @ diags(mass) @ solver.within)
    # N/mm over kg is 1000 /s2
    return float(np.sqrt(1000 / found) / (2 * pi)) if found > 0 else inf


def _largest(solver: Solver, matrix: Any) -> float:
    """Greatest m with M u = m K u, K the frame's stiffness."""
    from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh

    size = matrix.shape[0]
    if size < 4:
        dense = solver.solve(matrix.toarray())
        return float(np.linalg.eigvals(dense).real.max(initial=0.0))
    inverse = LinearOperator((size, size), matvec=solver.solve)
    start = np.random.default_rng(0).normal(size=size)
    try:
        values = eigsh(
            matrix,
            k=1,
            M=solver.stiff,
            Minv=inverse,
            which="LA",
            v0=start,
            return_eigenvectors=False,
        )
    except ArpackNoConvergence as error:
        values = error.eigenvalues
    return float(max(values, default=0.0))
