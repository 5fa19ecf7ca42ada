"""The quote as a customer gets it: what is made, what it costs, what is in that and what is not.

The shop's minutes and margin are its own affair: the margin is spread over the groups of lines.
"""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Any

from soapstone.bench.rates import Rates
from soapstone.findings import Finding, stops
from soapstone.plan.model import TubePlan
from soapstone.quantities import Units, format_angle, format_length, format_mass, usual_tape
from soapstone.sheets.contents import Paper
from soapstone.sheets.cover import WIDTH, edge_ruler, finding_data, mass_words
from soapstone.sheets.quote_words import money, parcel_words
from soapstone.sheets.sketch import Box
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.typesetting import to_pdf
from soapstone.sheets.words import breakable, plain, shortened
from soapstone.yard.parcel import Parcel
from soapstone.yard.quote import Quote, rounded

GROUPS = {
    "material": "Tubing, as bought",
    "work": "Work",
    "finish": "Finishing",
    "packing": "Packing",
}
MOST_TUBES = 24
"""Tubes listed one by one; of more, the rest is counted."""


@dataclass(frozen=True, slots=True)
class QuoteContents:
    """All that goes into a printed quote.

    `tolerance` is the error in degrees that a bend may have; `finish` the price of finishing, None
    where it is not known and 0 where there is none; `copes` and `joints` are counts of one set;
    `mass` is of all sets in kg.
    """

    job: str
    units: Units
    paper: Paper
    date: str
    note: str
    tubes: tuple[TubePlan, ...]
    quote: Quote
    rates: Rates
    parcel: Parcel | None
    mass: float
    tolerance: float
    finish: float | None
    copes: int
    joints: int
    findings: tuple[Finding, ...]


def make_quote(contents: QuoteContents) -> bytes:
    """Print a quote: its PDF, the same bytes for the same contents."""
    return to_pdf(
        {
            "job": plain(contents.job),
            "paper": contents.paper,
            "units": contents.units,
            "notice": shortened(contents.date, 40),
            "pages": [quote_page(contents)],
        }
    )


def quote_page(contents: QuoteContents) -> dict[str, Any]:
    """Give the quote's data."""
    priced, word = contents.quote, plain(contents.rates.currency)
    total = money(priced.total, contents.rates)
    return {
        "kind": "quote",
        "job": breakable(shortened(contents.job, 120)) or "A job without a name",
        "date": shortened(contents.date, 40),
        "summary": f"Quote for {_sets(contents)}",
        "note": breakable(plain(contents.note)),
        "edge": to_data(edge_ruler(contents.units), Box(0.0, 0.0, WIDTH, 9.0)),
        "stops": finding_data(stops(contents.findings)),
        "currency": word or "Amount",
        "lines": [{"what": what, "amount": amount} for what, amount in _groups(contents)],
        "total": f"{total} {word}".strip(),
        "total-words": "Total, tax left out" if priced.complete else "So far, tax left out",
        "each": f"{money(priced.each, contents.rates)} {word} each".replace("  ", " ")
        if priced.count > 1
        else "",
        "tubes": _tubes(contents),
        "parcel": _parcel(contents),
        "included": _included(contents),
        "left-out": _left_out(contents),
        "validity": _validity(contents),
        "cautions": [
            "Cut ends are sharp. Take zinc, paint and oil off before welding: their fumes poison.",
            "Where people or loads depend on a tube, a licensed engineer and local codes decide.",
        ],
        "foot": shortened(contents.job, 90),
    }


def _sets(contents: QuoteContents) -> str:
    count, tubes = contents.quote.count, len(contents.tubes)
    bends = sum(len(tube.bends) for tube in contents.tubes)
    one = f"{_counted(tubes, 'tube')}, {_counted(bends, 'bend')}"
    return one if count == 1 else f"{count} sets, each of {one}"


def _groups(contents: QuoteContents) -> list[tuple[str, str]]:
    """Bring lines of a kind together, the margin spread over them; they add up to the total."""
    priced, rates = contents.quote, contents.rates
    sums: dict[str, Decimal] = {}
    for line in priced.lines:
        if line.amount is not None and line.kind in GROUPS:
            sums[line.kind] = sums.get(line.kind, Decimal(0)) + line.amount
    known = sum(sums.values(), Decimal(0))
    spread = {
        kind: rounded(amount * priced.total / known, rates) if known else amount
        for kind, amount in sums.items()
    }
    if spread:
        largest = max(spread, key=lambda kind: spread[kind])
        spread[largest] += priced.total - sum(spread.values(), Decimal(0))
    without = {line.kind for line in priced.lines if line.amount is None}
    rows = []
    for kind, words in GROUPS.items():
        if kind in spread:
            more = ", part of it to be agreed" if kind in without else ""
            rows.append((words + more, money(spread[kind], rates)))
        elif kind in without:
            rows.append((words, "to be agreed"))
    return rows


def _tubes(contents: QuoteContents) -> list[dict[str, str]]:
    rows = [
        {
            "name": breakable(shortened(tube.name, 60)),
            "tubing": breakable(shortened(tube.setup.tubing, 50)),
            "bends": str(len(tube.bends)),
            "length": format_length(tube.length, contents.units, usual_tape(contents.units)),
            "mass": mass_words(tube.mass, contents.units),
        }
        for tube in contents.tubes[:MOST_TUBES]
    ]
    more = len(contents.tubes) - len(rows)
    if more:
        blank = dict.fromkeys(("tubing", "bends", "length", "mass"), "")
        rows.append({"name": f"and {more} more", **blank})
    return rows


def _parcel(contents: QuoteContents) -> list[str]:
    """Say size, girth and mass of the parcel."""
    parcel, count = contents.parcel, contents.quote.count
    if parcel is None:
        return []
    size = partial(parcel_words, units=contents.units)
    edges = " × ".join(size(edge) for edge in (parcel.length, parcel.width, parcel.height))
    each = "One parcel" if count == 1 else f"{count} parcels, each"
    bare = "" if contents.rates.packing_room else ", without packing"
    round_it = f"Length plus girth {size(parcel.length + parcel.girth)}"
    words = [
        f"{each} {edges}{bare}",
        f"{round_it}, mass {format_mass(parcel.mass, contents.units)}",
        "Volume as a carrier may weigh it is not reckoned in.",
    ]
    if contents.joints:
        words.append("It holds the tubes loose; welded to each other they need more.")
    return words


def _included(contents: QuoteContents) -> list[str]:
    off = format_angle(contents.tolerance)
    words = [
        "Tubing as bought, in whole sticks where it is sold so; offcuts stay with the shop.",
        f"Cutting and bending; bends to within {off} of the drawing.",
    ]
    per = "" if contents.quote.count == 1 else " a set"
    if contents.copes:
        words.append(f"{_counted(contents.copes, 'coped end')}{per}.")
    if contents.joints:
        words.append(f"{_counted(contents.joints, 'joint')}{per}, fitted and welded.")
    if contents.finish:
        words.append("Finishing of the tubes' outside.")
    if contents.rates.packing:
        words.append("Packing.")
    return words


def _left_out(contents: QuoteContents) -> list[str]:
    words = ["Tax.", "Carriage.", "Holes, plates, feet and fasteners.", "An engineer's approval."]
    if not contents.finish:
        words.append("Finishing: tubes come as bent.")
    if not contents.rates.packing:
        words.append("Packing.")
    kinds = Counter(line.kind for line in contents.quote.lines if line.amount is None)
    if "material" in kinds or "work" in kinds:
        words.append("What is marked as to be agreed.")
    return words


def _counted(count: float, what: str) -> str:
    return f"{count:g} {what}" if count == 1 else f"{count:g} {what}s"


def _validity(contents: QuoteContents) -> str:
    days, least = contents.rates.valid_days, contents.rates.rounding
    since = f" from {shortened(contents.date, 40)}" if contents.date else ""
    return (
        f"This quote holds for {_counted(days, 'day')}{since}. It is for the drawing as it stands: "
        "other corners, bends or tubing make another price. "
        f"Sums are rounded to {least:g}, halves up."
    )
