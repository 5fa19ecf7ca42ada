"""Planted problems in three tiers: what is found, how soon, how many bends, how long.

    python benchmarks/bench_route.py --tier 2 --count 40

With `--optimum` every length is also held against the shortest tube with as many bends that an
independent programme (`optimum.py`) comes to from the planted tube, from the found one and from
strays of both: that ratio says what the designer leaves on the table, the ratio to the planted
length says also how much a problem leaves to be gained.

With `--hug` solids and swings stand next to the planted tube instead of 5 to 60 mm off: little can
then be gained on it.

`--soon` ends each search with the first route of no more bends than planted: that answers what is
found and how soon, of many problems in little time.

Times are of one core (process time), without loading the compiled search. Hardened problems
(`--hard`) take up to a minute each to make: routes with fewer bends than planted are blocked as
the designer finds them.
"""

import argparse
import time
from dataclasses import dataclass

import numpy as np
from optimum import optimum
from planted import HUG, ROOM, TIERS, Planted, Tier, planted

from soapstone.fit.route import Route, RouteProblem, RouteResult, design
from soapstone.fit.route.warm import warm
from soapstone.geometry.chain import corners


@dataclass(frozen=True)
class Run:
    """What came of one problem: seconds of one core to the first route, the best, the end."""

    planted: Planted
    result: RouteResult
    first: float
    last: float
    total: float


def run(one: Planted, seconds: float, seed: int = 0, soon: bool = False) -> Run:
    """Route one problem within so many seconds of one core."""
    warm()
    began = time.process_time()
    marks: list[float] = []
    bends: list[int] = []

    def better(route: Route) -> None:
        marks.append(time.process_time() - began)
        bends.append(route.bends)

    def enough() -> bool:
        good = soon and bool(bends) and bends[-1] <= one.bends
        return good or time.process_time() - began > seconds

    result = design(one.problem, 1e9, seed, on_better=better, cancel=enough)
    total = time.process_time() - began
    return Run(one, result, marks[0] if marks else np.inf, marks[-1] if marks else np.inf, total)


def for_hardening(problem: RouteProblem, seconds: float) -> RouteResult:
    """Search while a problem is made."""
    began = time.process_time()
    return design(problem, 1e9, cancel=lambda: time.process_time() - began > seconds)


def best_length(one: Run, strays: int, seed: int) -> float:
    """Give the least length in mm by the independent programme, for as many bends as were found."""
    route = one.result.route
    if route is None:
        return np.inf
    given = [np.array(corners(line)) for line in (one.planted.line, route.line)]
    return optimum(one.planted.problem, given, route.bends, strays, seed)


def against_optimum(runs: list[Run], best: list[float]) -> str:
    """Say how found and planted lengths stand to the independent optimum."""
    pairs = [(r, b) for r, b in zip(runs, best, strict=True) if r.result.route and np.isfinite(b)]
    if not pairs:
        return "  the independent programme found nothing"
    found = np.array([r.result.route.length / b for r, b in pairs if r.result.route])
    least = np.array([b / r.planted.length for r, b in pairs])
    return (
        f"  of the independent optimum ({len(pairs)} problems): median {np.median(found):.4f}, "
        f"90 % under {np.quantile(found, 0.9):.4f}, worst {found.max():.4f}, "
        f"shorter than it {np.mean(found < 0.9995):.0%}; "
        f"the optimum itself is {np.median(least):.3f} of planted"
    )


def summary(tier: Tier, runs: list[Run]) -> str:
    """Give the tier's line of the table."""
    found = [r for r in runs if r.result.route is not None and r.first <= tier.seconds]
    extra = sum(r.result.route.bends > r.planted.bends for r in found if r.result.route)
    lengths = [r.result.route.length / r.planted.length for r in found if r.result.route]
    freed = [r for r in found if r.result.route and r.result.route.bends > 1]
    of_free = [r.result.route.length / r.planted.length for r in freed if r.result.route]
    fewer = sum(r.result.route.bends < r.planted.bends for r in found if r.result.route)
    return (
        f"tier {tier.name}: found {len(found)} of {len(runs)} within {tier.seconds:g} s, "
        f"more bends than planted {extra}, fewer {fewer}; "
        f"first route {np.median([r.first for r in runs]):.4f} s "
        f"(worst {max(r.first for r in runs):.3f}), "
        f"last better {np.median([r.last for r in runs]):.2f} s; "
        f"length {np.median(lengths):.3f} of planted, "
        f"{np.median(of_free or [np.nan]):.3f} where two bends or more were found"
    )


def main() -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tier", type=int, action="append", choices=(1, 2, 3))
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--hard", action="store_true")
    parser.add_argument("--optimum", type=int, metavar="STRAYS", help="strays of each start")
    parser.add_argument("--hug", action="store_true")
    parser.add_argument("--soon", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    for number in options.tier or (1, 2, 3):
        tier = TIERS[number - 1]
        runs = []
        for seed in range(options.count):
            one = planted(
                tier,
                seed,
                for_hardening if options.hard else None,
                HUG if options.hug else ROOM,
            )
            runs.append(run(one, tier.seconds, soon=options.soon))
            route = runs[-1].result.route
            if options.verbose:
                got = "nothing" if route is None else f"{route.bends} bends {route.length:.0f} mm"
                print(
                    f"  {seed}: planted {one.bends} bends {one.length:.0f} mm, found {got}, "
                    f"first {runs[-1].first:.3f} s, last {runs[-1].last:.2f} s",
                    flush=True,
                )
        print(summary(tier, runs), flush=True)
        if options.optimum is not None:
            best = [best_length(one, options.optimum, seed) for seed, one in enumerate(runs)]
            print(against_optimum(runs, best), flush=True)


if __name__ == "__main__":
    main()
