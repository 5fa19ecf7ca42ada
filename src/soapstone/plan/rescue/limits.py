"""Compiled: least squares within linear limits, the step that every rescue is made of.

min |A d - b| subject to G d >= h, by turning it into a least-distance problem and that into one of
non-negative least squares (Lawson and Hanson, Solving Least Squares Problems, 1974, chapter 23).
"""

from math import sqrt

import numpy as np

from soapstone.geometry.compiled import compiled
from soapstone.geometry.vectors import Array

TINY = 1e-12
DEPENDENT = 1e-9
"""A column with less than this of its length outside the others' span is one of theirs."""


@compiled
def triangle(a: Array, b: Array) -> None:
    """Bring a (m, n) to triangular form by Householder's reflections, b (m,) with it; in place."""
    m, n = a.shape
    for k in range(n):
        size = 0.0
        for i in range(k, m):
            size += a[i, k] * a[i, k]
        if size == 0.0:
            continue
        head = -sqrt(size) if a[k, k] > 0 else sqrt(size)
        a[k, k] -= head
        scale = 1.0 / (head * a[k, k])
        for j in range(k + 1, n + 1):
            total = 0.0
            for i in range(k, m):
                total += a[i, k] * (a[i, j] if j < n else b[i])
            total *= scale
            for i in range(k, m):
                if j < n:
                    a[i, j] += total * a[i, k]
                else:
                    b[i] += total * a[i, k]
        a[k, k] = head
        for i in range(k + 1, m):
            a[i, k] = 0.0


@compiled
def solve_up(r: Array, b: Array, out: Array) -> None:
    """Solve r out = b, where r's first rows (n, n) are upper triangular."""
    n = r.shape[1]
    for i in range(n - 1, -1, -1):
        total = b[i]
        for j in range(i + 1, n):
            total -= r[i, j] * out[j]
        out[i] = total / r[i, i]


@compiled
def least_squares_within(a: Array, b: Array, g: Array, h: Array, out: Array) -> bool:
    """Find the `out` (n) least in |a out - b| with g out >= h; False when nothing keeps all limits.

    `a` (m, n) must have full column rank, m at least n; a and b are used up. `g` is (k, n).
    """
    n, k = a.shape[1], g.shape[0]
    triangle(a, b)
    solve_up(a, b, out)
    turned, short = np.empty((k, n + 1)), np.empty(k)
    kept, most = 0, 0.0
    for i in range(k):
        lacks = h[i]
        for j in range(n):
            lacks -= g[i, j] * out[j]
        size = 0.0
        for j in range(n):  # the limit seen in the units of the triangle
            total = g[i, j]
            for c in range(j):
                total -= a[c, j] * turned[kept, c]
            turned[kept, j] = total / a[j, j]
            size += turned[kept, j] ** 2
        size = sqrt(size)
        if size <= TINY:
            if lacks > TINY:
                return False
            continue
        for j in range(n):
            turned[kept, j] /= size
        short[kept] = lacks / size
        most = max(most, lacks)
        kept += 1
    if most <= TINY:
        return True
    return _nearest(a, turned[:kept], short[:kept], out)


@compiled
def _nearest(r: Array, turned: Array, short: Array, out: Array) -> bool:
    """Move `out` to the nearest place, in the units of triangle r, that is short of nothing."""
    n, k, size = r.shape[1], short.shape[0], 0.0
    for i in range(k):
        size = max(size, abs(short[i]))
    for i in range(k):
        turned[i, n] = short[i] / size
    wanted, left = np.zeros(n + 1), np.zeros(n + 1)
    wanted[n] = left[n] = 1.0
    non_negative(turned, wanted, left)
    # `left` is what was wanted less what the pulls give
    if left[n] <= 1e-11:
        return False
    way, step = np.empty(n), np.empty(n)
    for j in range(n):
        way[j] = -left[j] / left[n] * size
    solve_up(r, way, step)
    for j in range(n):
        out[j] += step[j]
    return True


@compiled
def non_negative(a: Array, b: Array, left: Array) -> None:
    """Find the u >= 0 least in |u a - b| (Lawson and Hanson's active set, chapter 23).

    `a` has the columns of the system as its rows; `left` comes in as b and goes out as b - u a.
    """
    k, m = a.shape
    u, active, barred = np.zeros(k), np.zeros(k), np.zeros(k)
    for _ in range(10 * k + 10):
        best = _steepest(a, left, active, barred)
        if best == k:
            return
        active[best] = 1.0
        if not _settled(a, b, u, active, best):
            active[best] = 0.0
            barred[best] = 1.0  # it lies in the others' span: it can add nothing to them
            continue
        for i in range(m):
            left[i] = b[i]
        for j in range(k):
            barred[j] = 0.0
            for i in range(m):
                left[i] -= a[j, i] * u[j]


@compiled
def _steepest(a: Array, left: Array, active: Array, barred: Array) -> int:
    """Find which one not active yet lessens what is left the most; k where none does."""
    best: int = a.shape[0]
    steepest = TINY
    for j in range(a.shape[0]):
        if active[j] + barred[j] > 0:
            continue
        slope = 0.0
        for i in range(a.shape[1]):
            slope += a[j, i] * left[i]
        if slope > steepest:
            best, steepest = j, slope
    return best


@compiled
def _settled(a: Array, b: Array, u: Array, active: Array, newest: int) -> bool:
    """Solve for the active ones; let go, one after another, of those that would be negative.

    False, and nothing is changed, where the newest one depends on the others or stays at nothing.
    """
    k = a.shape[0]
    trial = np.zeros(k)
    if not _solved(a, b, active, trial) or trial[newest] <= 0:
        return False
    while True:
        share, first_out = 2.0, k
        for j in range(k):
            if active[j] > 0 and trial[j] <= 0:
                reached = u[j] / max(u[j] - trial[j], 1e-300)
                if reached < share:
                    share, first_out = reached, j
        for j in range(k):
            u[j] += min(share, 1.0) * (trial[j] - u[j])
            if j == first_out or (u[j] <= 1e-15 and trial[j] <= 0):
                u[j] = active[j] = 0.0
        if first_out == k or not _solved(a, b, active, trial):
            return True


@compiled
def _solved(a: Array, b: Array, active: Array, trial: Array) -> bool:
    """Solve for the active ones, the others nothing; False where one depends on the others."""
    k, m = a.shape
    count = 0
    for j in range(k):
        trial[j] = 0.0
        count += active[j] > 0
    if count > m:
        return False
    part, aim, found = np.empty((m, count)), b.copy(), np.empty(count)
    c = 0
    for j in range(k):
        if active[j] > 0:
            for i in range(m):
                part[i, c] = a[j, i]
            c += 1
    triangle(part, aim)
    for c in range(count):
        if abs(part[c, c]) < DEPENDENT:
            return False
    solve_up(part, aim, found)
    c = 0
    for j in range(k):
        if active[j] > 0:
            trial[j] = found[c]
            c += 1
    return True
