"""How many tubes with one bend gone wrong come home, how many could, and how long it takes.

    python benchmarks/bench_rescue.py --tubes 300

The best that could be is sought by SciPy's SLSQP from several starts on plain reckoning
(`tests/truth/rescue_by_another.py`), only where the rescue does not land. Times are of one core.
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.truth.rescue_by_another import best_miss
from tests.truth.test_rescue import drawn, goal_of, gone_wrong, half_of


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tubes", type=int, default=300)
    parser.add_argument("--starts", type=int, default=6, help="starts of the other optimiser")
    options = parser.parse_args()
    ours = theirs = 0
    times: dict[bool, list[float]] = {True: [], False: []}
    for seed in range(options.tubes):
        rng = np.random.default_rng(seed)
        plan = drawn(rng)
        began = time.process_time()
        wrong = gone_wrong(plan, rng)
        landed = wrong.result.lands
        times[landed].append(time.process_time() - began)
        ours += landed
        theirs += landed or best_miss(half_of(wrong), goal_of(plan), options.starts, seed) <= 1
    print(f"{options.tubes} tubes: {ours} brought home, {theirs} could be")
    for landed, spent in times.items():
        if spent:
            words = "landed" if landed else "did not"
            print(f"{words}: median {np.median(spent):.3f} s, worst {max(spent):.3f} s")


if __name__ == "__main__":
    main()
