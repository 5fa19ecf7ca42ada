"""What an inspection needs said, as findings in the words of the shop."""

from collections.abc import Iterator
from functools import partial

from soapstone.check.inspect.files import Taken
from soapstone.check.inspect.result import AsMadeNumber, Inspection, Suspect
from soapstone.findings import Finding, Say
from soapstone.quantities import format_fine

BADLY_TOLD = 0.1
"""Share: a reading that narrows what was known by less has told nothing."""


def findings(found: Inspection, taken: Taken) -> tuple[Finding, ...]:
    """Give all that is to be said, the most pressing first."""
    say = partial(format_fine, units="in" if found.units == "in" else "mm")
    said = [*_mistakes(found, say), *_outside(found, say), *_doubtful(found, say)]
    if found.noise > 1:
        what = f"the readings disagree {found.noise:.1f} times as much as they should"
        mend = "every ± is widened by as much; measure again what is farthest off"
        said.append(Finding("warn", found.tube, what, mend))
    if not len(taken.measured.value):
        what = "nothing was measured: this is what the plan alone lets one expect"
        said.append(Finding("stop", found.tube, what, "fill in tapes or angles"))
    elif taken.left:
        rows = "1 row has" if taken.left == 1 else f"{taken.left} rows have"
        were = "was" if taken.left == 1 else "were"
        said.append(Finding("note", found.tube, f"{rows} no reading and {were} passed over"))
    order = ("stop", "warn", "note")
    return tuple(sorted(said, key=lambda one: order.index(one.severity)))


def _mistakes(found: Inspection, say: Say) -> Iterator[Finding]:
    sure = [one for one in found.suspects if one.sure]
    for one in sure:
        mend = "look there before the next tube is bent"
        if _is_reading(one):
            mend = "left out; measure it again"
        yield Finding("warn", f"{found.tube}, {one.row}", _off(one, say), mend)
    open_ones = [one for one in found.suspects if not one.sure]
    if open_ones:
        each = "; ".join(f"{one.row} {_off(one, say)}" for one in open_ones)
        what = f"one of these is wrong, and the readings cannot tell which: {each}"
        yield Finding("stop", found.tube, what, "until it is measured again, the first is left out")


def _is_reading(one: Suspect) -> bool:
    return one.row.split()[0] in ("tape", "bend", "height")


def _off(one: Suspect, say: Say) -> str:
    if not _is_reading(one):
        degrees = one.row.startswith(("dial", "roll", "springback"))
        return f"is off by {_signed(one.off_by, say, degrees=degrees)}"
    if one.row.startswith("bend"):
        return f"reads {one.measured:.1f}° where the rest makes it {one.expected:.1f}°"
    return f"reads {say(one.measured)} where the rest makes it {say(one.expected)}"


def _signed(value: float, say: Say, *, degrees: bool) -> str:
    return f"{value:+.1f}°" if degrees else f"{'+' if value > 0 else ''}{say(value)}"


def _name(one: AsMadeNumber) -> str:
    return f"leg {one.n}" if one.what == "leg" else f"bend {one.n}"


def _amount(one: AsMadeNumber, say: Say) -> str:
    if one.what == "leg":
        way = "long" if one.off > 0 else "short"
        return f"{say(abs(one.off))} too {way} (± {say(one.plus_minus)})"
    way = "too far" if one.off > 0 else "short"
    if one.what == "roll":
        way = "out of roll"
    return f"{abs(one.off):.1f}° {way} (± {one.plus_minus:.1f}°)"


def _limit(one: AsMadeNumber, say: Say) -> str:
    return say(one.limit) if one.what == "leg" else f"{one.limit:.2g}°"


def _outside(found: Inspection, say: Say) -> Iterator[Finding]:
    for one in found.numbers:
        if one.verdict == "out":
            what = f"{_amount(one, say)}, where {_limit(one, say)} may pass"
            yield Finding("stop", f"{found.tube}, {_name(one)}", what)
    if found.ends - found.ends_plus_minus > found.ends_limit:
        what = (
            f"laid right at the A end, the B end is {say(found.ends)} off "
            f"(± {say(found.ends_plus_minus)}), where {say(found.ends_limit)} may pass"
        )
        blame = ""
        if found.worst is not None:
            name = (
                f"{_name(found.worst)}'s roll" if found.worst.what == "roll" else _name(found.worst)
            )
            blame = f"{name} alone moves it {say(found.worst_moves)}"
        yield Finding("stop", f"{found.tube}, B end", what, blame)


def _doubtful(found: Inspection, say: Say) -> Iterator[Finding]:
    for one in found.numbers:
        where = f"{found.tube}, {_name(one)}"
        if one.verdict == "doubtful" and one.told < BADLY_TOLD and one.what == "roll":
            what = f"its roll is not told by these readings (± {one.plus_minus:.1f}°)"
            mend = "lay the bend before flat on a floor and take the next leg's height ([[height]])"
            yield Finding("warn", where, what, mend)
        elif one.verdict == "doubtful" and abs(one.off) > one.limit:
            what = f"likely {_amount(one, say)}, where {_limit(one, say)} may pass"
            yield Finding("warn", where, what, "measure it by itself")
        elif one.verdict == "doubtful" and one.what == "angle":
            what = (
                f"its angle is known to ± {one.plus_minus:.1f}° only, and {one.limit:.2g}° may pass"
            )
            yield Finding("note", where, what, "put a protractor on it")
