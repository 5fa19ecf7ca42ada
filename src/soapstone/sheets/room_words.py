"""How near each tube comes to what is about it: which places are shown, and in what words."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from soapstone.fit.clearance import Clearance
from soapstone.fit.motion import Hinge
from soapstone.geometry.distance import TOLERANCE
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units, format_fine, format_length
from soapstone.sheets.contents import PackContents, Surroundings
from soapstone.sheets.swing_view import range_words, signed_degrees
from soapstone.sheets.words import NO_BREAK, breakable, shortened

MOST_PLACES = 9
"""Places that are numbered in the pictures."""

NEAREST = 2
"""Keep-outs listed for each tube; those it comes too near to are listed all."""

ALIKE = 0.05
"""Gaps in mm that differ by less are the same: those of a tube and of its mirror image."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a tube comes nearest to one keep-out. `number` 0: not shown in the pictures."""

    tube: TubePlan
    gap: Clearance
    number: int = 0

    @property
    def spare(self) -> float:
        """How much more than is wanted there is, in mm."""
        return self.gap.gap - self.gap.wanted

    @property
    def short(self) -> bool:
        """Whether it is too near, by more than the certificate's own width."""
        return self.spare < -TOLERANCE


def places_of(contents: PackContents) -> tuple[list[Place], int]:
    """Give the places to list, tube by tube, the tightest first, and how many are left out.

    Those that the pictures show are numbered in that order: the ones too near, the tightest of
    each tube, and the tightest to each keep-out, what moves before what stands.
    """
    around = contents.surroundings
    if around is None:
        return [], 0
    by_tube = [
        sorted((Place(tube, gap) for gap in around.gaps.get(tube.name, ())), key=lambda p: p.spare)
        for tube in contents.tubes
    ]
    every = [place for places in by_tube for place in places]
    shown = _to_show(by_tube, every, around)
    listed = [
        place
        for places in by_tube
        for i, place in enumerate(places)
        if i < NEAREST or place.short or place in shown
    ]
    number, numbered = 0, []
    for place in listed:
        number += place in shown
        numbered.append(replace(place, number=number) if place in shown else place)
    return numbered, len(every) - len(listed)


def _to_show(
    by_tube: Sequence[Sequence[Place]], every: Sequence[Place], around: Surroundings
) -> list[Place]:
    wishes = sorted((place for place in every if place.short), key=lambda p: p.spare)
    wishes += sorted((places[0] for places in by_tube if places), key=lambda p: p.spare)
    for keepout in sorted(around.keepouts, key=lambda k: not k.hinges):
        to_it = [place for place in every if place.gap.keepout == keepout.name]
        least = min((place.gap.gap for place in to_it), default=0.0)
        wishes += [place for place in to_it if place.gap.gap < least + ALIKE]
    unique: list[Place] = []
    for place in wishes:
        if place not in unique:
            unique.append(place)
    return unique[:MOST_PLACES]


def gap_words(place: Place, contents: PackContents) -> str:
    """Say a gap beside its place in a picture: "outboard 48 mm, wanted 40 mm"."""
    name, units = shortened(place.gap.keepout, 26), contents.units
    if place.gap.gap < 0:
        return f"hits {name} by {fine(-place.gap.gap, units)}"
    wanted = format_length(place.gap.wanted, units, unit=units == "in")
    return f"{name} {fine(place.gap.gap, units)}, wanted {wanted}"


def tube_words(plan: TubePlan, contents: PackContents) -> tuple[str, bool] | None:
    """Say what one tube keeps clear of, and whether it comes too near to anything.

    The tightest place, and the tightest to what moves where that is another one; None when there
    is nothing about it.
    """
    around = contents.surroundings
    gaps = around.gaps.get(plan.name, ()) if around else ()
    if not gaps:
        return None
    places = sorted((Place(plan, gap) for gap in gaps), key=lambda p: p.spare)
    moving = [place for place in places[1:] if place.gap.angles and not places[0].gap.angles]
    first, *others = (_keeps(place, contents) for place in (places[0], *moving[:1]))
    verb = ("Keeps", "Comes within", "Hits")[places[0].short + (places[0].gap.gap < 0)]
    return f"{verb} {'; '.join([first, *others])}.", places[0].short


def _keeps(place: Place, contents: PackContents) -> str:
    """Say how near one keep-out is and where, without a verb."""
    gap, units = place.gap, contents.units
    name = breakable(shortened(gap.keepout, 60))
    wanted = _in_one(format_length(gap.wanted, units, unit=units == "in"))
    near = _in_one(fine(abs(gap.gap), units))
    if gap.gap < 0:
        words = f"{name} by {near} ({wanted} wanted)"
    else:
        words = f"{near} {'of' if place.short else 'from'} {name} ({wanted} wanted)"
    return f"{words}, {_where(place, contents)}{_hinges_words(gap.angles)}"


def _where(place: Place, contents: PackContents) -> str:
    along, tape = place.gap.along, contents.tape.step_mm
    if along < tape / 2:
        return "at the A end"
    if along > place.tube.length - tape / 2:
        return "at the B end"
    return f"{contents.numbers.length(along)} from A"


def _hinges_words(angles: Sequence[float]) -> str:
    if not angles:
        return ""
    said = " and ".join(map(signed_degrees, angles))
    return f", {'hinge' if len(angles) == 1 else 'hinges'} at {said}"


def fine(mm: float, units: Units) -> str:
    """Write a gap finer than it is taped; none at all as a plain zero."""
    return format_fine(mm, units) if mm else format_length(0.0, units)


def hinge_cell(angles: Iterable[float]) -> str:
    """Write hinge angles for a table; a dash when nothing moves."""
    return ", ".join(map(signed_degrees, angles)) or "–"


def swing_words(hinges: Sequence[Hinge]) -> str:
    """Say how a keep-out moves: "stands", "swings ±32°, then 62°"."""
    if not hinges:
        return "stands"
    return f"swings {', then '.join(map(range_words, hinges))}"


def _in_one(text: str) -> str:
    return text.replace(" ", NO_BREAK)
