"""What is said of a made tube: whether it passes, and what to do where it does not."""

from collections.abc import Iterator

from soapstone.check.inspect.result import AsMadeNumber, Inspection
from soapstone.flow.taping import Taking
from soapstone.quantities import Units, format_fine

NAMES = {"leg": "leg", "angle": "bend", "roll": "roll before bend"}

FEW = 3
"""Names that a verdict lists."""


def verdict(taking: Taking) -> tuple[str, str]:
    """Give the verdict in few words, and how it looks: "good", "bad" or nothing of both."""
    result = taking.result
    if result is None:
        return "Nothing measured yet", ""
    out = [name_of(one) for one in result.numbers if one.verdict == "out"]
    doubtful = [name_of(one) for one in result.numbers if one.verdict == "doubtful"]
    open_ones = [one.row for one in result.suspects if not one.sure]
    if open_ones:
        rows = [row for row in open_ones if row.split()[0] in ("tape", "height", "bend")]
        return f"Measure again: {_listed(rows) or 'with more tapes'}", "bad"
    if out or ends_verdict(result) == "out":
        return f"Does not pass: {_listed(out) or 'the B end'}", "bad"
    if doubtful:
        return f"Nothing is out; not sure of {_listed(doubtful)}", ""
    if ends_verdict(result) == "good":
        return "Passes", "good"
    return "Every leg, bend and roll passes; not sure of the B end", "good"


def _listed(names: list[str]) -> str:
    """List a few, and count the rest."""
    more = f" and {len(names) - FEW} more" if len(names) > FEW else ""
    return f"{', '.join(names[:FEW])}{more}"


def name_of(one: AsMadeNumber) -> str:
    """Name a number of a tube as the shop does."""
    return f"{NAMES[one.what]} {one.n}"


def ends_verdict(result: Inspection) -> str:
    """Say of the B end what every number has said of it: "good", "out" or "doubtful"."""
    if result.ends + result.ends_plus_minus <= result.ends_limit:
        return "good"
    return "out" if result.ends - result.ends_plus_minus > result.ends_limit else "doubtful"


def worst_words(result: Inspection) -> str:
    """Say which number is off most, and what that alone does to the B end."""
    worst = result.worst
    if worst is None:
        return "Nothing is off by more than it is known to."
    units: Units = "in" if result.units == "in" else "mm"
    off = format_fine(worst.off, units) if worst.what == "leg" else f"{worst.off:+.1f}°"
    moved = format_fine(result.worst_moves, units)
    return f"Farthest off: {name_of(worst)}, {off}. That alone moves the B end {moved}."


def to_do(result: Inspection, bends: int) -> Iterator[str]:
    """Say what can be done about what is surely out, on a tube with so many bends."""
    for one in result.numbers:
        if one.verdict != "out":
            continue
        name = name_of(one).capitalize()
        if one.what == "angle" and one.off < 0:
            yield (
                f"{name} is short: a bend can be taken further. Clamp it at its mark and its roll "
                "again, pull a little, release and measure; never pull the whole lack at once."
            )
        elif one.what == "leg" and one.n in (1, bends + 1) and one.off > 0:
            yield f"{name} is long and ends the tube: cut it back, and deburr it."
        else:
            what = {"angle": "was taken too far", "leg": "is off", "roll": "is off"}[one.what]
            yield (
                f"{name} {what}, and that cannot be taken back. With bends still to be made, see "
                "Rescue at the bender; else judge whether it will do, or make it anew."
            )
