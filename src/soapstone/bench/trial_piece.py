"""The trial piece for a die: what to cut, mark and bend, and what to tape on it afterwards.

A hairpin is the best piece, since its width is twice the radius and hardly touched by a mistaken
angle. Where the bender does not turn so far, a bend of about 120 degrees does, and the radius comes
from how far the corner of its outsides stands off it; below 90 degrees everything is taped to that
corner.
"""

import math
from dataclasses import dataclass
from typing import Literal

from soapstone.bench.calibrate import Calibration
from soapstone.quantities import format_angle, format_length

Kind = Literal["hairpin", "open", "shallow"]

HAIRPIN = 150.0  # finished degrees from which a bend is taped as a hairpin
OPEN = 95.0  # finished degrees from which the outermost of the bend lies on the arc for sure
WANTED = 120.0  # finished degrees of the open piece: a good corner, and still a good overall
SPARE = 40.0  # mm of straight beyond clamp and follower: the index line is not yet known
LEAST = 100.0  # mm of straight that a protractor or square can lie on
DOUBT = 3.0  # degrees the angle may miss while the tail still reaches past the square

READINGS: dict[Kind, tuple[str, ...]] = {
    "hairpin": ("lead_overall", "tail_overall", "width"),
    "open": ("lead_overall", "tail_overall", "gap"),
    "shallow": ("lead_corner", "tail_corner", "gap"),
}


@dataclass(frozen=True, slots=True)
class TrialPiece:
    """A trial piece, planned. Lengths in mm from the lead end, angles in degrees.

    `readings` names what to tape, as in `MeasuredPiece`; `steps` says it all in words. `angle` is
    about what the bend will come out at.
    """

    kind: Kind
    stock: float
    mark: float
    dial: float
    angle: float
    readings: tuple[str, ...]
    steps: tuple[str, ...]


def trial_piece(
    od: float,
    clr: float,
    clamp: float,
    follower: float,
    calibration: Calibration,
    *,
    max_angle: float = 180.0,
    mark_offset: float = 0.0,
    units: str = "mm",
) -> TrialPiece:
    """Plan the trial piece for a die and a tubing.

    Parameters
    ----------
    od, clr
        Tube and die, mm.
    clamp, follower
        Straight that must be ahead of and behind the bend, mm.
    calibration
        The dial as known so far; the prior alone will do.
    max_angle
        The most the bender turns, loaded degrees.
    mark_offset
        What the bench file says now, mm; a guess will do.
    units
        "mm" or "in": what the lengths are rounded to and the steps speak in.
    """
    dial, angle = _stop(calibration, max_angle)
    kind: Kind = "hairpin" if angle >= HAIRPIN else "open" if angle >= OPEN else "shallow"
    grain = 12.7 if units == "in" else 10.0
    mark = _up(max(clamp + SPARE, LEAST) - mark_offset, grain)
    lead = mark + mark_offset
    tail = max(follower + SPARE, LEAST)
    if kind == "hairpin":
        tail = max(
            tail, _reach(lead, clr * (1.0 + calibration.springback) + od / 2.0, angle) + SPARE
        )
    used = clr * math.radians(calibration.loaded(angle))
    stock = _up(lead + used + tail, grain)
    steps = _steps(kind, stock, mark, dial, angle, units)
    return TrialPiece(kind, stock, mark, dial, angle, READINGS[kind], steps)


def _stop(calibration: Calibration, max_angle: float) -> tuple[float, float]:
    """Choose a whole-degree reading within what the bender turns, and the angle it should give."""
    ratio = 1.0 + calibration.springback
    most = min(180.0, max_angle / ratio)
    wanted = most if most >= HAIRPIN else min(most, WANTED)
    dial = float(math.floor(calibration.dial(wanted) + 1e-9))
    return dial, (dial - calibration.dial_zero) / ratio


def _reach(lead: float, outside: float, angle: float) -> float:
    """Length of tail that lies past a square held at the lead end, for the least likely angle."""
    angle_rad = math.radians(angle - DOUBT)
    return (lead + outside * math.sin(angle_rad)) / -math.cos(angle_rad)


def _up(mm: float, grain: float) -> float:
    return math.ceil(mm / grain - 1e-9) * grain


def _steps(
    kind: Kind, stock: float, mark: float, dial: float, angle: float, units: str
) -> tuple[str, ...]:
    """Say in plain words how the piece is made and measured."""

    def length(mm: float) -> str:
        return format_length(mm, units)

    cut = (
        f"Cut a straight piece {length(stock)} long with square ends, and write A on one end: "
        "it goes through the die first."
    )
    scribe = (
        f"Scribe a line round it {length(mark)} from end A. Tape the piece and the line once "
        "more, as finely as the tape allows, and write both down."
    )
    clamp = "Clamp it with end A ahead, the line on the die's index line, the tail in the follower."
    bend = (
        f"Keep hands clear and bend until the dial reads {format_angle(dial)}; then release, for "
        "the bent tube pushes back. If it was stopped elsewhere, write that reading down."
    )
    protractor = (
        f"Measure the bend's angle on the two straights: about {format_angle(angle)}, where 0° is "
        "straight and 180° has them side by side. Write it down. With the dial's reading it is "
        "also the first trial bend for the dial."
    )
    keep = "Enter what was written down; the piece itself is the record, so keep it."
    return cut, scribe, clamp, bend, protractor, *_TAPING[kind], keep


_OVERALL = (
    "Hold a square against the outermost of the bend. "
    "Tape along the straight of end A, from the end to the square: lead_overall."
)
_OTHER_END = "Do the same along the other straight, from its own end: tail_overall."
_WIDTH = (
    "Hold a square on end A. Tape across, square to the straight of end A, "
    "from its outside to the outside of the other straight: width."
)
_CORNER = (
    "Lay the piece flat and a straight-edge along the outside of each straight, "
    "so that they cross beyond the bend: that is the corner."
)
_GAP = "Tape from the corner to the nearest of the bend: gap."
_LEAD_CORNER = "Tape along the outside from end A to the corner: lead_corner."
_TAIL_CORNER = "Tape along the outside from the other end to the corner: tail_corner."
_TAPING: dict[Kind, tuple[str, ...]] = {
    "hairpin": (_OVERALL, _OTHER_END, _WIDTH),
    "open": (_OVERALL, _OTHER_END, _CORNER, _GAP),
    "shallow": (_CORNER, _LEAD_CORNER, _TAIL_CORNER, _GAP),
}
