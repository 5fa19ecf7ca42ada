"""The choice of a starter shape, and the few numbers that it is made from."""

from functools import partial

from soapstone.quantities import Units, parse_angle, parse_length
from soapstone.shape.starter import STARTERS
from soapstone.web.look import block, choice, entry, words
from soapstone.web.panels.tables import bare_text

STRAIGHT = "straight"
"""The shape of a tube without a bend."""


class StarterNumbers:
    """A shape and its numbers, as far as they have been typed."""

    def __init__(self, units: Units) -> None:
        self.units = units
        self.shape = STRAIGHT
        self._typed: dict[str, str] = {}

    def show_choice(self) -> None:
        """Build the field to choose the shape from."""
        choice("Shape", (STRAIGHT, *STARTERS), self.shape, self._choose)

    def show_numbers(self) -> None:
        """Build the place for the numbers; they change with the shape."""
        self._place = block("div", "stack")
        self._ask()

    def turn_to(self, units: Units) -> None:
        """Take numbers in other units."""
        self.units = units
        self._typed = {}
        self._ask()

    def _choose(self, shape: str) -> None:
        self.shape, self._typed = shape, {}
        self._ask()

    def _ask(self) -> None:
        self._place.clear()
        if self.shape not in STARTERS:
            return
        starter = STARTERS[self.shape]
        with self._place:
            words(f"{starter.what[:1].upper()}{starter.what[1:]}.", kind="quiet")
            with block("div", "fields"):
                for measure in starter.measures:
                    usual = measure.start(self.units)
                    angle = measure.kind == "angle"
                    entry(
                        measure.what[:1].upper() + measure.what[1:],
                        f"{usual:g}" if angle else bare_text(usual, self.units),
                        partial(self._typed.__setitem__, measure.key),
                    )

    @property
    def values(self) -> dict[str, float]:
        """The numbers in mm and degrees.

        Raises
        ------
        ValueError
            One is no length or angle: the text says which.
        """
        measures = STARTERS[self.shape].measures if self.shape in STARTERS else ()
        values = {}
        for measure in measures:
            typed = self._typed.get(measure.key)
            try:
                if typed is None:
                    values[measure.key] = measure.start(self.units)
                elif measure.kind == "angle":
                    values[measure.key] = parse_angle(typed)
                else:
                    values[measure.key] = parse_length(typed, self.units)
            except ValueError as fault:
                raise ValueError(f"{measure.key}: {fault}") from None
        return values
