"""All there is to say about an answer: what is loose, which side, what to doubt or tape next."""

import difflib
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from soapstone.findings import Finding
from soapstone.geometry.vectors import Array
from soapstone.job.survey import words
from soapstone.job.survey.adjust import Adjusted
from soapstone.job.survey.blunders import VISIBLE, visible
from soapstone.job.survey.equations import DATUM
from soapstone.job.survey.frame import frame_fault
from soapstone.job.survey.model import Survey, row_key
from soapstone.job.survey.next_tape import NextTape, tapes_for, telling_tape
from soapstone.job.survey.placing import groups
from soapstone.job.survey.result import Suspect
from soapstone.job.survey.sides import RIVAL, preferred, rivals
from soapstone.job.survey.spread import Spread

WEAK = 4.0
"""Times the widest plus_minus among a point's rows: a point known worse than that is weak."""

_MOVED = 1.0  # mm
_CHECKS = 3  # points for which a tape to check them by is proposed


@dataclass(frozen=True, slots=True, eq=False)
class Rival:
    """Another placing (P, 3) that fits; `moved` are the points it has elsewhere, farthest first.

    `odds`: how many times less likely it is than the placing taken, by its misfits; `ruled_out`: a
    hint prefers the placing taken; `wanted`: the numbers of hints that prefer this.
    """

    places: Array
    moved: tuple[str, ...]
    odds: float
    ruled_out: bool
    wanted: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What remarks are made about.

    Attributes
    ----------
    data, adjusted, spread, noise
        The survey, its least-squares answer, how well each point is known, how the rows disagree.
    unframed
        Groups of points that can move as one piece, each with why and what would hold it.
    adrift
        Other points that are not pinned down.
    rivals
        Other placings that fit as well.
    """

    data: Survey
    adjusted: Adjusted
    spread: Mapping[str, Spread]
    noise: float
    unframed: Mapping[tuple[str, ...], tuple[str, str]] = field(default_factory=dict)
    adrift: tuple[str, ...] = ()
    rivals: tuple[Rival, ...] = ()

    @property
    def undetermined(self) -> tuple[str, ...]:
        """Names of all points that are not pinned down."""
        moving = {*self.adrift, *(name for group in self.unframed for name in group)}
        return tuple(name for name in self.adjusted.sought if name in moving)


def look_over(
    data: Survey, adjusted: Adjusted, spread: Mapping[str, Spread], noise: float
) -> Answer:
    """Find which points are not pinned down, and which have another place that fits as well."""
    answer = Answer(data, adjusted, spread, noise)
    unframed = {}
    for group in groups(data, adjusted.dropped):
        if any(len(spread[name].loose) for name in group):
            fault = frame_fault(data, adjusted, group)
            if fault:
                unframed[group] = fault
    framed = [name for name in adjusted.sought if not any(name in group for group in unframed)]
    adrift = tuple(name for name in framed if len(spread[name].loose))
    answer = replace(answer, unframed=unframed, adrift=adrift)
    return replace(answer, rivals=tuple(_rivals(answer)))


def _rivals(answer: Answer) -> Iterator[Rival]:
    """Give other placings that fit; not those that only put together what others move alone."""
    data, adjusted = answer.data, answer.adjusted
    firm = set(adjusted.sought) - set(answer.undetermined)
    for group in groups(data, adjusted.dropped):
        if not firm & set(group):
            continue
        found = []
        for places in rivals(data, group, adjusted.places, adjusted.dropped, answer.noise):
            gone = np.linalg.norm(places - adjusted.places, axis=1)
            far = {name: gone[number] for number, name in enumerate(data.names) if name in firm}
            moved = [n for n in far if far[n] > max(_MOVED, answer.spread[n].radius)]
            moved.sort(key=lambda name: -far[name])
            if moved:
                found.append((places, tuple(moved)))
        found.sort(key=lambda one: len(one[1]))
        told: list[set[str]] = []
        for places, names in found:
            parts = [one for one in told if one <= set(names)]
            if parts and set().union(*parts) == set(names):
                continue
            if _farther_from_datum(answer, places):
                continue
            rival = _rival(answer, places, names)
            if not rival.ruled_out or rival.wanted:
                told.append(set(names))
                yield rival


def _farther_from_datum(answer: Answer, places: Array) -> bool:
    """Whether known points that were found to be elsewhere lie much farther off than they need."""
    here = there = 0.0
    for number, (name, given) in enumerate(answer.data.datum.items()):
        if name in answer.adjusted.sought:
            here += float(np.linalg.norm(answer.adjusted.places[number] - given))
            there += float(np.linalg.norm(places[number] - given))
    return there > 2 * here


def _rival(answer: Answer, there: Array, moved: tuple[str, ...]) -> Rival:
    data, here = answer.data, answer.adjusted.places
    worse = (answer.adjusted.equations.misfits(there) ** 2).sum() - answer.adjusted.squares
    wanted = tuple(data.sides.index(side) + 1 for side in preferred(data, there, here))
    return Rival(
        places=there,
        moved=moved,
        odds=float(np.exp(np.clip(worse / answer.noise**2, 0.0, 2 * RIVAL) / 2)),
        ruled_out=bool(preferred(data, here, there)),
        wanted=wanted,
    )


def remarks(
    answer: Answer, blamed: Sequence[Suspect], checked: Mapping[str, bool]
) -> tuple[tuple[Finding, ...], tuple[NextTape, ...]]:
    """Give all findings, the most pressing first, and the tapes they ask for."""
    speech = words.Speech(answer.data.units)
    said = [
        *_frames(answer),
        *_adrift(answer, speech),
        *_two_places(answer, speech),
        *_contradictions(answer),
        *_suspected(blamed, speech),
        *_unmet(answer),
        *_noisy(answer),
        *_weak(answer, speech),
        *_unchecked(answer, checked, speech),
    ]
    findings = sorted((finding for finding, _ in said), key=lambda one: _ORDER[one.severity])
    return tuple(findings), tuple(tape for _, tapes in said for tape in tapes)


UNMET = 5.0
"""Standard deviations that a row is off by, from which it contradicts the answer."""

_ORDER = {"stop": 0, "warn": 1, "note": 2}
Said = tuple[Finding, tuple[NextTape, ...]]


def _frames(answer: Answer) -> Iterator[Said]:
    for group, fault in answer.unframed.items():
        yield words.unframed(group, fault), ()


def _adrift(answer: Answer, speech: words.Speech) -> Iterator[Said]:
    for name in answer.adrift:
        goal = WEAK * answer.data.plus_minus
        tapes = tapes_for(answer.data, answer.adjusted, answer.spread, name, goal, "loose")
        misspelt = _misspelt(answer.data, name)
        yield words.loose_point(name, answer.spread[name].loose, tapes, misspelt, speech), tapes


def _misspelt(data: Survey, name: str) -> str:
    """Give the name that a point of one row may have been meant for; empty if there is none."""
    if sum(name in row.points for row in data.rows) > 1:
        return ""

    def bare(text: str) -> str:
        return re.sub(r"\d+", "", text.lower())

    others = {other.lower(): other for other in data.names if bare(other) != bare(name)}
    close = difflib.get_close_matches(name.lower(), others, n=1, cutoff=0.75)
    return others[close[0]] if close else ""


def _two_places(answer: Answer, speech: words.Speech) -> Iterator[Said]:
    data, places = answer.data, answer.adjusted.places
    for rival in answer.rivals:
        if rival.ruled_out:
            continue
        loose = {*rival.moved, *answer.undetermined}
        steady = [name for name in data.names if name not in loose]
        telling = telling_tape(data, places, rival.places, rival.moved, steady)
        p = data.names.index(rival.moved[0])
        finding = words.two_places(
            rival.moved, places[p], rival.places[p], rival.odds, telling, speech
        )
        yield finding, (telling,) if telling else ()


def _contradictions(answer: Answer) -> Iterator[Said]:
    told = set()
    for rival in answer.rivals:
        for number in rival.wanted if rival.ruled_out else ():
            if number not in told:
                told.add(number)
                yield words.contradicted(number, answer.data.sides[number - 1].point), ()


def _suspected(blamed: Sequence[Suspect], speech: words.Speech) -> Iterator[Said]:
    unsure = [suspect for suspect in blamed if not suspect.sure]
    if unsure:
        yield words.one_of(unsure, speech), ()
    for suspect in blamed:
        if suspect.sure:
            yield words.suspected(suspect, speech), ()


def _noisy(answer: Answer) -> Iterator[Said]:
    if answer.noise > 1:
        yield words.noisy(answer.noise), ()


def _unmet(answer: Answer) -> Iterator[Said]:
    """Rows just enough to find the points, and yet no place for those that meets them all."""
    adjusted = answer.adjusted
    off = np.abs(adjusted.misfits)
    if answer.noise > 1 or not len(off) or off.max() < UNMET:
        return
    rows = [
        row_key(answer.data, claim.row)
        for claim, misfit in zip(adjusted.equations.claims, off, strict=True)
        if misfit >= UNMET and claim.row != DATUM
    ]
    yield words.unmet(tuple(dict.fromkeys(rows))), ()


def _weak(answer: Answer, speech: words.Speech) -> Iterator[Said]:
    data = answer.data
    for name in weak_points(answer):
        goal = WEAK * data.plus_minus
        tapes = tapes_for(data, answer.adjusted, answer.spread, name, goal, "weak")
        one = answer.spread[name]
        yield words.weak_point(name, one.radius, one.weakest, tapes, speech), tapes


def weak_points(answer: Answer) -> tuple[str, ...]:
    """Names of the points that are known much worse than they were measured, the worst first."""
    data = answer.data
    weak = []
    for name in answer.adjusted.sought:
        widest = max((data.allowance(row) for row in data.rows if name in row.points), default=0.0)
        limit = WEAK * widest * answer.noise
        if name not in answer.undetermined and answer.spread[name].radius > limit:
            weak.append(name)
    return tuple(sorted(weak, key=lambda name: -answer.spread[name].radius))


def checked_points(data: Survey, adjusted: Adjusted) -> dict[str, bool]:
    """Whether a wrong reading among its rows would show, for each sought point."""
    blind: set[str] = set()
    for claim, way in adjusted.equations.claims.items():
        if visible(adjusted, way) <= VISIBLE:
            blind.update((claim.point,) if claim.point else data.rows[claim.row].points)
    return {name: name not in blind for name in adjusted.sought}


def _unchecked(answer: Answer, checked: Mapping[str, bool], speech: words.Speech) -> Iterator[Said]:
    names = [name for name, well in checked.items() if not well and name not in answer.undetermined]
    if not names:
        return
    weak: Collection[str] = weak_points(answer)
    tapes: list[NextTape] = []
    for name in [name for name in names if name not in weak][:_CHECKS]:
        tapes += tapes_for(
            answer.data, answer.adjusted, answer.spread, name, 0.0, "check", most=1, worth=1.0
        )
    yield words.unchecked(names, tapes, speech), tuple(tapes)
