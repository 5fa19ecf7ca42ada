"""The route designer: the tube with the fewest bends that keeps clear of all that is in the way.

`design` finds a route, `mend` changes an existing shape as little as it can. What they take and
give is in `problem`; the search is compiled, and its modules are loaded on first use.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from soapstone.findings import Say, say_mm
from soapstone.fit.route.problem import (
    Alternative,
    End,
    Mended,
    Route,
    RouteProblem,
    RouteResult,
    Via,
)
from soapstone.geometry.vectors import Vec3

__all__ = [
    "Alternative",
    "End",
    "Mended",
    "Route",
    "RouteProblem",
    "RouteResult",
    "Via",
    "design",
    "mend",
]


def design(
    problem: RouteProblem,
    seconds: float = 10.0,
    seed: int = 0,
    on_better: Callable[[Route], object] | None = None,
    cancel: Callable[[], bool] | None = None,
    say: Say = say_mm,
) -> RouteResult:
    """Find the tube with the fewest bends, and of those the shortest, that satisfies `problem`.

    Parameters
    ----------
    seconds
        Bounds the search; it ends sooner when many starts in a row bring nothing better. Compiling
        the search, once on a machine, and making trees of meshes come on top: the result's
        `ready_seconds`.
    seed
        The same seed gives the same route as long as `seconds` does not cut the search short: it
        is starts that are counted, not seconds. A mirrored problem gives the mirrored route.
    on_better
        Is called with each better route, the first one as soon as there is any.
    cancel
        Is asked every few hundredths of a second whether to stop.
    say
        Writes a length the way the reasons should.
    """
    from soapstone.fit.route.designer import run_design
    from soapstone.fit.route.warm import get_ready

    began = time.perf_counter()
    get_ready(problem)
    compiled = time.perf_counter() - began
    found = run_design(problem, seconds, seed, on_better, cancel, say)
    return replace(found, ready_seconds=found.ready_seconds + compiled)


def mend(
    problem: RouteProblem,
    corners: Sequence[Vec3],
    seconds: float = 5.0,
    seed: int = 0,
    cancel: Callable[[], bool] | None = None,
    say: Say = say_mm,
) -> Mended:
    """Satisfy `problem` with the least change to a shape given by its corners, ends included.

    The change is the sum of the squares of how far corners move. The shape's number of bends is
    kept when it can be; else up to three are put in, all in one leg.
    """
    from soapstone.fit.route.nudge import run_mend
    from soapstone.fit.route.warm import get_ready

    get_ready(problem)
    return run_mend(problem, corners, seconds, seed, cancel, say)
