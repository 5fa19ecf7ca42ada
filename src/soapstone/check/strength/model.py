"""What a frame is made of, and what is found of it. mm, N, MPa, kg, degrees unless said."""

from dataclasses import dataclass

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3

SHEAR_RATIO = 2.6
"""E over G of metals, 2 (1 + 0.3): Poisson's ratio 0.3, from memory."""


@dataclass(frozen=True, slots=True)
class FrameTube:
    """A tube of the frame: its centreline and section, and what it is made of.

    `yield_strength` and `welded_yield` in MPa, the latter beside a weld; `density` in kg/m3.
    """

    name: str
    line: Centreline
    od: float
    wall: float
    e: float
    yield_strength: float
    welded_yield: float
    density: float


@dataclass(frozen=True, slots=True)
class Held:
    """A place held by the world: a tube, how far along it from its A end, and what is fixed.

    `fix` is six flags: x, y, z, and the rotations about them. `at` is how the job says it.
    """

    tube: str
    along: float
    at: str
    fix: tuple[bool, bool, bool, bool, bool, bool]


@dataclass(frozen=True, slots=True)
class Weld:
    """Places on tubes that are joined stiffly: (tube, how far along it from its A end)."""

    places: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Carried:
    """A load of a case: force (N) at a point, carried stiffly onto places of tubes.

    `mass` is what it weighs, in kg, 0 for a plain force.
    """

    case: str
    at: Vec3
    force: Vec3
    onto: tuple[tuple[str, float], ...]
    mass: float = 0.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A whole frame."""

    tubes: tuple[FrameTube, ...]
    supports: tuple[Held, ...]
    welds: tuple[Weld, ...]
    loads: tuple[Carried, ...]
    own_weight: bool = False


@dataclass(frozen=True, slots=True)
class Reaction:
    """What a support must hold: force in N and moment in N m, by the world's axes."""

    tube: str
    at: str
    force: Vec3
    moment: Vec3


@dataclass(frozen=True, slots=True)
class Worst:
    """Where stress comes nearest to yield: tube and mm from its A end, and whether by a weld."""

    tube: str
    along: float
    point: Vec3
    by_weld: bool


@dataclass(frozen=True, slots=True)
class TubeStress:
    """One tube in one case: its greatest von Mises stress in MPa, and yield over stress."""

    tube: str
    stress: float
    reserve: float
    along: float


@dataclass(frozen=True, slots=True)
class CaseResult:
    """One load case.

    `deflection` is the most that any place moves, in mm, at `deflected` (tube, mm from A);
    `stress` the greatest von Mises stress in MPa, `reserve` the least yield over stress; `buckling`
    how many times the loads it would take for the frame to buckle, infinite if it never does.
    `shapes` are the moved centrelines, by tube, as points (n, 3) with stresses (n,).
    """

    case: str
    supports: tuple[Reaction, ...]
    deflection: float
    deflected: tuple[str, float]
    stress: float
    reserve: float
    worst: Worst
    tubes: tuple[TubeStress, ...]
    buckling: float
    shapes: tuple["Shape", ...] = ()


@dataclass(frozen=True, slots=True)
class Shape:
    """One tube as it stands and as it gives: points and moves in mm, von Mises stress in MPa.

    `used` is the share of yield at each point, 1 where it yields, beside welds of the yield there.
    """

    tube: str
    points: tuple[Vec3, ...]
    moves: tuple[Vec3, ...]
    stresses: tuple[float, ...]
    used: tuple[float, ...] = ()
