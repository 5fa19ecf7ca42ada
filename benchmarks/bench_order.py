"""How long the best order takes to find, and what the certain yes or no saves.

    python benchmarks/bench_order.py

Random tubes at a bender with a stand, a bench, a wall and a floor. CPU time, warm. `a step` is a
step told clear or hit; `its gaps` is the plain way: the least gap to each thing for the same step.
"""

import time

import numpy as np

from soapstone.bend.clash import bend_nears
from soapstone.bend.machine import Machine, machine
from soapstone.bend.order import Look, best_order
from soapstone.bend.pose import SIDES, Stick
from soapstone.geometry.solids import Box

BODIES = (
    ("stand", Box((-150.0, -230.0, -500.0), (300.0, 300.0, 900.0))),
    ("bench", Box((900.0, 0.0, -450.0), (1200.0, 500.0, 700.0))),
    ("wall", Box((0.0, -1400.0, 0.0), (8000.0, 100.0, 4000.0))),
)
TUBES = 6
CLR = 100.0


def tube(rng: np.random.Generator, bends: int) -> Stick:
    """A random tube with 3 % springback."""
    free = rng.uniform(20, 90, bends)
    used, legs = np.radians(1.03 * free) * CLR, rng.uniform(100, 350, bends + 1)
    ends = np.cumsum(legs[:-1] + used)
    rotations = np.concatenate([[0.0], rng.uniform(-180, 180, bends - 1)])
    columns = (ends - used, ends, free, 1.03 * free, rotations, np.full(bends, 1.03 * CLR))
    return Stick(float(ends[-1] + legs[-1]), *(tuple(map(float, column)) for column in columns))


def bender(swing: str) -> Machine:
    """A bender with things about."""
    return machine(CLR, 38.1, 60.0, 90.0, SIDES[swing], BODIES, 900.0)


def main() -> None:
    """Print a line for each number of bends."""
    best_order(tube(np.random.default_rng(9), 3), bender("left"))
    print("bends  order, median  order, longest  found  a step  its gaps")
    for bends in (4, 8, 12):
        times, found, quick, plain = [], 0, 0.0, 0.0
        for seed in range(TUBES):
            stick = tube(np.random.default_rng(seed), bends)
            where = bender("left" if seed % 2 else "up")
            start = time.process_time()
            found += bool(best_order(stick, where).order)
            times.append(time.process_time() - start)
            made = frozenset(range(1, bends // 2))
            start = time.process_time()
            Look(stick, where, 0.0).bend(made, bends // 2, "A")
            quick += time.process_time() - start
            start = time.process_time()
            list(bend_nears(stick, made, bends // 2, "A", where))
            plain += time.process_time() - start
        row = f"{bends:5}  {np.median(times):11.3f} s  {max(times):12.3f} s  {found}/{TUBES}"
        print(f"{row}  {1000 * quick / TUBES:5.2f} ms  {1000 * plain / TUBES:5.2f} ms", flush=True)


if __name__ == "__main__":
    main()
