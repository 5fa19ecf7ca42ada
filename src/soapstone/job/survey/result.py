"""What a survey gives: points with their plus_minus, readings to doubt, what to measure next."""

from collections.abc import Mapping
from dataclasses import dataclass

from soapstone.findings import Finding, stops
from soapstone.geometry.vectors import Vec3
from soapstone.job.survey.next_tape import NextTape


@dataclass(frozen=True, slots=True)
class SurveyPoint:
    """One point found. Lengths in mm.

    Attributes
    ----------
    at
        Where it is.
    plus_minus
        It lies within this distance of `at`, 19 times of 20.
    plus_minus_xyz
        The same of each coordinate by itself.
    checked
        Whether a wrong reading among its rows would show.
    elsewhere
        Other places that fit the rows as well, with no hint to choose.
    """

    at: Vec3
    plus_minus: float
    plus_minus_xyz: Vec3
    checked: bool
    elsewhere: tuple[Vec3, ...] = ()

    def as_json(self) -> dict[str, object]:
        """Give the point as a JSON object."""
        return {
            "at": list(self.at),
            "plus_minus": self.plus_minus,
            "plus_minus_xyz": list(self.plus_minus_xyz),
            "checked": self.checked,
            "elsewhere": [list(place) for place in self.elsewhere],
        }


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading that does not fit the others. Lengths in mm.

    Attributes
    ----------
    row
        The row as its file names it: "tape 3", "level 1", "datum foot".
    points
        The points it ties together; for one off a level or plumb line, that point first.
    measured, expected
        What it reads, and what the other rows make it. For a level or plumb line, a midpoint or a
        datum these are distances from the place where it should be, so `measured` is 0.
    off_by
        `measured` - `expected`.
    plus_minus
        Of `expected`, 19 times of 20.
    sure
        False when another reading may be the wrong one as well; all such are listed.
    slip
        What may have happened, when it looks like a common slip; else empty.
    """

    row: str
    points: tuple[str, ...]
    measured: float
    expected: float
    off_by: float
    plus_minus: float
    sure: bool
    slip: str = ""

    def as_json(self) -> dict[str, object]:
        """Give the suspect as a JSON object; a tape's ends are `from` and `to`."""
        ends = {}
        if self.row.startswith("tape"):
            ends = {"from": self.points[0], "to": self.points[1]}
        return {
            "row": self.row,
            **ends,
            "points": list(self.points),
            "measured": self.measured,
            "expected": self.expected,
            "off_by": self.off_by,
            "plus_minus": self.plus_minus,
            "sure": self.sure,
            "slip": self.slip,
        }


@dataclass(frozen=True, slots=True)
class SurveyResult:
    """The answer to a survey.

    Attributes
    ----------
    name, units
        As in the survey.
    datum
        The known points.
    points
        The points found, in mm.
    undetermined
        Names of points that the rows do not pin down.
    suspects
        Readings to doubt. Those that are sure are left out of the answer.
    findings
        All that is to be said about it, the most pressing first.
    measure_next
        Distances worth taping.
    rows, redundancy
        How many equations there are, and how many more than it takes to find the points.
    noise
        How many times more the rows disagree than they say; 1 when they do not.
    """

    name: str
    units: str
    datum: Mapping[str, Vec3]
    points: Mapping[str, SurveyPoint]
    undetermined: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    findings: tuple[Finding, ...]
    measure_next: tuple[NextTape, ...]
    rows: int
    redundancy: int
    noise: float

    @property
    def sound(self) -> bool:
        """Whether every point is found, on a side that is sure, and nothing contradicts it."""
        return not stops(self.findings)

    @property
    def places(self) -> dict[str, Vec3]:
        """All points with a place, those of the datum first: the `[points]` of a job, in mm."""
        return {**self.datum, **{name: point.at for name, point in self.points.items()}}

    def as_json(self) -> dict[str, object]:
        """Give the answer as a JSON object; lengths in mm."""
        return {
            "name": self.name,
            "sound": self.sound,
            "points": {name: point.as_json() for name, point in self.points.items()},
            "datum": {name: list(place) for name, place in self.datum.items()},
            "undetermined": list(self.undetermined),
            "suspects": [suspect.as_json() for suspect in self.suspects],
            "measure_next": [_next_json(tape) for tape in self.measure_next],
            "rows": self.rows,
            "redundancy": self.redundancy,
            "noise": self.noise,
            "problems": [finding.as_json() for finding in self.findings],
        }


def _next_json(tape: NextTape) -> dict[str, object]:
    return {
        "from": tape.start,
        "to": tape.end,
        "why": tape.why,
        "expected": tape.expected,
        "otherwise": tape.otherwise,
        "plus_minus_now": tape.before,
        "plus_minus_then": tape.after,
    }
