"""What a survey's answer needs said about it, as findings in the survey's own units."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from soapstone.findings import Finding, Severity
from soapstone.geometry.vectors import Array
from soapstone.job.survey.frame import listed
from soapstone.job.survey.model import WAYS
from soapstone.job.survey.next_tape import NextTape
from soapstone.job.survey.result import Suspect
from soapstone.quantities import Tape, format_length

_ALIKE = 4.0  # odds below which two places fit alike
_LONG_ODDS = 100.0  # odds from which the likelier place may be worked to

_FINE = {"mm": Tape(Fraction(1, 10), "mm"), "in": Tape(Fraction(1, 32), "in")}


@dataclass(frozen=True, slots=True)
class Speech:
    """Writes lengths in mm in a survey's own units, to 0.1 mm or 1/32 in."""

    units: str

    def length(self, mm: float) -> str:
        """Write a length."""
        return format_length(mm, self.units, _FINE[self.units])

    def plus_minus(self, mm: float) -> str:
        """Write a plus_minus; one too small to be read off as less than the least that can be."""
        least = _FINE[self.units].step_mm
        return f"± {self.length(mm)}" if mm >= least / 2 else f"under ± {self.length(least)}"

    def place(self, at: Array) -> str:
        """Write a place as a file would have it."""
        tape = _FINE[self.units]
        numbers = (format_length(float(mm), self.units, tape, unit=False) for mm in at)
        return f"[{', '.join(numbers)}] {self.units}"


def unframed(group: Sequence[str], fault: tuple[str, str]) -> Finding:
    """Say that a group of points can move as one piece."""
    what, mend = fault
    return Finding("stop", points(group), what, mend)


def loose_point(
    name: str, loose: Array, tapes: Sequence[NextTape], misspelt: str, speech: Speech
) -> Finding:
    """Say that a point is not pinned down, in which directions, and which tapes would do it."""
    if len(loose) >= 3:
        what = "its rows hold it in no direction"
    elif len(loose) == 2:
        way = way_word(np.cross(loose[0], loose[1]))
        what = f"its rows hold it along {way} only"
    else:
        what = f"nothing holds it along {way_word(loose[0])}"
    mend = _tape_it(tapes)
    if misspelt:
        mend = f'if "{misspelt}" is meant, write it so; else {mend}'
    mend += _then(tapes, speech)
    return Finding("stop", f'point "{name}"', what, mend)


def weak_point(
    name: str, radius: float, way: Array, tapes: Sequence[NextTape], speech: Speech
) -> Finding:
    """Say that a point is known badly, in which direction, and which tapes would mend it."""
    what = f"known to {speech.plus_minus(radius)} only, worst along {way_word(way)}"
    mend = _tape_it(tapes)
    mend += _then(tapes, speech)
    return Finding("warn", f'point "{name}"', what, mend)


def two_places(
    moved: Sequence[str],
    here: Array,
    there: Array,
    odds: float,
    telling: NextTape | None,
    speech: Speech,
) -> Finding:
    """Say that a point fits two places; `moved` are it and those that go with it.

    `odds` are how many times less likely the second place is.
    """
    apart = here - there
    axis = int(np.argmax(np.abs(apart)))
    word, other = _opposites(axis, float(apart[axis]))
    alike = " alike" if odds < _ALIKE else ""
    what = (
        f"fits two places{alike}, {speech.place(here)}, which is taken, and {speech.place(there)}, "
        f"{speech.length(float(np.linalg.norm(apart)))} apart"
    )
    if not alike:
        what += f", the second {odds:.0f} times less likely"
    if moved[1:]:
        what += f"; {points(moved[1:])} {'goes' if len(moved) == 2 else 'go'} with it"
    mend = (
        f'say which in a row [[side]] of point = "{moved[0]}", toward = "{word}"; '
        f'or "{other}" for the second'
    )
    if telling and telling.expected is not None and telling.otherwise is not None:
        mend += (
            f'; or tape "{telling.start}" to "{telling.end}": '
            f"{speech.length(telling.expected)} for the first, "
            f"{speech.length(telling.otherwise)} for the second"
        )
    severity: Severity = "stop" if odds < _LONG_ODDS else "warn"
    return Finding(severity, f'point "{moved[0]}"', what, mend)


def contradicted(number: int, name: str) -> Finding:
    """Say that a hint cannot be had together with the others."""
    return Finding(
        "stop",
        f'side {number}, point "{name}"',
        "cannot be had together with the other side rows",
        "look at which of them is meant",
    )


def suspected(suspect: Suspect, speech: Speech) -> Finding:
    """Say that one reading is wrong."""
    return Finding(
        "warn", where(suspect), reads(suspect, speech), "left out of the answer; measure it again"
    )


def one_of(suspects: Sequence[Suspect], speech: Speech) -> Finding:
    """Say that one of several readings is wrong, and that the others cannot tell which."""
    each = "; ".join(f"{where(suspect)}, {reads(suspect, speech)}" for suspect in suspects)
    return Finding(
        "stop",
        " or ".join(suspect.row for suspect in suspects),
        f"one of them is wrong, and the other rows cannot tell which: {each}",
        "measure them again; until then the first is left out, and each plus_minus allows for any",
    )


def where(suspect: Suspect) -> str:
    """Name a row and its points."""
    if suspect.row.startswith("datum"):
        return f'datum "{suspect.points[0]}"'
    if suspect.row.startswith("tape"):
        return f"{suspect.row} ({suspect.points[0]} to {suspect.points[1]})"
    return f"{suspect.row} ({', '.join(suspect.points)})"


def reads(suspect: Suspect, speech: Speech) -> str:
    """Say what a reading is, and what the others make it."""
    spread = speech.plus_minus(suspect.plus_minus)
    about = f"{speech.length(suspect.expected)} {spread}"
    name, kind = suspect.points[0], suspect.row.split()[0]
    if kind == "tape":
        text = (
            f"reads {speech.length(suspect.measured)} where the rest makes it {about}: "
            f"off by {speech.length(suspect.off_by)}"
        )
    elif kind == "level":
        lies = "above" if suspect.expected > 0 else "below"
        height = f"{speech.length(abs(suspect.expected))} {spread}"
        text = f'the other rows put "{name}" {height} {lies} the rest of it'
    elif kind == "plumb":
        text = f'the other rows put "{name}" {about} out of plumb with the rest of it'
    elif kind == "midpoint":
        text = f'the other rows put "{name}" {about} from half-way'
    else:
        text = f"the rows put it {about} from where it is given"
    return f"{text} ({suspect.slip})" if suspect.slip else text


def unmet(rows: Sequence[str]) -> Finding:
    """Say that no place meets some rows, which nothing checks."""
    return Finding(
        "stop",
        ", ".join(rows) or "survey",
        "no place fits all the rows; the points given are the nearest to it, and are not to be "
        "worked to",
        "measure these again, and those of the same points",
    )


def noisy(noise: float) -> Finding:
    """Say that all rows disagree more than they say."""
    return Finding(
        "warn",
        "survey",
        f"the rows disagree {noise:.1f} times as much as their plus_minus allows",
        "every plus_minus of the answer is widened by as much; pull the tape straight and look "
        "for a mark that moved, or give the rows a plus_minus they can keep",
    )


def unchecked(names: Sequence[str], tapes: Sequence[NextTape], speech: Speech) -> Finding:
    """Say that a wrong reading at these points would not show."""
    them = "it" if len(names) == 1 else "them"
    what = f"a wrong reading there may not show: the rows are just enough to find {them}"
    shown = [
        f'"{tape.start}" to "{tape.end}" ({speech.length(tape.expected)})'
        for tape in tapes
        if tape.expected is not None
    ]
    mend = f"to check, tape {', '.join(shown)}" if shown else ""
    return Finding("note", points(names), what, mend)


def points(names: Sequence[str]) -> str:
    """Name points; those past the sixth are counted."""
    if len(names) > 6:
        front = ", ".join(f'"{name}"' for name in names[:6])
        return f"points {front} and {len(names) - 6} more"
    return f"point{'s' if len(names) > 1 else ''} {listed(names)}"


def way_word(way: Array) -> str:
    """Name a direction, of no particular sense, by its axis or in numbers."""
    direction = way / np.linalg.norm(way)
    for word, axis in (("x", "+x"), ("y", "+y"), ("the vertical", "up")):
        if abs(float(direction @ np.array(WAYS[axis]))) > 0.97:
            return word
    largest = direction[int(np.argmax(np.abs(direction)))]
    parts = np.round(direction * np.sign(largest), 2) + 0.0
    return "[" + ", ".join(f"{part:.2f}" for part in parts) + "]"


def _opposites(axis: int, sense: float) -> tuple[str, str]:
    word, other = (("+x", "-x"), ("+y", "-y"), ("up", "down"))[axis]
    return (word, other) if sense > 0 else (other, word)


def _then(tapes: Sequence[NextTape], speech: Speech) -> str:
    """Say how well a point will be known with the tapes proposed."""
    after = tapes[-1].after if tapes else None
    return "" if after is None else f" ({speech.plus_minus(after)} then)"


def _tape_it(tapes: Collection[NextTape]) -> str:
    if not tapes:
        return "tape it to one more point that is known, or is itself taped to three known points"
    return f"tape it to {listed([tape.end for tape in tapes])}"
