"""The state of one search: tasks by number of bends, the routes found, the count of starts."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from soapstone.fit.route.certify import certified, line_of, shortages
from soapstone.fit.route.contact import Room
from soapstone.fit.route.descent import SOLVED, batch, shorten
from soapstone.fit.route.problem import Route, RouteProblem
from soapstone.fit.route.room import build_room
from soapstone.fit.route.rows import Task
from soapstone.fit.route.unknowns import Unknowns, build_task, unknowns
from soapstone.geometry.vectors import Array

EXTRA = 0.02
"""mm kept beyond each gap, so that the certificate, which may be short by a little, is met."""

ROUNDS = np.array([[5.0, 0.5], [8.0, 0.5], [40.0, 1.0]])
"""Iterations of each round of a batch, and the part of its open starts that goes on."""

LADDER = np.array([20.0, 3.0, 0.5, 0.08])
"""Weights of the length while a route is shortened."""

QUICK = np.array([8.0, 0.5])


class StopSearchError(Exception):
    """Time is up, or the caller has cancelled."""


@dataclass
class Search:
    """One search. `best` is the best route so far; `pool` holds what was shortened, by bends."""

    problem: RouteProblem
    rng: np.random.Generator
    deadline: float
    on_better: Callable[[Route], object] | None = None
    cancel: Callable[[], bool] | None = None
    best: Route | None = None
    pool: dict[int, list[tuple[float, Array]]] = field(default_factory=dict)
    starts: int = 0
    began: float = field(default_factory=time.perf_counter)
    first_seconds: float = 0.0
    tasks: dict[int, tuple[Unknowns, Task]] = field(default_factory=dict)
    least_cost: dict[int, tuple[float, Array]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Bring the keep-outs into arrays."""
        self.extra = [EXTRA] * len(self.problem.keepouts)
        self.room: Room = build_room(self.problem.keepouts, self.problem.od, self.extra)

    def task(self, bends: int) -> tuple[Unknowns, Task]:
        """Unknowns and numbers for so many bends."""
        if bends not in self.tasks:
            unknown = unknowns(self.problem, bends)
            self.tasks[bends] = unknown, build_task(self.problem, unknown)
        return self.tasks[bends]

    def check(self) -> None:
        """Stop when it is time."""
        if time.perf_counter() > self.deadline or (self.cancel is not None and self.cancel()):
            raise StopSearchError

    def solve(self, bends: int, starts: Array) -> list[Array]:
        """Descend from starts (m, n); those that end with nothing broken."""
        _, task = self.task(bends)
        costs = np.zeros(len(starts))
        solved: list[Array] = []
        for low in range(0, len(starts), 16):
            self.check()
            part, cost = starts[low : low + 16], costs[low : low + 16]
            self.starts += len(part)
            batch(task, self.room, part, ROUNDS, cost)
            solved += [y for y, c in zip(part, cost, strict=True) if c < SOLVED]
            least = int(np.argmin(cost))
            if bends not in self.least_cost or cost[least] < self.least_cost[bends][0]:
                self.least_cost[bends] = float(cost[least]), part[least].copy()
        return solved

    def take(self, bends: int, y: Array) -> bool:
        """Shorten a solved y, certify it, and keep it. Whether it is the best so far."""
        self.check()
        _, task = self.task(bends)
        if self.best is None:
            self._offer(bends, y.copy())
        y = y.copy()
        before = y.copy()
        cost, length = shorten(task, self.room, y, LADDER, 12)
        if cost > SOLVED:
            y = before
            cost, length = shorten(task, self.room, y, LADDER[2:], 25)
            if cost > SOLVED:
                return False
        known = self.pool.setdefault(bends, [])
        if any(abs(length - other) < 0.05 for other, _ in known):
            return False
        known.append((length, y))
        known.sort(key=lambda pair: pair[0])
        del known[12:]
        return self._offer(bends, y)

    def _offer(self, bends: int, y: Array) -> bool:
        """Certify y, mend it where the certificate is short, and keep it if it is the best."""
        unknown, task = self.task(bends)
        for _ in range(4):
            length = shorten(task, self.room, y.copy(), np.zeros(0), 0)[1]
            if not self._better(bends, length):
                return False
            corners = np.concatenate(
                [[self.problem.start.at], unknown.corners(y), [self.problem.end.at]]
            )
            line = line_of(corners, self.problem.clr)
            if line is None:
                return False
            short = shortages(self.problem, line)
            if max(short, default=0.0) <= 0.0:
                break
            if max(short) > 20.0:
                return False
            self.extra = [
                e + (s + 0.01 if s > 0 else 0.0) for e, s in zip(self.extra, short, strict=True)
            ]
            self.room = build_room(self.problem.keepouts, self.problem.od, self.extra)
            if shorten(task, self.room, y, np.zeros(0), 25)[0] > SOLVED:
                return False
        else:
            return False
        self.keep(certified(self.problem, corners, line))
        return True

    def keep(self, route: Route) -> None:
        """Make a certified route the best."""
        self.best = route
        if self.first_seconds == 0.0:
            self.first_seconds = time.perf_counter() - self.began
        if self.on_better is not None:
            self.on_better(route)

    def fits(self, corners: Array) -> bool:
        """Whether a polyline with all its corners set, ends included, breaks nothing."""
        inner = corners[1:-1].ravel()
        task = build_task(self.problem, Unknowns(inner, np.zeros((0, len(inner)))))
        return shorten(task, self.room, np.zeros(0), np.zeros(0), 0)[0] < 1e-4

    def _better(self, bends: int, length: float) -> bool:
        best = self.best
        return (
            best is None
            or bends < best.bends
            or (bends == best.bends and length < best.length - 1e-3)
        )
