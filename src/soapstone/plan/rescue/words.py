"""What a rescue has to say: what to do first, how far it misses, whether to give the tube up."""

import numpy as np

from soapstone.findings import Finding, Say
from soapstone.plan.rescue.model import EndMiss, Rescue
from soapstone.plan.rescue.solve import Answer, Target, Tolerance

FAR = 10.0
"""mm that a tube may lie elsewhere before it is worth a warning."""

SEEN = 0.5
"""mm that a tube may lie elsewhere before it is worth a word."""


def where_moved(answer: Answer, target: Target) -> tuple[float, str]:
    """Find how far the tube lies off its drawn place at most, and where."""
    course = answer.course
    middles = [course.point(2 * i + 1, 0.5) for i in range(len(course.angles))]
    moved = np.linalg.norm(np.array(middles).reshape(-1, 3) - target.middles, axis=1)
    places = [
        (float(answer.off[0]), "A end"),
        *((float(by), f"bend {i}") for i, by in enumerate(moved, start=1)),
        (float(answer.off[1]), "B end"),
    ]
    return max(places)


def findings_of(told: Rescue, within: Tolerance, short: float, say: Say) -> list[Finding]:
    """Say in a fabricator's words how the rescue stands."""
    name = told.plan.name
    found = [
        Finding(
            "warn",
            f"{name}, bend {one.n}",
            f"it measures {one.angle_now:.1f}° and is wanted at {one.angle:.1f}°: put it back at "
            f"its mark and take it further, to {one.dial:.1f}° on the dial, before anything else",
        )
        for one in told.further
    ]
    if short > 0:
        found.append(
            Finding(
                "stop",
                name,
                f"{say(short)} of straight is missing for clamp, follower or a mark on the stick",
                "it can only be made with less hold than the die asks for",
            )
        )
    if not told.lands:
        found.append(_missed(told, within, say))
    if told.moved > SEEN:
        at = f"the {told.moved_at}" if told.moved_at.endswith(" end") else told.moved_at
        what = f"it comes to lie {say(told.moved)} off its drawing at most, at {at}"
        grave = told.moved > FAR
        mend = "see that nothing is in its way there, and that what joins it still meets it"
        found.append(Finding("warn", name, what, mend) if grave else Finding("note", name, what))
    found += _new_marks(told, say)
    return found


def _new_marks(told: Rescue, say: Say) -> list[Finding]:
    """Say how far marks move: with a bend made, no tape runs from the stick's end to them."""
    old = {step.n: step.stock_mark for step in told.drawn.bends}
    found = []
    for step in told.rest if told.plan.made else ():
        by = step.stock_mark - old[step.n]
        if abs(by) >= told.plan.setup.tape.step_mm / 2:
            toward = "B" if by > 0 else "A"
            what = f"its mark goes {say(abs(by))} toward the {toward} end from the old one"
            found.append(Finding("note", f"{told.plan.name}, bend {step.n}", what))
    return found


def _missed(told: Rescue, within: Tolerance, say: Say) -> Finding:
    """Say by how much the ends miss, and what is left to do."""
    name, a, b = told.plan.name, *told.ends
    what = (
        f"however the rest is bent its ends miss: {_end(a, say)}, {_end(b, say)}, where "
        f"{say(within.off)} and {within.askew:g}° are let pass"
    )
    if told.usable:
        lengths = ", ".join(say(length) for length in told.usable)
        saved = f"of this stick {lengths} of straight can be kept"
    else:
        saved = "no straight of it is worth keeping"
    mend = f"give it up, unless that much can be taken up where it is fastened; {saved}"
    return Finding("stop", name, what, mend)


def _end(end: EndMiss, say: Say) -> str:
    return f"the {end.end} end by {say(end.off)} and {end.askew:.1f}°"
