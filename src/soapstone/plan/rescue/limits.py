"""Least squares within linear limits: the step that every rescue is made of.

min |A d - b| subject to G d >= h, by turning it into a least-distance problem and that into one of
non-negative least squares (Lawson and Hanson, Solving Least Squares Problems, 1974, chapter 23).
"""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from soapstone.geometry.vectors import Array

Flags: TypeAlias = npt.NDArray[np.bool_]

_TINY = 1e-12


def least_squares_within(a: Array, b: Array, g: Array, h: Array) -> Array | None:
    """Find the d (n) least in |a d - b| with g d >= h; None when no d keeps all limits.

    `a` (m, n) must have full column rank, `g` is (k, n).
    """
    q, r = np.linalg.qr(a)
    free = np.linalg.solve(r, q.T @ b)
    short = h - g @ free
    if short.size == 0 or bool(np.all(short <= _TINY)):
        return np.asarray(free, dtype=float)
    turned = np.linalg.solve(r.T, g.T).T
    scale = np.linalg.norm(turned, axis=1)
    impossible = (scale <= _TINY) & (short > _TINY)
    if bool(np.any(impossible)):
        return None
    bears = scale > _TINY
    turned, short = turned[bears] / scale[bears, None], short[bears] / scale[bears]
    size = float(np.abs(short).max())
    system = np.vstack((turned.T, short[None, :] / size))
    wanted = np.zeros(len(system))
    wanted[-1] = 1.0
    residual = system @ non_negative(system, wanted) - wanted
    if -residual[-1] <= 1e-11:
        return None
    nearest = -residual[:-1] / residual[-1] * size
    return np.asarray(free + np.linalg.solve(r, nearest), dtype=float)


def non_negative(a: Array, b: Array) -> Array:
    """Find the u >= 0 least in |a u - b| (Lawson and Hanson's active set, chapter 23)."""
    count = a.shape[1]
    u = np.zeros(count)
    active = np.zeros(count, dtype=bool)
    for _ in range(10 * count + 10):
        slope = a.T @ (b - a @ u)
        slope[active] = 0
        best = int(np.argmax(slope))
        if slope[best] <= _TINY:
            break
        active[best] = True
        u = _settled(a, b, u, active)
    return u


def _settled(a: Array, b: Array, u: Array, active: Flags) -> Array:
    """Solve for the active ones; let go, one after another, of those that would be negative."""
    while True:
        trial = np.zeros_like(u)
        trial[active] = np.linalg.lstsq(a[:, active], b, rcond=None)[0]
        below = active & (trial <= 0)
        if not np.any(below):
            return trial
        share = float(np.min(u[below] / np.maximum(u[below] - trial[below], 1e-300)))
        u = u + share * (trial - u)
        active &= u > 1e-15  # in place: the caller's too
        u[~active] = 0
        if not np.any(active):
            return u
