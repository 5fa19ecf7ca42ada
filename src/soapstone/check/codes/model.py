"""What a rule set is, what it is held against, and what comes of it."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from soapstone.plan.model import TubePlan

Status: TypeAlias = Literal["pass", "fail", "not checked"]

Kind: TypeAlias = Literal[
    "radius",
    "roundness",
    "flattening",
    "thinning",
    "seamless",
    "yield",
    "section",
    "grip",
    "grip gap",
    "height",
    "opening",
    "lowest",
    "by hand",
]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Attributes
    ----------
    kind
        What is looked at: see `tubes.py` and `rails.py`. "by hand" cannot be worked out here.
    asks
        What it asks for, in words and in the code's own unit.
    clause
        Where it stands in the publication, and how its value came here.
    low, high
        Limits, both allowed: a ratio, a share, MPa or mm, by kind.
    sections
        For "section": (OD, wall) in mm, of which one must be met.
    needs
        For "by hand": what is needed to decide.
    """

    kind: Kind
    asks: str
    clause: str
    low: float = 0.0
    high: float = float("inf")
    sections: tuple[tuple[float, float], ...] = ()
    needs: str = ""


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules of one publication under a name to choose them by. `about`: what they are for."""

    name: str
    publication: str
    about: str
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Ruling:
    """What one rule says of one tube or rail.

    `where` names it, `found` is what was found, `needs` what it takes to check what was not.
    """

    code: str
    rule: Rule
    where: str
    status: Status
    found: str = ""
    needs: str = ""

    def as_json(self) -> dict[str, str]:
        """Give it as a JSON object."""
        return {
            "code": self.code,
            "rule": self.rule.asks,
            "source": self.rule.clause,
            "where": self.where,
            "status": self.status,
            "found": self.found,
            "needs": self.needs,
        }


@dataclass(frozen=True, slots=True)
class Checked:
    """A tube as rules look at it: its plan, and its material's least yield strength in MPa.

    `clearance` is its certified least gap in mm to what is around it, `nearest` the name of that;
    None where there is nothing.
    """

    plan: TubePlan
    yield_strength: float
    clearance: float | None = None
    nearest: str = ""


@dataclass(frozen=True, slots=True)
class Guard:
    """Tubes that make one rail, over a floor: a point on it and the unit direction up from it.

    `name` is for messages. `grip` says that a hand is to close round them. `at` is None when no
    floor is named.
    """

    name: str
    tubes: tuple[Checked, ...]
    at: tuple[float, float, float] | None
    up: tuple[float, float, float]
    grip: bool
