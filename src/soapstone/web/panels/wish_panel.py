"""Where a tube is to start and end and what it is to pass: the wish that a route is found for."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import TypeVar

from soapstone.flow.routing import MOST_BENDS, wish_between
from soapstone.geometry.vectors import Vec3
from soapstone.job.tube import Route as Wish
from soapstone.job.tube import RouteEnd, Waypoint
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import Units, parse_angle, parse_length
from soapstone.web.look import block, choice, complain, entry, press, put_back, words
from soapstone.web.panels.tables import AXES, axis_letters, bare_text

USUAL_BENDS = 6
USUAL_SECONDS = 10.0
MOST_SECONDS = 600.0
MOST_DIGITS = 9
"""Longer than any number of bends, and short enough to be read as a number at once."""

Read = TypeVar("Read")

FREE = "any way"
ALONG: dict[str, Vec3 | None] = {
    FREE: None,
    "up (z)": (0, 0, 1),
    "down (-z)": (0, 0, -1),
    "along x": (1, 0, 0),
    "along -x": (-1, 0, 0),
    "along y": (0, 1, 0),
    "along -y": (0, -1, 0),
}
"""Directions of travel, from A to B, as said on the page."""

AS_DRAWN = "as it is drawn"
STRAIGHT_ALONG = 1e-6
"""How far a direction of length 1 may be off an axis and be along it: less than any saw cuts."""


@dataclass(slots=True)
class EndWish:
    """An end as wished: its place in mm, its direction, and the degrees it may lean."""

    at: list[float]
    along: Vec3 | None = None
    within: float = 0.0

    @classmethod
    def of(cls, end: RouteEnd) -> "EndWish":
        """Take up an end of a route."""
        return cls(list(end.at), end.along, end.within)

    def as_end(self) -> RouteEnd:
        """Give it as an end of a route."""
        within = self.within if self.along is not None else 0.0
        return RouteEnd(at=_vec(self.at), along=self.along, within=within)


@dataclass(slots=True)
class WishForm:
    """A wish while it is being said."""

    start: EndWish
    end: EndWish
    through: list[tuple[list[float], float]] = field(default_factory=list)
    max_bends: int = USUAL_BENDS
    seconds: float = USUAL_SECONDS
    kept: Wish | None = None
    """The wish it came from, for what the page does not ask."""

    def as_wish(self) -> Wish:
        """Give the wish to search by."""
        said = {
            "start": self.start.as_end(),
            "end": self.end.as_end(),
            "through": tuple(Waypoint(at=_vec(at), within=near) for at, near in self.through),
            "max_bends": self.max_bends,
        }
        if self.kept is not None:
            return self.kept.model_copy(update=said)
        return Wish(**said)


def form_for(wish: Wish | None, tube: TubePlan | Unplanned) -> WishForm | None:
    """Start from a tube's own wish, else from its ends as drawn; None where it has neither."""
    if wish is None:
        if not isinstance(tube, TubePlan):
            return None
        wish = wish_between(tube.points, max(USUAL_BENDS, len(tube.bends)))
    through = [(list(one.at), one.within) for one in wish.through]
    start, end = EndWish.of(wish.start), EndWish.of(wish.end)
    return WishForm(start, end, through, wish.max_bends, kept=wish)


def _vec(values: list[float]) -> Vec3:
    x, y, z = values
    return (x, y, z)


def way_word(along: Vec3 | None) -> str:
    """Say a direction of travel: along an axis where it is one, else as drawn."""
    for word, way in ALONG.items():
        if way is None or along is None:
            if way is along:
                return word
        elif max(abs(a - b) for a, b in zip(way, along, strict=True)) < STRAIGHT_ALONG:
            return word
    return AS_DRAWN


def bends_typed(typed: str) -> int:
    """Read a number of bends; a ValueError says what it may be."""
    digits = typed.strip()
    if not (digits.isdecimal() and len(digits) <= MOST_DIGITS and int(digits) <= MOST_BENDS):
        raise ValueError(f"expected a whole number of bends, at most {MOST_BENDS}")
    return int(digits)


def seconds_typed(typed: str) -> float:
    """Read the seconds of a search; a ValueError says what they may be."""
    try:
        seconds = float(typed)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds <= MOST_SECONDS:
        raise ValueError(f"expected seconds above 0, at most {MOST_SECONDS:g}")
    return seconds


class WishPanel:
    """The fields of a wish; what is typed is in the form at once, nonsense is told."""

    def __init__(self, form: WishForm, units: Units) -> None:
        self.form, self.units = form, units

    def show(self) -> None:
        """Build it."""
        self._end("Starts at", "A", self.form.start)
        self._end("Ends at", "B", self.form.end)
        self.places = block("div", "stack")
        self._through()
        form = self.form
        with block("div", "fields"):
            self._field("Bends at most", f"{form.max_bends}", bends_typed, self._bends)
            self._field("Seconds to look for it", f"{form.seconds:g}", seconds_typed, self._seconds)

    def _bends(self, bends: int) -> None:
        self.form.max_bends = bends

    def _seconds(self, seconds: float) -> None:
        self.form.seconds = seconds

    def _field(
        self,
        label: str,
        shown: str,
        read: Callable[[str], Read],
        put: Callable[[Read], object],
        *,
        hidden_label: bool = False,
    ) -> None:
        """Make a field; what cannot be is told, and the field then shows what still holds."""
        holds = shown

        def typed(text: str) -> None:
            nonlocal holds
            try:
                put(read(text))
            except ValueError as error:
                complain(f"{label}: {error}. It stays {holds}.")
                put_back(made, holds)
            else:
                holds = text

        made = entry(label, shown, typed, hidden_label=hidden_label)

    def _end(self, title: str, letter: str, end: EndWish) -> None:
        with block("div", "stack tighter"):
            words(f"{title} ({letter})", "h3")
            self._place(f"{letter} end", end.at)
            now = way_word(end.along)
            names = [*([AS_DRAWN] if now == AS_DRAWN else []), *ALONG]
            was = end.along

            def turned(word: str) -> None:
                end.along = was if word == AS_DRAWN else ALONG[word]

            with block("div", "fields"):
                choice(f"{letter} end runs", names, now, turned)
                self._field(
                    f"{letter} end may lean, degrees",
                    f"{end.within:g}",
                    parse_angle,
                    lambda value: setattr(end, "within", value),
                )

    def _through(self) -> None:
        self.places.clear()
        with self.places:
            for number, (at, near) in enumerate(self.form.through):
                words(f"Passes by {number + 1}, within", "h3")
                self._place(f"Place {number + 1} it passes", at)
                with block("div", "row"):
                    put = partial(self._nearness, number)
                    read = partial(parse_length, units=self.units)
                    self._field("As near as", bare_text(near, self.units), read, put)
                    press("Not by there", partial(self._forget, number), "plain")
            press("Pass by a place", self._pass_by, "plain")

    def _pass_by(self) -> None:
        a, b = self.form.start.at, self.form.end.at
        middle = [(one + other) / 2 for one, other in zip(a, b, strict=True)]
        self.form.through.append((middle, 10.0))
        self._through()

    def _forget(self, number: int) -> None:
        del self.form.through[number]
        self._through()

    def _nearness(self, number: int, near: float) -> None:
        self.form.through[number] = (self.form.through[number][0], near)

    def _place(self, label: str, at: list[float]) -> None:
        read = partial(parse_length, units=self.units)
        with block("div", "three"):
            axis_letters()
            for axis in range(3):
                put = partial(at.__setitem__, axis)
                shown = bare_text(at[axis], self.units)
                self._field(f"{label}, {AXES[axis]}", shown, read, put, hidden_label=True)
