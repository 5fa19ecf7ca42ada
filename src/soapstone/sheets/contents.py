"""What a printed pack is made from: results and words, nothing still to be worked out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from soapstone.check.cope.joint import Cope
from soapstone.check.inspect.choosing import CheckDistance
from soapstone.findings import Finding
from soapstone.fit.clearance import Clearance, KeepOut
from soapstone.plan.model import TubePlan
from soapstone.quantities import Tape, Units
from soapstone.sheets.words import Numbers

Paper: TypeAlias = Literal["A4", "Letter"]

STANDARD_CAUTIONS = (
    "Keep hands clear of die, clamp and follower: they pinch, and a loaded ram lets go at once.",
    "Eyes and gloves: cut ends are sharp, and chips fly.",
    "Long sticks: lift with two, and look where the lead end swings and the tail sticks out.",
    "Take zinc, paint and oil off before welding: their fumes poison.",
    "Strength is not checked here: where people or loads depend on it, engineer and codes decide.",
)
"""Short words of safety for the cover."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the tubes keep clear of, and each tube's certified least gap to it, by tube name.

    A keep-out's own `gap` may differ from tube to tube; what is wanted stands in the gaps.
    """

    keepouts: tuple[KeepOut, ...]
    gaps: Mapping[str, tuple[Clearance, ...]]


@dataclass(frozen=True, slots=True)
class CutStick:
    """One stick, or several cut alike: pieces (name, mm) from its left end on, `kerf` mm a cut.

    `source` says where it comes from; `tubing` and `source` may be empty.
    """

    tubing: str
    source: str
    length: float
    pieces: tuple[tuple[str, float], ...]
    kerf: float
    times: int


@dataclass(frozen=True, slots=True)
class PackContents:
    """All that goes into a pack.

    Attributes
    ----------
    job
        The job's name, as the user wrote it.
    units, tape, dial_step
        What lengths are printed in and rounded to; the dial's graduation in degrees.
    paper
        "A4" or "Letter".
    bender
        The bender's name; how it turns stands in each tube's setup.
    tubes
        The plans. A tube whose `of` names another and mirrors it shares its sheet and cards.
    date
        Printed as given.
    distances
        Check distances by tube name.
    calibrations
        How well the dial is known, in a sentence, by tube name.
    cautions, findings
        For the cover; each tube's own findings come from its plan.
    unmade
        Names of tubes that have no plan; `findings` say why.
    note
        A line printed boldly on the cover, such as that the data are invented.
    surroundings
        What was checked for clearance; None prints no page of it.
    cuts
        How sticks are cut into the lengths that are bent; none prints no page of it.
    copes
        The ends that are coped, in any order; none prints no page of them.
    """

    job: str
    units: Units
    tape: Tape
    dial_step: float
    paper: Paper
    bender: str
    tubes: tuple[TubePlan, ...]
    date: str
    distances: Mapping[str, tuple[CheckDistance, ...]] = field(default_factory=dict)
    calibrations: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = STANDARD_CAUTIONS
    findings: tuple[Finding, ...] = ()
    note: str = ""
    surroundings: Surroundings | None = None
    unmade: tuple[str, ...] = ()
    cuts: tuple[CutStick, ...] = ()
    copes: tuple[Cope, ...] = ()

    @property
    def numbers(self) -> Numbers:
        """How this pack writes numbers."""
        return Numbers(self.units, self.tape, self.dial_step)
