"""What a plan says: stock, marks, cuts, dial stops, rolls and level readings of each tube."""

from dataclasses import dataclass

from soapstone.bench.setup import Setup
from soapstone.findings import Finding
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3
from soapstone.plan.order import Order, Turn


@dataclass(frozen=True, slots=True)
class LevelReading:
    """Set the roll with a level on a straight already bent.

    Attributes
    ----------
    leg
        Which straight the level lies on: 1 is the leg at the A end.
    reads
        Degrees off level, 0 level to 90 plumb, once the tube is rolled right.
    rises
        Which end of that leg is the higher: "A", "B", or "" when it reads level.
    sharpness
        Degrees that the reading changes for one degree of roll, 0 to 1.
    """

    leg: int
    reads: float
    rises: str
    sharpness: float


@dataclass(frozen=True, slots=True)
class BendStep:
    """One bend as it is made, in the order made. Lengths in mm, angles in degrees.

    `n` counts bends from the A end and lies between leg n and leg n + 1; `lead` is the end that
    goes through the die first, and `end_for_end` whether the tube is turned to it since the bend
    made before. `mark` is the exact place, from the stock's A end, that goes to the
    die's index line; `stock_mark` the same on the tape. `arc_from`, `arc_to` are where the bend's
    stock begins and ends. `leg` is the straight before it (A side). `dial` is the reading to stop
    at and `dial_low`..`dial_high` hold 95 % of the readings that would give `angle`; `dial_stop`
    is `dial` on the dial's own graduations; `first_stop` is where to stop, release and measure
    first (None when the dial is known well enough). `roll` turns the tube since the bend made
    before, after it is turned end for end if it is, positive clockwise seen from the tail looking
    at the die. `ahead` and `behind` are the straights there for clamp and follower, up to the next
    bend made before or the stock's end. `strokes` are the readings at
    which to re-pin the ram. `level` is None for the first bend, or where no straight will hold one.
    """

    n: int
    lead: str
    mark: float
    stock_mark: float
    leg: float
    rotation: float
    angle: float
    loaded: float
    dial: float
    dial_low: float
    dial_high: float
    dial_stop: float
    first_stop: float | None
    roll: float
    strokes: tuple[float, ...]
    level: LevelReading | None
    clr_free: float
    arc_from: float
    arc_to: float
    ahead: float
    behind: float
    end_for_end: bool


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut made after bending.

    `keeps` is the end ("A" or "B") toward which the metal is kept. `offcut` is the length that
    falls off; 0 means the stick's own end is the part's end, and nothing is cut.
    """

    end: str
    mark: float
    stock_mark: float
    keeps: str
    offcut: float


@dataclass(frozen=True, slots=True)
class Seam:
    """Where the weld seam of the tubing goes when the tube is loaded for its first bend.

    `clock` is the hour (0 < clock <= 12) at which it is seen from the tail looking at the die, 12
    up; `from_neutral` the largest angle in degrees, over the bends, between seam and neutral line;
    `worst_bend` the bend where that is.
    """

    clock: float
    from_neutral: float
    worst_bend: int


@dataclass(frozen=True, slots=True)
class TubePlan:
    """One tube, planned. Lengths in mm, mass in kg.

    `shape` is the free centreline, `points` its corners, `length` its length along the
    centreline, `stock` what to cut before bending (`stock_tape`: on the tape). `of` names the tube
    that this one is the mirror image of, else it is empty. `setup` is what it is bent with.
    """

    name: str
    setup: Setup
    shape: Centreline
    points: tuple[Vec3, ...]
    length: float
    stock: float
    stock_tape: float
    mass: float
    bends: tuple[BendStep, ...]
    cuts: tuple[Cut, Cut]
    seam: Seam | None
    problems: tuple[Finding, ...]
    of: str = ""

    @property
    def order(self) -> Order:
        """In which order its bends are made, and which end leads at each."""
        return tuple(Turn(bend.n, bend.lead) for bend in self.bends)


@dataclass(frozen=True, slots=True)
class Unplanned:
    """A tube that has no plan: `problems` say why. `points` are its corners as far as known."""

    name: str
    points: tuple[Vec3, ...]
    problems: tuple[Finding, ...]
    of: str = ""
