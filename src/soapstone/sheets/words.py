"""What the sheets say, in a fabricator's plain words, and how they write numbers."""

import unicodedata
from dataclasses import dataclass

from soapstone.plan.model import BendStep, LevelReading
from soapstone.quantities import Tape, format_length

LEVEL_SAYS_LITTLE = 0.3
"""Degrees of reading for a degree of roll, below which a level is no good guide."""

NO_BREAK = "\u00a0"
"""The space within a length."""

LONG_WORD = 12
"""Characters; a longer word may be broken."""

_DROPPED = {"Cc", "Cs", "Co", "Cn"}
_TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")


@dataclass(frozen=True, slots=True)
class Numbers:
    """How a job's numbers are written: its units, tape and the dial's graduation in degrees."""

    units: str
    tape: Tape
    dial_step: float

    def length(self, mm: float, *, unit: bool = True) -> str:
        """Write a length to the tape, in one piece that no line break divides."""
        text = format_length(mm, self.units, self.tape, unit=unit)
        return text.replace(" ", NO_BREAK)

    def exact(self, mm: float) -> str:
        """Write a length to 0.1 mm, or in inches to three decimals: to check by, not to tape."""
        return f"{mm:.1f} mm" if self.units == "mm" else f"{mm / 25.4:.3f} in"

    def dial(self, reading: float) -> str:
        """Write a dial reading with as many decimals as the dial's graduations need."""
        return degrees(reading, decimals_of(self.dial_step))


def decimals_of(step: float) -> int:
    """Count the decimals that multiples of a step need, at most 3."""
    return next((d for d in range(3) if abs(step * 10**d - round(step * 10**d)) < 1e-9), 3)


def degrees(value: float, decimals: int = 1) -> str:
    """Write an angle with `decimals` places; never "-0.0"."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}°"


def short_degrees(value: float) -> str:
    """Write an angle to a tenth, without a zero tenth: 90°, 37.5°."""
    return f"{round(value, 1) + 0.0:g}°"


def roll_title(roll: float) -> str:
    """Say how much to roll, without the way: "90°", "no roll"."""
    return "0°" if is_still(roll) else short_degrees(abs(roll))


def roll_way(roll: float) -> str:
    """Say which way to roll: "clockwise", "anticlockwise", "half a turn", "keep as it lies"."""
    if is_still(roll):
        return "keep as it lies"
    if abs(roll - 180) < 0.05:
        return "half a turn"
    return "clockwise" if roll > 0 else "anticlockwise"


def roll_words(roll: float) -> str:
    """Say the whole roll in a sentence."""
    if is_still(roll):
        return "No roll: keep the tube as it lies."
    way = "clockwise" if roll > 0 else "anticlockwise"  # of half a turn too: one way may be free
    return f"Roll {short_degrees(abs(roll))} {way}, seen from the tail."


def turn_words(step: BendStep, plane: str) -> str:
    """Say how to turn the tube to its other end before a bend; nothing when it is not turned."""
    if not step.end_for_end:
        return ""
    way = "end for end, flat on the table" if plane == "horizontal" else _OVER
    return f"Turn the tube {way}: the {step.lead} end leads now."


_OVER = "end over end, in the die's plane"


def is_still(roll: float) -> bool:
    """Tell whether a roll is none, to the tenth of a degree that it is written to."""
    return abs(roll) < 0.05


def level_short(level: LevelReading | None) -> str:
    """Say a level reading in a few words; of one that says little, what to use instead."""
    if level is None:
        return "–"
    if level.sharpness < LEVEL_SAYS_LITTLE:
        return "wrap band"
    return f"leg {level.leg} {_reads(level)}"


def level_words(step: BendStep, first: bool) -> str:
    """Say how to set the roll with a level, or what to do without."""
    level = step.level
    if level is None:
        if first:
            return "First bend: nothing to level yet."
        return "No straight will hold a level: set the roll by the wrap band."
    words = f"Leg {level.leg} {_reads(level)}."
    if level.sharpness < LEVEL_SAYS_LITTLE:
        words += " A poor guide here: set the roll by the wrap band."
    return words


def _reads(level: LevelReading) -> str:
    reads = round(level.reads, 1)
    up = f", {level.rises} end up" if level.rises else ""
    if reads >= 90.0:
        return f"plumb, seen from the tail{up}"
    if reads < 0.05 or not level.rises:
        return "level"
    return f"at {degrees(level.reads)}{up}"


def clock_words(clock: float) -> str:
    """Say a place on the clock to the half hour: "3 o'clock", "half past 10"."""
    halves = round(clock * 2) % 24
    hour = halves // 2 or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"


def plain(text: str) -> str:
    """Make a user's text fit to print: one line, no control or direction-changing characters."""
    kept = (" " if c.isspace() else c for c in text if c.isspace() or _prints(c))
    return " ".join("".join(kept).split())


def _prints(c: str) -> bool:
    return unicodedata.category(c) not in _DROPPED and c not in _TURNING


def shortened(text: str, longest: int) -> str:
    """Make a user's text fit to print and at most `longest` characters long."""
    words = plain(text)
    return words if len(words) <= longest else words[: longest - 1].rstrip() + "…"


def breakable(text: str, longest: int = LONG_WORD) -> str:
    """Allow a line break within words of more than `longest` characters, by a space of no width."""
    return " ".join(_broken(word, longest) for word in text.split(" "))


def _broken(word: str, longest: int) -> str:
    return "\u200b".join(word[i : i + longest] for i in range(0, len(word), longest))
