"""Say what a tube hits in the bender, at which step."""

from collections.abc import Sequence

from soapstone.bend.clash import TOLERANCE, Near
from soapstone.bend.order import Step
from soapstone.findings import Finding, Say, say_mm

ANOTHER = "make the bends in another order, or with the other end leading"

WHEN = {
    "swing": "as the die turns, at {:.0f}°",
    "release": "as the bend springs back, at {:.0f}°",
    "feed": "as it is fed on, {:.0f} mm before it is there",
    "roll": "as it is rolled, {:.0f}° from where it is bent",
}


def step_findings(
    tube: str,
    steps: Sequence[Step],
    wanted: float = 0.0,
    say: Say = say_mm,
    mend: str = ANOTHER,
) -> list[Finding]:
    """Say which steps hit something, or come within `wanted` mm of it, and how it is rolled clear.

    Of what is hit at one step more than once, the deepest is said. `mend` is what to do about it.
    """
    found = []
    for step in steps:
        where = f"{tube}, bend {step.n}"
        if step.lifted:
            what = "cannot be fed on and rolled in the die, either way round"
            found.append(Finding("warn", where, what, "lift it out, roll it and lay it in again"))
        elif step.roll is not None and not -180 < step.roll <= 180:
            way = "clockwise" if step.roll > 0 else "anticlockwise"
            what = "rolled the short way round the tube would hit something"
            roll = f"so roll it the long way, {abs(step.roll):.1f}° {way} seen from the tail"
            found.append(Finding("note", where, what, roll))
        worst: dict[tuple[str, str], Near] = {}
        for near in sorted(step.nears, key=lambda near: near.gap):
            if near.motion not in ("feed", "roll") and near.gap < wanted - TOLERANCE:
                worst.setdefault((near.what, near.part), near)
        found += [_finding(where, step, near, wanted, say, mend) for near in worst.values()]
    return found


def _finding(where: str, step: Step, near: Near, wanted: float, say: Say, mend: str) -> Finding:
    end = step.lead if near.part == "lead" else "AB".replace(step.lead, "")
    when = WHEN[near.motion].format(abs(near.at))
    name = near.what if near.what == "own tail" else f"the {near.what}"
    if near.high >= wanted:
        what = f"the {end} end may come too near to {name} {when}: no more could be made certain"
        return Finding("warn", where, what, "look at that place before bending")
    does = f"hits {name}" if near.high < 0 else f"comes within {say(near.gap)} of {name}"
    return Finding("stop", where, f"the {end} end {does} {when}", mend)
