"""What a route must satisfy, and what the designer gives back."""

from dataclasses import dataclass, field

from soapstone.fit.clearance import KeepOut
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3


@dataclass(frozen=True, slots=True)
class End:
    """Where a tube ends: the point in mm and the direction of travel (A to B) there.

    `within` is the half angle in degrees by which it may lean; without `along` it is free.
    """

    at: Vec3
    along: Vec3 | None = None
    within: float = 0.0


@dataclass(frozen=True, slots=True)
class Via:
    """A point that the centreline must pass within `within` mm."""

    at: Vec3
    within: float


@dataclass(frozen=True, slots=True)
class RouteProblem:
    """All that a route must satisfy. Lengths in mm, angles in degrees.

    `clr` is the radius of the free shape; `min_first`, `min_straight`, `min_last` the least
    straights before the first bend, between bends and after the last; `angles` the least and most
    bend angle; `longest` the length of the longest stick: a longer tube is no route. A tube without
    bends has no straight before one, so it need only be as long as `shortest`.
    """

    start: End
    end: End
    od: float
    clr: float
    through: tuple[Via, ...] = ()
    keepouts: tuple[KeepOut, ...] = ()
    min_first: float = 0.0
    min_straight: float = 0.0
    min_last: float = 0.0
    angles: tuple[float, float] = (1.0, 170.0)
    max_bends: int = 8
    longest: float = 6000.0
    shortest: float = 0.0


@dataclass(frozen=True, slots=True)
class Route:
    """One tube that satisfies the problem.

    `corners` are where leg centrelines meet, ends included; a bend so wide that they meet nowhere
    near has two, as in `geometry.chain.corners`. `clearance` the certified least gap
    in mm to any keep-out over its whole travel (infinite without keep-outs), `nearest` its name.
    """

    corners: tuple[Vec3, ...]
    line: Centreline
    length: float
    clearance: float
    nearest: str

    @property
    def bends(self) -> int:
        """Number of bends."""
        return len(self.line.angles)


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another route, what is better about it, and what it costs in mm of tube and in bends."""

    what: str
    route: Route
    longer: float
    more_bends: int


@dataclass(frozen=True, slots=True)
class RouteResult:
    """What the search found.

    `route` is None when nothing was found, and `reasons` then say why. `first_seconds` is when
    the first route was there, `seconds` how long all took, `starts` how many starts were counted.
    `ready_seconds` went before them, to compile the search and to make trees of the meshes.
    """

    route: Route | None
    alternatives: tuple[Alternative, ...] = ()
    reasons: tuple[str, ...] = ()
    seconds: float = 0.0
    first_seconds: float = 0.0
    starts: int = 0
    finished: bool = field(default=True)
    ready_seconds: float = 0.0

    @property
    def found(self) -> bool:
        """Whether there is a route."""
        return self.route is not None


@dataclass(frozen=True, slots=True)
class Mended:
    """A shape mended: the route, how many mm each inner corner moved, or why it cannot be.

    `added` counts the bends that had to be put in; `moved` is then about the corners nearest.
    """

    route: Route | None
    moved: tuple[float, ...] = ()
    added: int = 0
    reasons: tuple[str, ...] = ()
    seconds: float = 0.0
