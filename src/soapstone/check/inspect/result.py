"""What an inspection gives: the tube as made against the tube as drawn."""

from dataclasses import asdict, dataclass

from soapstone.findings import Finding, stops


@dataclass(frozen=True, slots=True)
class AsMadeNumber:
    """One number of a tube. mm or degrees.

    Attributes
    ----------
    what
        "leg", "angle" or "roll" (the bend's rotation since the bend before).
    n
        The leg's or bend's number from A.
    drawn, made
        As drawn, and as found.
    plus_minus
        What `made` may be off by, 19 times of 20.
    limit
        By how much it may differ from the drawing.
    verdict
        "good" or "out", when sure 19 times of 20; else "doubtful".
    told
        Share, 0 to 1, of what was not known before that the readings made known.
    """

    what: str
    n: int
    drawn: float
    made: float
    plus_minus: float
    limit: float
    verdict: str
    told: float

    @property
    def off(self) -> float:
        """By how much it is made too large."""
        return self.made - self.drawn


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading or a step of the making that does not fit.

    `row` is "tape 3" or "bend 2" for a reading, else such as "dial of bend 2"; `measured` and
    `expected` are 0 for a step. `off_by` is in mm or degrees. `sure` is False when another of the
    suspects may be the wrong one as well.
    """

    row: str
    measured: float
    expected: float
    off_by: float
    sure: bool


@dataclass(frozen=True, slots=True)
class TrialRow:
    """A bend of this tube as a trial bend: dial held, finished angle with its plus or minus."""

    bend: int
    dial: float
    angle: float
    plus_minus: float
    springback: float


@dataclass(frozen=True, slots=True)
class Inspection:
    """A made tube against its drawing.

    `ends` is how far the B end is from where it should be when the A end is laid right, mm, and
    `ends_plus_minus` what that may be off by; `worst` is the number that is off by most for what
    it is known to, and `worst_moves` how far that alone moves the B end.
    """

    tube: str
    units: str
    numbers: tuple[AsMadeNumber, ...]
    ends: float
    ends_plus_minus: float
    ends_limit: float
    worst: AsMadeNumber | None
    worst_moves: float
    suspects: tuple[Suspect, ...]
    trials: tuple[TrialRow, ...]
    findings: tuple[Finding, ...]
    source: str
    noise: float

    @property
    def sound(self) -> bool:
        """Whether nothing is surely out, and no mistake is left open."""
        return not stops(self.findings)

    def as_json(self) -> dict[str, object]:
        """Give the inspection as a JSON object, mm and degrees."""
        return {
            "tube": self.tube,
            "sound": self.sound,
            "as_made": [{**asdict(one), "off": one.off} for one in self.numbers],
            "ends": {
                "off": self.ends,
                "plus_minus": self.ends_plus_minus,
                "limit": self.ends_limit,
            },
            "worst": None
            if self.worst is None
            else {"what": self.worst.what, "n": self.worst.n, "moves_b_end": self.worst_moves},
            "suspects": [asdict(one) for one in self.suspects],
            "trials": [asdict(one) for one in self.trials],
            "tolerance": self.source,
            "noise": self.noise,
            "problems": [finding.as_json() for finding in self.findings],
        }
