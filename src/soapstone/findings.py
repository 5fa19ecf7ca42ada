"""Findings: what is wrong or doubtful about a job, where, and how to mend it.

A finding is a result and travels to the sheet; nothing is raised for it.
"""

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from typing import Literal, TypeAlias

Severity = Literal["stop", "warn", "note"]

Say: TypeAlias = Callable[[float], str]
"""Writes a length given in mm the way the job's owner reads it."""


def say_mm(length: float) -> str:
    """Write a length in mm to a tenth."""
    return f"{length:.1f} mm"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know before cutting metal.

    Attributes
    ----------
    severity
        "stop": the part cannot or must not be made so; "warn": it can, with care; "note": good to
        know.
    where
        The tube, bend, leg or file key it is about, in the user's words: "port leg, bend 2".
    what
        What is wrong, with the amount.
    mend
        What to do about it; empty when nothing need be done.
    """

    severity: Severity
    where: str
    what: str
    mend: str = ""

    def __str__(self) -> str:
        """Give the finding as one line."""
        line = f"{self.where}: {self.what}"
        return f"{line}; {self.mend}" if self.mend else line

    def as_json(self) -> dict[str, str]:
        """Give the finding as a JSON object."""
        return asdict(self)


def stops(findings: Iterable[Finding]) -> list[Finding]:
    """Keep the findings that must be mended before the part is made."""
    return [finding for finding in findings if finding.severity == "stop"]
