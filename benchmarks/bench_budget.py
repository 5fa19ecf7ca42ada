"""How fast a tube of 8 bends is made many times over, beside the plain way with numpy.

Run it with `python -m benchmarks.bench_budget`. Both times are of the processor, in one run; what
passes meanwhile is less where there are several processors.
"""

import argparse
import time

import numpy as np

from soapstone.check.budget.sampled import landings
from soapstone.check.making import Making, making_of
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk
from soapstone.plan.model import TubePlan
from soapstone.plan.tubes import plan_tubes
from soapstone.shape.model import Shape
from tests.setups import setup

BENDS = 8
AT_ONCE = 5_000


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=int, default=1_000_000)
    parser.add_argument("--plain", type=int, default=50_000, help="tubes made the plain way")
    options = parser.parse_args()
    lot = np.random.default_rng(3)
    turns = [0.0, *lot.uniform(-170, 170, BENDS - 1)]
    drawn = Centreline(
        start=(0.0, 0.0, 0.0),
        along=(0.0, 0.0, 1.0),
        up=(1.0, 0.0, 0.0),
        legs=tuple(lot.uniform(200, 400, BENDS + 1)),
        angles=tuple(lot.uniform(20, 90, BENDS)),
        rotations=tuple(turns),
        radii=(102.0,) * BENDS,
    )
    for what, tolerance in (("in one go", 30.0), ("crept up to", 0.5)):
        tools = setup(0.02, 1.0, tolerance=tolerance)
        (plan,) = plan_tubes([Shape("tube", drawn, ())], [tools])
        if not isinstance(plan, TubePlan):
            raise SystemExit("the tube has no plan")
        making = making_of(plan, crept=True)
        landings(making, 1000, 0)
        began, clock = time.process_time(), time.perf_counter()
        landings(making, options.samples, 0)
        quick = (time.process_time() - began) / options.samples
        passed = (time.perf_counter() - clock) / options.samples
        began = time.process_time()
        plainly(making, options.plain)
        plain = (time.process_time() - began) / options.plain
        both = f"{quick * 1e6:.2f} s a million ({passed * 1e6:.2f} s pass)"
        print(f"{BENDS} bends {what}: {both}, {plain / quick:.1f} x plain")


def plainly(making: Making, count: int) -> float:
    """Make tubes with numpy alone and give the mean of how far they are off."""
    lot = np.random.default_rng(0)
    end = walk(making.plan.shape).nodes[-1]
    total = 0.0
    for _ in range(count // AT_ONCE):
        way = making.made(lot.standard_normal((AT_ONCE, len(making.causes)))).walk(
            making.plan.shape
        )
        total += float(np.linalg.norm(way.nodes[:, -1] - end, axis=1).sum())
    return total / count


if __name__ == "__main__":
    main()
