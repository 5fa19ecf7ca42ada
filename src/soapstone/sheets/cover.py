"""The pack's cover: what is made, from what, and what to mind."""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Any

from soapstone.findings import Finding
from soapstone.quantities import format_mass
from soapstone.sheets import palette
from soapstone.sheets.contents import PackContents
from soapstone.sheets.hands import Hands, own_findings
from soapstone.sheets.sketch import Box, Label, Mark, Pen, Sketch, line
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.together import draw_together
from soapstone.sheets.words import breakable, plain, shortened

WIDTH = 186.0
"""Width of the pages' type area in mm, on both papers."""

HEIGHTS = (108.0, 86.0, 68.0, 52.0)
"""Heights in mm of the picture to choose from: the largest that leaves the lists on its page."""


_BENDS = re.compile(r"\bbend (\d{1,4}(?:, \d{1,4}){2,})\b")


def cover_page(contents: PackContents, pairs: Sequence[Hands]) -> dict[str, Any]:
    """Give the cover's data."""
    findings = _of_all(contents, pairs)
    return {
        "kind": "cover",
        "job": breakable(shortened(contents.job, 120)) or "A job without a name",
        "date": shortened(contents.date, 40),
        "summary": _summary(contents),
        "note": breakable(plain(contents.note)),
        "edge": to_data(edge_ruler(contents.units), Box(0.0, 0.0, WIDTH, 9.0)),
        "pictures": [
            to_data(drawing, Box(0.0, 0.0, WIDTH, height))
            for drawing, height in zip(
                draw_together(contents.tubes, WIDTH, HEIGHTS), HEIGHTS, strict=True
            )
        ],
        "mass-unit": "Mass",
        "tubes": [
            *(_tube_row(contents, hands, i) for hands in pairs for i in range(len(hands.plans))),
            *map(_unmade_row, contents.unmade),
        ],
        "cuts": _cut_list(contents),
        "stops": finding_data(f for f in findings if f.severity == "stop"),
        "findings": finding_data(
            [
                *(f for f in findings if f.severity == "warn"),
                *(f for f in findings if f.severity == "note" and f in contents.findings),
            ]
        ),
        "cautions": _in_two_columns([breakable(plain(words)) for words in contents.cautions]),
        "foot": shortened(contents.job, 90),
    }


def finding_data(findings: Any) -> list[dict[str, str]]:
    """Give findings as data, each once, fit to print."""
    unique = dict.fromkeys(findings)
    return [
        {
            "severity": f.severity,
            "where": breakable(shortened(_ranged(f.where), 120)),
            "what": breakable(shortened(f.what, 500)),
            "mend": breakable(_sentence(shortened(f.mend, 500))),
        }
        for f in unique
    ]


def _sentence(text: str) -> str:
    """Begin a sentence with a capital."""
    return text[:1].upper() + text[1:]


def _ranged(where: str) -> str:
    """Write a run of bends short: "bend 1, 2, 3, 4" as "bends 1–4"."""
    return _BENDS.sub(_run, where)


def _run(found: re.Match[str]) -> str:
    numbers = [int(n) for n in found[1].split(", ")]
    unbroken = numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    return f"bends {numbers[0]}–{numbers[-1]}" if unbroken else f"bends {found[1]}"


def _in_two_columns(texts: list[str]) -> list[list[str]]:
    """Split a list where both halves are about as long."""
    total, so_far = sum(map(len, texts)), 0
    for i, text in enumerate(texts):
        so_far += len(text)
        if 2 * so_far >= total:
            return [texts[: i + 1], texts[i + 1 :]]
    return [texts, []]


def _of_all(contents: PackContents, pairs: Sequence[Hands]) -> list[Finding]:
    own = [finding for hands in pairs for finding in own_findings(hands)]
    return list(dict.fromkeys((*contents.findings, *own)))


def _summary(contents: PackContents) -> str:
    words = {"mm": "millimetres", "in": "inches"}[contents.units]
    unmade = len(contents.unmade)
    count = len(contents.tubes) + unmade
    tubes = "1 tube" if count == 1 else f"{count} tubes"
    if unmade:
        tubes += f", {unmade} of them cannot be made" if count > 1 else ", which cannot be made"
    bends = sum(len(t.bends) for t in contents.tubes)
    bent = "1 bend" if bends == 1 else f"{bends} bends"
    bender = shortened(contents.bender, 60)
    on = f" on the {bender}" if bender else ""
    return f"{tubes}, {bent}{on}. Lengths in {words}, to the tape's {contents.tape}."


def _tube_row(contents: PackContents, hands: Hands, i: int) -> dict[str, str]:
    plan = hands.plans[i]
    hand = ""
    if hands.second is not None:
        other = shortened(hands.plans[1 - i].name, 40)
        hand = f"mirror image of {other}"
    return {
        "name": breakable(shortened(plan.name, 90)),
        "hand": breakable(hand),
        "tubing": breakable(shortened(plan.setup.tubing, 60)),
        "die": breakable(shortened(plan.setup.die, 60)) if plan.bends else "–",
        "stock": contents.numbers.length(plan.stock_tape),
        "bends": str(len(plan.bends)),
        "mass": mass_words(plan.mass, contents.units),
        "unmade": "",
    }


def mass_words(kg: float, units: str) -> str:
    """Write a mass; a small one in grams or in ounces (0.028349523125 kg by definition)."""
    if units == "mm" and kg < 0.95:
        return f"{kg * 1000:.0f} g"
    if units == "in" and kg < 0.45:
        return f"{kg / 0.028349523125:.1f} oz"
    return format_mass(kg, units)


def _unmade_row(name: str) -> dict[str, str]:
    """Give the row of a tube without a plan."""
    return {
        "name": breakable(shortened(name, 90)) or "unnamed",
        "hand": "",
        "tubing": "STOP: cannot be made",
        "die": "",
        "stock": "–",
        "bends": "–",
        "mass": "–",
        "unmade": "yes",
    }


def _cut_list(contents: PackContents) -> list[dict[str, str]]:
    """Sticks to cut, alike ones together, longest first within a tubing."""
    counts: Counter[tuple[str, float]] = Counter()
    names: dict[tuple[str, float], list[str]] = {}
    for tube in contents.tubes:
        key = (tube.setup.tubing, tube.stock_tape)
        counts[key] += 1
        names.setdefault(key, []).append(shortened(tube.name, 40))
    return [
        {
            "count": f"{counts[key]} ×",
            "length": contents.numbers.length(key[1]),
            "tubing": breakable(shortened(key[0], 60)),
            "names": breakable(shortened(", ".join(names[key]), 200)),
        }
        for key in sorted(counts, key=lambda k: (k[0], -k[1]))
    ]


def edge_ruler(units: str) -> Sketch:
    """Draw graduations of true size in chalk, for the lower edge of the cover's band."""
    chalk = palette.CHALK
    marks: list[Mark] = []
    step, named, half = (1.0, 10, 5) if units == "mm" else (25.4 / 8, 8, 4)
    for i in range(int(WIDTH / step + 1e-9) + 1):
        x = i * step
        tall = 5.0 if i % named == 0 else 3.6 if i % half == 0 else 2.2
        marks.append(line(((x, 0.0), (x, tall)), Pen(0.22, chalk)))
        if i % named == 0 and i > 0 and x < WIDTH - 4:
            marks.append(Label(str(i if units == "mm" else i // 8), (x, 5.8), 2.7, chalk, 500))
    return tuple(marks)
