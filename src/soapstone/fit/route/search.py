"""The state of one search: tasks by number of bends, the routes found, the count of starts."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from soapstone.fit.route.certify import certified, line_of, shortages
from soapstone.fit.route.contact import Room
from soapstone.fit.route.descent import SOLVED, batch_round, measure, shorten
from soapstone.fit.route.polyline import Task
from soapstone.fit.route.problem import Route, RouteProblem
from soapstone.fit.route.room import Fields, build_room, widened
from soapstone.fit.route.unknowns import Unknowns, build_task, unknowns
from soapstone.geometry.vectors import Array

EXTRA = 0.02
"""mm kept beyond each gap, so that the certificate, which may be short by a little, is met."""

ROUNDS = ((5, 0.5), (8, 0.5), (40, 1.0))
"""Iterations of each round of a batch, and the part of its open starts that goes on."""

BOLD, GENTLE = (20.0, 4.0, 1.0, 0.3, 0.1, 0.03), (1.0, 0.3, 0.1, 0.03)
"""Weights of the length while a route is shortened. The bold start leaves a poor way for a better
one, and sometimes breaks the tube; the gentle one follows it to the very shortest near by."""

SHORTENING = 24
"""Iterations for each weight, at most."""

MENDING = 100
"""Iterations in which a tube is set right where its certificate is short, at most."""

BETTER = 0.05
"""mm by which a route must be shorter than the best to be better."""

FIRST_DAMPING = 0.3

MISSES = 6
"""Near misses that are remembered for each number of bends."""

ALIKE = 60.0
"""mm: misses none of whose corners lie further apart are one and the same."""

HOPELESS = 20.0
"""mm: a tube that is this much nearer than the search took it to be is given up."""


class StopSearchError(Exception):
    """Time is up, or the caller has cancelled."""


@dataclass
class Search:
    """One search.

    `best` is the best route so far, `pool` holds what was shortened and `misses` what came nearest
    to breaking nothing, with length and cost, both by bends. It stops at `deadline`, or at `limit`
    while there is no route yet; both are readings of `time.perf_counter`.
    """

    problem: RouteProblem
    rng: np.random.Generator
    deadline: float
    limit: float = 0.0
    on_better: Callable[[Route], object] | None = None
    cancel: Callable[[], bool] | None = None
    best: Route | None = None
    pool: dict[int, list[tuple[float, Array]]] = field(default_factory=dict)
    starts: int = 0
    began: float = field(default_factory=time.perf_counter)
    first_seconds: float = 0.0
    symmetric: bool = False
    fields: Fields = field(default_factory=dict)
    tasks: dict[int, tuple[Unknowns, Task]] = field(default_factory=dict)
    misses: dict[int, list[tuple[float, Array]]] = field(default_factory=dict)

    @cached_property
    def room(self) -> Room:
        """The keep-outs as arrays, made on first use: with meshes that takes its time."""
        problem = self.problem
        return build_room(problem.keepouts, problem.od, EXTRA, self.fields, self.check)

    def task(self, bends: int) -> tuple[Unknowns, Task]:
        """Unknowns and numbers for so many bends."""
        if bends not in self.tasks:
            unknown = unknowns(self.problem, bends)
            self.tasks[bends] = unknown, build_task(self.problem, unknown)
        return self.tasks[bends]

    def check(self) -> None:
        """Stop when it is time."""
        late = self.deadline if self.best is not None else max(self.deadline, self.limit)
        if time.perf_counter() > late or (self.cancel is not None and self.cancel()):
            raise StopSearchError

    def out_of_time(self) -> bool:
        """Whether all of the time is up, or the caller has cancelled."""
        late = time.perf_counter() > max(self.deadline, self.limit)
        return late or (self.cancel is not None and self.cancel())

    def solve(self, bends: int, starts: Array, task: Task | None = None) -> list[Array]:
        """Descend from starts (m, n); those that end with nothing broken, by the task given."""
        aimed = task is not None
        task = self.task(bends)[1] if task is None else task
        solved: list[Array] = []
        for low in range(0, len(starts), 16):
            part = starts[low : low + 16]
            state = np.zeros((3, len(part)))
            state[1] = FIRST_DAMPING
            for iterations, kept in ROUNDS:
                self.check()
                if batch_round(task, self.room, part, iterations, kept, state) == 0:
                    break
            self.starts += len(part)
            cost = state[0]
            solved += [y for y, c in zip(part, cost, strict=True) if c < SOLVED]
            if not aimed and self.best is None:
                for i in np.argsort(cost, kind="stable")[:2]:
                    self._missed(bends, float(cost[i]), part[i])
        return solved

    def _missed(self, bends: int, cost: float, y: Array) -> None:
        """Remember a near miss; of those that are nearly the same tube, only the nearest."""
        known = self.misses.setdefault(bends, [])
        if len(known) == MISSES and cost >= known[-1][0]:
            return
        unknown = self.task(bends)[0]
        corners = unknown.corners(y)
        alike = [
            i
            for i, (_, other) in enumerate(known)
            if np.abs(unknown.corners(other) - corners).max() < ALIKE
        ]
        if any(known[i][0] <= cost for i in alike):
            return
        self.misses[bends] = [one for i, one in enumerate(known) if i not in alike]
        self.misses[bends].append((cost, y.copy()))
        self.misses[bends].sort(key=lambda pair: pair[0])
        del self.misses[bends][MISSES:]

    def settle(self, task: Task, y: Array) -> tuple[Array, float] | None:
        """Make a solved y as short as it gets, or bring it home; None when it breaks."""
        for ladder in (BOLD, GENTLE):
            short, damping = y.copy(), 1e-3
            for eps in ladder:
                self.check()
                damping = shorten(task, self.room, short, eps, SHORTENING, min(damping, 1.0))[1]
            self.check()
            if shorten(task, self.room, short, 0.0, 4 * SHORTENING, 1e-6)[0] < SOLVED:
                return short, measure(task, self.room, short)
        return None

    def take(self, bends: int, y: Array) -> bool:
        """Shorten a solved y, certify it, and keep it. Whether it is the best so far."""
        _, task = self.task(bends)
        if self.best is None:
            self._offer(bends, y.copy())
        settled = self.settle(task, y)
        if settled is None:
            return False
        y, length = settled
        if length > self.problem.longest:
            return False
        known = self.pool.setdefault(bends, [])
        if any(abs(length - other) < BETTER for other, _ in known):
            return False
        known.append((length, y))
        known.sort(key=lambda pair: pair[0])
        del known[12:]
        return self._offer(bends, y)

    def _offer(self, bends: int, y: Array) -> bool:
        """Certify y, and keep it if it is the best."""
        length = measure(self.task(bends)[1], self.room, y)
        return self._better(bends, length) and self.replace_best(bends, y)

    def replace_best(self, bends: int, y: Array) -> bool:
        """Certify y, mend it where its certificate is short, and make it the best if it holds."""
        unknown, task = self.task(bends)
        extra = np.zeros(len(self.problem.keepouts))
        for _ in range(4):
            self.check()
            corners = self.corners(unknown, y)
            line = line_of(corners, self.problem.clr)
            if line is None:
                return False
            short = shortages(self.problem, line)
            worst = max(short, default=0.0)
            if worst <= 0.0:
                self.keep(certified(self.problem, corners, line))
                return True
            if worst > HOPELESS:
                return False
            extra += [s + 0.01 * (s > 0) for s in short]
            if not self.mended(task, widened(self.room, extra), y):
                return False
        return False

    def mended(self, task: Task, room: Room, y: Array) -> bool:
        """Set y right, in place, in a room that asks for more. Whether nothing is broken then."""
        return shorten(task, room, y, 0.0, MENDING, 1e-6)[0] <= SOLVED

    def keep(self, route: Route) -> None:
        """Make a certified route the best."""
        self.best = route
        if self.first_seconds == 0.0:
            self.first_seconds = time.perf_counter() - self.began
        if self.on_better is not None:
            self.on_better(route)

    def corners(self, unknown: Unknowns, y: Array) -> Array:
        """Corners of y (k + 2, 3), ends included."""
        ends = (self.problem.start.at, self.problem.end.at)
        return np.concatenate([ends[:1], unknown.corners(y), ends[1:]])

    def fits(self, corners: Array) -> bool:
        """Whether a polyline with all its corners set, ends included, breaks nothing."""
        inner = corners[1:-1].ravel()
        task = build_task(self.problem, Unknowns(inner, np.zeros((0, len(inner)))))
        return shorten(task, self.room, np.zeros(0), 0.0, 0, 1.0)[0] < 1e-4

    def _better(self, bends: int, length: float) -> bool:
        best = self.best
        return length <= self.problem.longest and (
            best is None
            or bends < best.bends
            or (bends == best.bends and length < best.length - BETTER)
        )
