"""The work that tubes are: how many cuts, bends, set-ups, copes and joints, and their minutes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from soapstone.bench.rates import Rates, exact
from soapstone.plan.model import TubePlan


@dataclass(frozen=True, slots=True)
class Work:
    """One kind of work: how many pieces of it, the minutes of each, and words for both."""

    what: str
    pieces: int
    minutes: Decimal

    @property
    def words(self) -> str:
        """Say it as a sum: "8 at 5 min"."""
        return f"{self.pieces} at {self.minutes.normalize():f} min"


def work_of(
    tubes: Sequence[TubePlan], rates: Rates, extra: Mapping[str, int], count: int
) -> tuple[Work, ...]:
    """Count the work of `count` sets of tubes.

    A die is put on once for all tubes that are bent on it, and the first of each tube is measured
    once. `extra` has "cuts" of sticks for all sets, and "copes" and "joints" of one set.
    """
    ends = sum(cut.offcut > 0 for tube in tubes for cut in tube.cuts) * count
    bends = sum(len(tube.bends) for tube in tubes) * count
    dies = len({tube.setup.die for tube in tubes if tube.bends})
    firsts = sum(bool(tube.bends) for tube in tubes)
    counted = (
        ("cuts of sticks", extra.get("cuts", 0), rates.cut),
        ("cuts of ends once bent", ends, rates.cut),
        ("bends", bends, rates.bend),
        ("dies put on, once for all", dies, rates.set_up),
        ("first tubes measured, once for all", firsts, rates.first_part),
        ("copes", extra.get("copes", 0) * count, rates.cope),
        ("joints fitted and welded", extra.get("joints", 0) * count, rates.joint),
    )
    return tuple(Work(what, pieces, exact(minutes)) for what, pieces, minutes in counted)
