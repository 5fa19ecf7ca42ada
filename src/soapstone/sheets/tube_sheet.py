"""A tube's own page: its stick, bends in the order made, seam, views and check distances."""

import math
from typing import Any

from soapstone.plan.model import BendStep, Cut, TubePlan
from soapstone.plan.order import Order, in_turn, order_words
from soapstone.sheets.code import draw_code
from soapstone.sheets.contents import PackContents
from soapstone.sheets.cover import WIDTH, finding_data, mass_words
from soapstone.sheets.hands import Hands, own_findings
from soapstone.sheets.room_words import tube_words
from soapstone.sheets.seam_view import draw_seam
from soapstone.sheets.sketch import Box
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.stick import stick_box, stick_ruler
from soapstone.sheets.three_views import three_views
from soapstone.sheets.words import (
    Numbers,
    breakable,
    clock_words,
    is_still,
    level_short,
    plain,
    roll_title,
    roll_way,
    short_degrees,
    shortened,
    turn_words,
)

CODE = 20.0
"""Side of a code in mm: a phone reads it at arm's length."""

_HEIGHTS = (58.0, 48.0, 40.0, 34.0, 30.0)


def tube_sheet(contents: PackContents, hands: Hands) -> dict[str, Any]:
    """Give the data of a tube's sheet; a mirrored pair shares one."""
    plan, numbers = hands.first, contents.numbers
    names = [shortened(p.name, 90) or "unnamed" for p in hands.plans]
    findings = own_findings(hands)
    ruler = stick_ruler(plan, numbers, WIDTH)
    choices = three_views(plan, numbers, WIDTH / 3, _HEIGHTS)
    return {
        "kind": "tube",
        "hands": [breakable(name) for name in names],
        "tags": [breakable(shortened(name, 24), 8) for name in names],
        "codes": _codes(hands, contents),
        "facts": _facts(plan, contents),
        "stops": finding_data(f for f in findings if f.severity == "stop"),
        "ruler": to_data(ruler, stick_box(ruler, WIDTH)),
        "stick-words": _stick_words(plan, numbers),
        "bends": [_bend_row(hands, place, numbers) for place in range(len(plan.bends))],
        "seams": _seams(hands),
        "alike": _alike(hands) if hands.second else {},
        "drawn": f"Drawn: {breakable(names[0])}" if len(names) > 1 else "",
        "views": [[to_data(view, page) for view in views] for views, page in choices],
        "room": _room(hands, contents),
        "calibration": breakable(plain(contents.calibrations.get(plan.name, "")))
        if plan.bends
        else "",
        "distances-title": _distances_title(plan),
        "distances": [
            {"start": d.start, "end": d.end, "length": numbers.length(d.length)}
            for d in contents.distances.get(plan.name, ())
        ],
        "findings": finding_data(f for f in findings if f.severity != "stop"),
        "foot": f"{shortened(contents.job, 60)}  ·  {shortened(' / '.join(names), 60)}",
    }


def _codes(hands: Hands, contents: PackContents) -> list[dict[str, Any]]:
    """Draw the code of each hand's page; none where one of them has none."""
    texts = [contents.codes.get(plan.name, "") for plan in hands.plans]
    drawn = [draw_code(text, CODE) if text else None for text in texts]
    page = Box(0.0, 0.0, CODE, CODE)
    codes = [to_data(sketch, page) for sketch in drawn if sketch is not None]
    return codes if len(codes) == len(texts) else []


def _alike(hands: Hands) -> dict[str, str]:
    """Say what both hands share and what goes the other way."""
    sets = [[(is_still(s.roll), roll_way(s.roll)) for s in p.bends] for p in hands.plans]
    levels = [[level_short(s.level) for s in p.bends] for p in hands.plans]
    clocks = {plan.seam.clock if plan.seam else None for plan in hands.plans}
    same = ["marks", "angles", "dial stops"]
    differ: list[str] = []
    if sets[0] == sets[1]:
        same.append("rolls")
    (same if levels[0] == levels[1] else differ).append("levels")
    if len(clocks) > 1:
        differ.append("places of the weld seam")
    shared = f"same {', '.join(same[:-1])} and {same[-1]}"
    others = f"; the {' and the '.join(differ)} differ" if differ else ""
    if sets[0] != sets[1]:
        return {"same": f"{shared};", "rolls": "the rolls go opposite ways", "rest": f"{others}."}
    return {"same": shared, "rolls": "", "rest": f"{others}."}


def _facts(plan: TubePlan, contents: PackContents) -> list[dict[str, str]]:
    setup, numbers = plan.setup, contents.numbers
    facts = [
        ("Tubing", breakable(shortened(setup.tubing, 60))),
        *([("Die", breakable(shortened(setup.die, 60)))] if plan.bends else []),
        ("Stick", numbers.length(plan.stock_tape)),
        ("Along the tube", numbers.length(plan.length)),
        ("Mass", mass_words(plan.mass, contents.units)),
    ]
    return [{"name": name, "value": value} for name, value in facts]


def _stick_words(plan: TubePlan, numbers: Numbers) -> str:
    """Say how to mark the stick, in a sentence or two."""
    cuts = _cuts(plan)
    if plan.made:
        made = ", ".join(str(n) for n in sorted(plan.made))
        is_made = f"Bend {made} is made" if len(plan.made) == 1 else f"Bends {made} are made"
        words = [f"{is_made}: put the new marks where the notes below say, from the old ones."]
        return " ".join((*words, *(_cut_words(cut, numbers) for cut in cuts)))
    words = [f"Cut the stick to {numbers.length(plan.stock_tape)}."]
    places = [(b.mark, b.stock_mark, f"bend {b.n}") for b in plan.bends]
    places += [(c.mark, c.stock_mark, f"cut {c.end}") for c in cuts]
    if places:
        marks = ", ".join(f"{numbers.length(at)} ({name})" for _, at, name in sorted(places))
        words.append(f"Hook the tape on the A end and mark, without moving it: {marks}.")
    words += [_cut_words(cut, numbers) for cut in cuts]
    if plan.bends:
        words.append(_order_words(plan.order))
    return " ".join(words)


def _order_words(order: Order) -> str:
    """Say which end leads; of bends that are not made in turn, also in which order."""
    if order in (in_turn(len(order), "A"), in_turn(len(order), "B")):
        return f"The {order[0].lead} end goes through the die first."
    return (
        "All marks go on before the first bend. "
        f"The bends are made in the order {order_words(order)}."
    )


def _cuts(plan: TubePlan) -> list[Cut]:
    return [cut for cut in plan.cuts if cut.offcut > 0]


def _cut_words(cut: Cut, numbers: Numbers) -> str:
    return (
        f"After bending, saw on the line of cut {cut.end} and keep the side toward {cut.keeps}; "
        f"{numbers.length(cut.offcut)} falls off."
    )


def _distances_title(plan: TubePlan) -> str:
    """Say what to tape, and after which cuts."""
    when = ("", ", after the cut", ", after both cuts")[len(_cuts(plan))]
    return f"Tape, outside to outside{when}"


def _bend_row(hands: Hands, place: int, numbers: Numbers) -> dict[str, Any]:
    step = hands.first.bends[place]
    steps = [plan.bends[place] for plan in hands.plans]
    return {
        "n": str(step.n),
        "made": step.n in hands.first.made,
        "turn": turn_words(step, hands.first.setup.plane),
        "mark": numbers.length(step.stock_mark),
        "rolls": [_roll(s, place) for s in steps],
        "first": first_stop(step, numbers),
        "dial": numbers.dial(step.dial_stop),
        "interval": f"likely {interval(step)}",
        "pins": ", ".join(numbers.dial(s) for s in step.strokes) or "–",
        "angle": short_degrees(step.angle),
        "levels": [level_short(s.level) for s in steps],
    }


def _roll(step: BendStep, place: int) -> dict[str, Any]:
    if place == 0 and is_still(step.roll):
        return {"title": "–", "way": "as loaded", "still": True}
    return {
        "title": roll_title(step.roll),
        "way": roll_way(step.roll),
        "still": is_still(step.roll),
    }


def first_stop(step: BendStep, numbers: Numbers) -> str:
    """Write the first stop on the dial's graduations, downward: it must not go too far."""
    if step.first_stop is None:
        return ""
    on_dial = math.floor(step.first_stop / numbers.dial_step + 1e-9) * numbers.dial_step
    return numbers.dial(on_dial)


def interval(step: BendStep) -> str:
    """Write the readings within which the right one lies, 95 times in 100."""
    return f"{step.dial_low:.1f} to {step.dial_high:.1f}"


def _room(hands: Hands, contents: PackContents) -> list[dict[str, Any]]:
    """Say what the tube keeps clear of; once for both hands when it is the same."""
    said = {plan.name: tube_words(plan, contents) for plan in hands.plans}
    told = {name: words for name, words in said.items() if words is not None}
    alike = len(set(told.values())) == 1 and len(told) == len(hands.plans)
    return [
        {
            "name": "" if alike or not hands.second else breakable(shortened(name, 60)),
            "says": words,
            "short": short,
        }
        for name, (words, short) in list(told.items())[: 1 if alike else None]
    ]


def _seams(hands: Hands) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    plans = hands.plans
    alike = len({plan.seam.clock for plan in plans if plan.seam}) == 1
    for plan in plans[:1] if alike else plans:
        if plan.seam is not None:
            size = 26.0
            words = f"weld seam at {clock_words(plan.seam.clock)}"
            if len(plans) == 1 or alike:
                words = f"Load with the {words}, seen from the tail."
            found.append(
                {
                    "name": breakable(shortened(plan.name, 36), 9)
                    if hands.second and not alike
                    else "",
                    "words": words,
                    "picture": to_data(draw_seam(plan.seam.clock, size), Box(0.0, 0.0, size, size)),
                }
            )
    return found
