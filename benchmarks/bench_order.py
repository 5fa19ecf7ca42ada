"""How long the best order takes to find, and what a glance and the certain yes or no save.

    python benchmarks/bench_order.py

Random tubes at a bender with a stand, a bench, a wall and a floor. CPU time, warm. `in turn` is the
order in turn from A told clear or hit at a glance, on arrays; `compiled` the same by compiled code;
`its gaps` is the plain way, the least gap to each thing at every step.
"""

import time
from collections.abc import Callable
from functools import partial

import numpy as np

from soapstone.bend.glance import glance
from soapstone.bend.machine import Machine, machine
from soapstone.bend.order import Best, best_order, hold, steps_in
from soapstone.bend.pose import SIDES, Stick
from soapstone.geometry.solids import Box

BODIES = (
    ("stand", Box((-150.0, -230.0, -500.0), (300.0, 300.0, 900.0))),
    ("bench", Box((900.0, 0.0, -450.0), (1200.0, 500.0, 700.0))),
    ("wall", Box((0.0, -1400.0, 0.0), (8000.0, 100.0, 4000.0))),
)
TUBES = 12
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


def timed(work: Callable[[], object]) -> tuple[float, object]:
    """Seconds that the processor worked, and what came of it."""
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def main() -> None:
    """Print a line for each number of bends."""
    first = tube(np.random.default_rng(9), 3), bender("left")
    cold = timed(lambda: best_order(*first))[0]
    steps_in(*first, [(1, "A"), (2, "A"), (3, "A")])
    print(f"the first search, code loaded or compiled: {cold:.2f} s")
    print("bends  order, median  order, longest  found  whole   in turn  compiled   its gaps")
    for bends in (4, 6, 8, 10, 12, 14):
        orders, found, whole, ways = [], 0, 0, np.zeros(3)
        in_turn = [(n, "A") for n in range(1, bends + 1)]
        for seed in range(TUBES):
            stick = tube(np.random.default_rng(seed), bends)
            where = bender("left" if seed % 2 else "up")
            seconds, best = timed(partial(best_order, stick, where))
            assert isinstance(best, Best)
            orders.append(seconds)
            found += bool(best.order)
            whole += best.whole
            works = (glance, hold, steps_in)
            ways += [timed(partial(work, stick, where, in_turn))[0] for work in works]
        row = f"{bends:5}  {np.median(orders):11.3f} s  {max(orders):12.3f} s"
        told = "  ".join(f"{1000 * one / TUBES:6.1f} ms" for one in ways)
        print(f"{row}  {found:2}/{TUBES}  {whole:2}/{TUBES}  {told}", flush=True)


if __name__ == "__main__":
    main()
