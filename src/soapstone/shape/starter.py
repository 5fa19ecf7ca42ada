"""The starter shapes by name: what each is, what to measure for it, and how it is made."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from soapstone.faults import near
from soapstone.findings import Finding, Say
from soapstone.quantities import INCH
from soapstone.shape.measured import (
    Bent,
    StarterShape,
    box_saddle,
    gooseneck,
    hoop,
    leaning_u,
    offset,
    offset_by_length,
    reverse_curve,
    saddle,
)

Kind: TypeAlias = Literal["length", "angle"]

LONGEST = 20_000.0
"""mm; longer than any stick."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One number that a starter shape needs.

    Attributes
    ----------
    key
        Its name in calls.
    what
        What to measure.
    kind
        "length" in mm or "angle" in degrees.
    usual, usual_in
        To start from: in mm or degrees; and for a shop in inches the same, in inches.
    least, most
        Limits, in mm or degrees. A length is above 0, unless it `may_be_none`.
    """

    key: str
    what: str
    kind: Kind
    usual: float
    usual_in: float
    least: float
    most: float
    may_be_none: bool = False

    def start(self, units: str) -> float:
        """Give the number to start from in mm or degrees, round in a shop's own units."""
        if self.kind == "angle" or units == "mm":
            return self.usual
        return float(self.usual_in * INCH)


@dataclass(frozen=True, slots=True)
class Starter:
    """A shape with a name, what it is, and what to measure for it."""

    name: str
    what: str
    measures: tuple[Measure, ...]
    make: Callable[..., StarterShape]


def _length(
    key: str, what: str, usual: float, usual_in: float, *, may_be_none: bool = False
) -> Measure:
    return Measure(key, what, "length", usual, usual_in, 0.0, LONGEST, may_be_none)


def _angle(key: str, what: str, usual: float, least: float, most: float) -> Measure:
    return Measure(key, what, "angle", usual, usual, least, most)


_ENDS = _length("ends", "from each end to the corner nearest it", 300, 12)

STARTERS: dict[str, Starter] = {
    starter.name: starter
    for starter in (
        Starter(
            "hoop",
            "two uprights and a top, square to each other",
            (
                _length("width", "outside to outside", 1200, 48),
                _length("height", "from the feet to the top of the tube", 900, 36),
            ),
            hoop,
        ),
        Starter(
            "leaning u",
            "two legs that lean in and a top, the whole leaning back",
            (
                _length("width", "outside to outside, along the floor", 1200, 48),
                _length("height", "plumb from the floor to the top of the tube", 900, 36),
                _angle("lean", "by which each leg leans in; negative: out", 8, -40, 40),
                _angle("back", "by which the whole leans back from plumb", 12, -60, 60),
            ),
            leaning_u,
        ),
        Starter(
            "offset",
            "two equal bends the opposite way, so that the run goes on parallel",
            (
                _length("rise", "from a side of one end to the same side of the other", 150, 6),
                _angle("angle", "of each bend", 30, 1, 90),
                _ENDS,
            ),
            offset,
        ),
        Starter(
            "offset by length",
            "two equal bends the opposite way, over a given length",
            (
                _length("rise", "from a side of one end to the same side of the other", 150, 6),
                _length("run", "along the run, from corner to corner", 260, 10),
                _ENDS,
            ),
            offset_by_length,
        ),
        Starter(
            "saddle",
            "three bends over one obstacle",
            (
                _length("height", "by which the tube is lifted at its crown", 120, 5),
                _angle("angle", "of the middle bend; the others have half of it", 60, 5, 120),
                _ENDS,
            ),
            saddle,
        ),
        Starter(
            "box saddle",
            "four equal bends over a box",
            (
                _length("height", "by which the tube is lifted", 150, 6),
                _length("width", "of the straight on top, from bend to bend", 200, 8),
                _angle("angle", "of each bend", 45, 5, 90),
                _ENDS,
            ),
            box_saddle,
        ),
        Starter(
            "gooseneck",
            "an upright that turns level and then down to a mouth",
            (
                _length("height", "from the foot to the top of the tube", 1000, 40),
                _length(
                    "reach", "from the back of the upright to the middle of the mouth", 500, 20
                ),
                _length("drop", "from the top of the tube to the middle of the mouth", 250, 10),
                _angle(
                    "down", "below level that the mouth points; 90 is straight down", 90, 5, 150
                ),
            ),
            gooseneck,
        ),
        Starter(
            "s",
            "two equal arcs the opposite way, with a given straight between",
            (
                _length("across", "outside to outside of the parallel ends", 200, 8),
                _length("length", "over all, along the ends", 900, 36),
                _length("between", "the straight from arc to arc", 80, 3, may_be_none=True),
            ),
            reverse_curve,
        ),
    )
}
"""All starter shapes by name."""


def starter_shape(name: str, tube: Bent, numbers: Mapping[str, float]) -> StarterShape:
    """Make a starter shape from its name and numbers, all faults in the numbers told at once.

    Parameters
    ----------
    name
        A key of `STARTERS`.
    tube
        What it is bent from.
    numbers
        One number for each of the shape's measures, in mm or degrees.

    Raises
    ------
    ValueError
        There is no such shape, or the numbers are not those of its measures.
    """
    if name not in STARTERS:
        raise ValueError(f'no starter shape "{name}"{near(name, STARTERS)}')
    starter = STARTERS[name]
    keys = [measure.key for measure in starter.measures]
    if set(numbers) != set(keys):
        raise ValueError(f"a {name} is made from {', '.join(keys)}")
    faults = [
        fault
        for measure in starter.measures
        if (fault := _outside(name, measure, numbers[measure.key], tube.say))
    ]
    if faults:
        return StarterShape((), tuple(faults))
    return starter.make(tube, **numbers)


def _outside(name: str, measure: Measure, found: float, say: Say) -> Finding | None:
    """Say that a number is outside its limits."""
    fits = measure.least <= found <= measure.most
    if measure.kind == "angle":
        wanted = f"{measure.least:g}° to {measure.most:g}°"
        got = f"{found:g}°"
    else:
        fits = fits and (found > 0 or measure.may_be_none)
        lowest = "of 0 or more" if measure.may_be_none else "above 0"
        wanted = f"a length {lowest}, at most {say(measure.most)}"
        got = say(found) if math.isfinite(found) else f"{found}"
    if fits:
        return None
    return Finding("stop", f"{name}, {measure.key}", f"expected {wanted}, found {got}")
