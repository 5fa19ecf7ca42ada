"""Rescue a tube after a bend has come out wrong."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from soapstone.errors import InputError
from soapstone.findings import Finding, Say, say_mm
from soapstone.fit.clearance import KeepOut, clearance_findings, clearances
from soapstone.fit.self_clearance import self_clearance, self_clearance_findings
from soapstone.plan.model import TubePlan
from soapstone.plan.rescue.facts import Facts, facts_of, stock_of
from soapstone.plan.rescue.keeping import kept_clear
from soapstone.plan.rescue.model import EndMiss, MadeBend, Rescue
from soapstone.plan.rescue.rest import rest_of, taken_further
from soapstone.plan.rescue.solve import (
    WEIGHTS,
    Answer,
    Target,
    Tolerance,
    solve,
    start_of,
    target_of,
)
from soapstone.plan.rescue.unknowns import Flags, Unknowns, can_go_further, unknowns_of
from soapstone.plan.rescue.words import findings_of, where_moved

OTHER_STARTS = 6
"""Starts away from the drawn shape, tried when the first does not land."""


def rescue(
    plan: TubePlan,
    made: Sequence[MadeBend],
    *,
    keepouts: Sequence[KeepOut] = (),
    within: Tolerance | None = None,
    stick: float | None = None,
    further: bool = True,
    say: Say = say_mm,
) -> Rescue:
    """Solve anew what is still to be made of a tube, so that its ends land.

    The marks, rolls and angles of the bends to come may change, and both cuts as far as the stick
    goes; bends made stay as they are, save that one that is too small may be taken further. The
    part may lie anywhere that brings its ends to where they were drawn.

    Parameters
    ----------
    plan
        The plan that was worked from.
    made
        The bends made, as measured, in any order.
    keepouts
        What the tube must keep clear of.
    within
        What counts as landed; left out, 1 mm and 0.3 degrees at either end. The two also weigh a
        missed place against a missed direction.
    stick
        The stick's real length in mm; left out, what the plan says on the tape.
    further
        Whether bends made may go back into the die.
    say
        Writes lengths in findings.

    Raises
    ------
    InputError
        A measurement that cannot be, in one line.
    """
    tolerance = Tolerance() if within is None else within
    if not (tolerance.off > 0 and tolerance.askew > 0):
        raise InputError(f"{plan.name}: the tolerance: expected more than nothing")
    facts = facts_of(plan, made, stick, say)
    target = target_of(plan)
    answer = _best(facts, target, tolerance, keepouts, further=further)
    return _told(answer, target, tolerance, keepouts, say)


def _best(
    facts: Facts,
    target: Target,
    within: Tolerance,
    keepouts: Sequence[KeepOut],
    *,
    further: bool,
) -> Answer:
    """Take bends further that came out too small; all that can only if nothing else lands."""
    able = [i for i in facts.made_at if further and can_go_further(facts, i)]
    drawn = facts.plan.shape.angles
    small = [i for i in able if drawn[i] - facts.angles[i] >= facts.setup.dial_step]

    def answer_with(again: Iterable[int]) -> Answer:
        return _without_little(facts, again, target, within, keepouts)

    first = answer_with(small)
    if first.miss(within) <= 1 or set(able) == set(small):
        return first
    second = answer_with(able)
    return second if second.miss(within) <= 1 else first


def _without_little(
    facts: Facts,
    again: Iterable[int],
    target: Target,
    within: Tolerance,
    keepouts: Sequence[KeepOut],
) -> Answer:
    """Solve without pulls less than the dial's graduation and without cuts less than the tape's."""
    setup = facts.setup
    answer = _solved(unknowns_of(facts, again), target, within, keepouts)
    pulls = answer.course.angles - facts.angles
    worth = [i for i in again if pulls[i] >= setup.dial_step]
    if len(worth) < len(list(again)):
        answer = _solved(unknowns_of(facts, worth), target, within, keepouts)
    offcuts = np.array([0.0, facts.stick]) - answer.course.laid.values[:2]
    slivers = np.abs(offcuts) < setup.tape.step_mm / 2
    if not np.any(slivers & (offcuts != 0)):
        return answer
    unknowns = _with_whole_ends(answer.unknowns, slivers)
    whole = _solved(unknowns, target, within, keepouts)
    return whole if whole.miss(within) <= max(1.0, answer.miss(within)) else answer


def _with_whole_ends(unknowns: Unknowns, whole: Flags) -> Unknowns:
    """Let the stick's own end be the part's end where hardly anything would be sawn off."""
    drawn, movable = unknowns.drawn.copy(), unknowns.movable.copy()
    ends = np.array([0.0, unknowns.facts.stick])
    drawn[:2], movable[:2] = np.where(whole, ends, drawn[:2]), ~whole
    return replace(unknowns, drawn=drawn, movable=movable)


def _solved(
    unknowns: Unknowns, target: Target, within: Tolerance, keepouts: Sequence[KeepOut]
) -> Answer:
    """Solve from the drawn shape, and from others by lot when that does not land."""
    best = solve(unknowns, target, within)
    if best.miss(within) > 1 and np.any(unknowns.movable[2:]):
        lot = np.random.default_rng(1)
        spread = np.concatenate(
            ([0.0, 0.0], *(np.full(len(unknowns.facts.angles), one) for one in (40.0, 10.0, 30.0)))
        )
        for _ in range(OTHER_STARTS):
            laid = start_of(unknowns)
            away = lot.normal(size=len(spread)) * spread * unknowns.movable
            start = replace(laid, values=laid.values + away)
            other = solve(unknowns, target, within, laid=start, weights=WEIGHTS[-1:])
            if other.worth(within) < best.worth(within):
                best = other
    return kept_clear(best, target, within, keepouts)


def _told(
    answer: Answer, target: Target, within: Tolerance, keepouts: Sequence[KeepOut], say: Say
) -> Rescue:
    facts = answer.unknowns.facts
    plan = rest_of(answer, say)
    name = plan.name
    gaps = clearances(plan.shape, plan.setup.od, keepouts) if keepouts else ()
    moved, moved_at = where_moved(answer, target)
    ends = (
        EndMiss("A", float(answer.off[0]), float(answer.askew[0])),
        EndMiss("B", float(answer.off[1]), float(answer.askew[1])),
    )
    told = Rescue(
        plan=plan,
        drawn=facts.plan,
        made=facts.made,
        further=taken_further(answer),
        ends=ends,
        moved=moved,
        moved_at=moved_at,
        lands=answer.miss(within) <= 1,
        usable=_usable(facts),
        problems=(),
    )
    found: list[Finding] = [
        *findings_of(told, within, answer.short, say),
        *clearance_findings(name, gaps, say),
        *self_clearance_findings(name, self_clearance(plan.shape, plan.setup.od), 0.0, say),
        *plan.problems,
        *facts.findings,
    ]
    found.sort(key=lambda finding: ("stop", "warn", "note").index(finding.severity))
    return replace(told, problems=tuple(found))


USABLE = 100.0
"""mm: straight shorter than this is not worth keeping (common practice)."""


def _usable(facts: Facts) -> tuple[float, ...]:
    """Straights of the tube as it is now, longest first."""
    used = stock_of(facts.setup, facts.held)
    begins = np.where(facts.toward > 0, facts.places, facts.places - used)
    bent = sorted(facts.made_at)
    edges = [0.0]
    for i in bent:
        edges += [float(begins[i]), float(begins[i] + used[i])]
    edges.append(facts.stick)
    straights = (edges[k + 1] - edges[k] for k in range(0, len(edges), 2))
    return tuple(sorted((long for long in straights if long >= USABLE), reverse=True))
