"""What the log holds, row by row: each class is a table, its fields the columns in their order."""

from dataclasses import dataclass
from typing import Literal

SHORT = 6
"""So many signs of a name made by chance are shown."""

_LONG = 32


@dataclass(frozen=True, slots=True)
class Run:
    """One tube being made: its plan as it was at the start. `ended` is None until it is over.

    `job` is the path of the job's file, `title` the job's own name; `trials` lists, as JSON, the
    logged trial bends that its plan was learnt from.
    """

    id: str
    job: str
    tube: str
    lot: str
    started: str
    plan: str
    ended: str | None = None
    title: str = ""
    trials: str = "[]"


@dataclass(frozen=True, slots=True)
class Step:
    """What was said of step `number` of a run, as JSON."""

    run: str
    number: int
    event: str
    at: str


@dataclass(frozen=True, slots=True)
class LoggedTrial:
    """A bend made: where the dial was stopped and the angle it gave, in degrees.

    `id` is the piece it stands on and the bend's number, so that no bend counts twice, whoever
    tells of it. `source` is "run", "inspection" or "trial"; `od`, `wall` and `clr` are those of
    tubing and die in mm, None where an older log has not kept them.
    """

    id: str
    die: str
    tubing: str
    lot: str
    date: str
    dial: float
    angle: float
    source: str = "run"
    od: float | None = None
    wall: float | None = None
    clr: float | None = None


@dataclass(frozen=True, slots=True)
class Stick:
    """A straight piece of tubing: a stick as bought, or what was left over; `length` in mm.

    `cut_from` names the stick or run that it was left over from.
    """

    id: str
    tubing: str
    lot: str
    date: str
    length: float
    kind: str = "remnant"
    cut_from: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Use:
    """A stick used up; what is left of it is a new one."""

    stick: str
    date: str
    used_for: str


@dataclass(frozen=True, slots=True)
class Inspected:
    """A made tube that was held against its drawing: its readings and what they told, as JSON."""

    id: str
    job: str
    tube: str
    lot: str
    date: str
    readings: str
    result: str


Remnant = Stick
Table = Literal["runs", "steps", "trials", "sticks", "uses", "inspections"]
TABLES: dict[Table, type] = {
    "runs": Run,
    "steps": Step,
    "trials": LoggedTrial,
    "sticks": Stick,
    "uses": Use,
    "inspections": Inspected,
}
KEYS: dict[Table, int] = {name: 2 if name == "steps" else 1 for name in TABLES}
"""How many of a table's first columns name a row."""


def short(name: str) -> str:
    """Give a row's name as people are shown it."""
    return name[:SHORT] + name[_LONG:] if len(name) >= _LONG else name


def named(name: str, given: str) -> bool:
    """Tell whether a row is meant by what somebody typed: its short name, or its first signs."""
    return given in (name, short(name)) or (len(given) >= 4 and name.startswith(given))
