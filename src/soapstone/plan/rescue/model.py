"""What was made and measured, and what is still to be done so that the tube lands."""

from dataclasses import dataclass
from typing import Literal

from soapstone.findings import Finding, stops
from soapstone.plan.model import BendStep, TubePlan


@dataclass(frozen=True, slots=True)
class MadeBend:
    """One bend that is made, as it was measured. Lengths in mm, angles in degrees.

    Attributes
    ----------
    n
        Its number from the A end, as on its card.
    angle
        What it measures after release; 0 means that it is not bent yet.
    roll
        How far the tube was really turned since the bend made before, as on the card: positive
        clockwise seen from the tail looking at the die. None: as planned.
    dial
        The reading at which the dial was stopped. None: as planned, if that can have given
        `angle`; else where the die's calibration has it for `angle`.
    mark
        Where the mark really lay, from the stock's A end. None: on the tape where the plan has it.
    leg
        The straight before it (A side), from the end of the bend before or of the stick, as it
        measures. None: as the marks have it. It takes the place of `mark`.
    """

    n: int
    angle: float
    roll: float | None = None
    dial: float | None = None
    mark: float | None = None
    leg: float | None = None


@dataclass(frozen=True, slots=True)
class Further:
    """A bend already made that goes back into the die and is taken further, to a greater angle.

    `dial` is where to stop it, given how it came out the first time; `dial_stop` the same on the
    dial's graduations. From `angle_now` it goes to `angle`, degrees after release.
    """

    n: int
    angle_now: float
    angle: float
    dial: float
    dial_stop: float


@dataclass(frozen=True, slots=True)
class EndMiss:
    """How far an end lies from where it was drawn, in mm, and how far askew it points, degrees."""

    end: Literal["A", "B"]
    off: float
    askew: float


@dataclass(frozen=True, slots=True)
class Rescue:
    """A tube some of whose bends are made, with the rest of it solved anew.

    Attributes
    ----------
    plan
        The tube as it will come out, laid where its ends fit best. Its steps are in the order
        made; those of `plan.made` stand as facts, with the angle that they will have at the end.
    drawn
        The plan that was being worked from.
    made
        The bends made, as measured, in the order made; what was not measured stands as planned.
    further
        Bends made that are to be taken further first of all, in the order to do so.
    ends
        What the A end and the B end still miss by.
    moved, moved_at
        The most that the tube lies off its drawn place, over its ends and the middles of its
        bends, in mm, and where: "bend 2", "A end".
    lands
        Whether both ends come within the tolerance that was asked for.
    usable
        Straight lengths, in mm, that could be sawn off as good stock if the tube is given up.
    problems
        What is wrong or doubtful.
    """

    plan: TubePlan
    drawn: TubePlan
    made: tuple[MadeBend, ...]
    further: tuple[Further, ...]
    ends: tuple[EndMiss, EndMiss]
    moved: float
    moved_at: str
    lands: bool
    usable: tuple[float, ...]
    problems: tuple[Finding, ...]

    @property
    def rest(self) -> tuple[BendStep, ...]:
        """The bends still to be made, in the order made."""
        return tuple(step for step in self.plan.bends if step.n not in self.plan.made)

    @property
    def sound(self) -> bool:
        """Whether the tube lands and can be made so."""
        return self.lands and not stops(self.problems)
