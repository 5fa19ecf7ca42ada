"""The card that hangs at the bender for one bend; a mirrored pair shares it."""

from typing import Any

from soapstone.plan.model import BendStep, TubePlan
from soapstone.sheets.bender_view import die_view, draw_bender, tail_shown
from soapstone.sheets.contents import PackContents
from soapstone.sheets.cover import WIDTH
from soapstone.sheets.hands import Hands
from soapstone.sheets.level_view import draw_level
from soapstone.sheets.machine import stage
from soapstone.sheets.roll_view import draw_roll
from soapstone.sheets.seam_view import draw_seam
from soapstone.sheets.sketch import Box
from soapstone.sheets.sketch_typst import to_data
from soapstone.sheets.stick import STRIP_HEIGHT, stick_strip
from soapstone.sheets.tube_sheet import first_stop, interval
from soapstone.sheets.words import (
    NO_BREAK,
    Numbers,
    breakable,
    clock_words,
    is_still,
    level_words,
    roll_title,
    roll_way,
    roll_words,
    short_degrees,
    shortened,
    turn_words,
)

_DIE_PICTURE = {"A4": (88.0, 100.0), "Letter": (88.0, 88.0)}
_ONE_HAND = {"A4": (92.0, 56.0), "Letter": (92.0, 50.0)}
_TWO_HANDS = {"A4": (44.0, 50.0), "Letter": (44.0, 44.0)}
_LEVEL_SHARE = 0.82


def bend_card(contents: PackContents, hands: Hands, place: int) -> dict[str, Any]:
    """Give the data of the card for the bend made at `place`, from 0."""
    plan, numbers = hands.first, contents.numbers
    step, setup = plan.bends[place], plan.setup
    names = " / ".join(shortened(p.name, 60) for p in hands.plans)
    size = _DIE_PICTURE[contents.paper]
    picture = draw_bender(stage(plan, place, tail_shown(setup.clr, setup.follower)), *size)
    strip = stick_strip(plan, WIDTH, step.n)
    shown = (plan,) if alike(hands, place) else hands.plans
    return {
        "kind": "card",
        "n": str(step.n),
        "turn": f"made {_ordinal(place + 1)} of {len(plan.bends)}",
        "end-for-end": turn_words(step, setup.plane),
        "names": names,
        "tubing": shortened(setup.tubing, 36),
        "die": shortened(setup.die, 36),
        "stop": any(f.severity == "stop" for p in hands.plans for f in p.problems),
        "strip": to_data(strip, Box(0.0, -0.5, WIDTH, STRIP_HEIGHT)),
        "mark": figure(numbers.length(step.stock_mark, unit=False), contents.units),
        "exact": f"exact: {numbers.exact(step.mark)}",
        "roll": {"whole": roll_title(step.roll), "part": "", "unit": ""},
        "still": is_still(step.roll),
        **_dial(step, numbers),
        "angle": short_degrees(step.angle),
        "creep": _creep(step, numbers),
        "blanks": [
            *(
                ["dial stopped at"]
                if step.first_stop is None
                else ["first angle", "second stop at"]
            ),
            "final angle",
            "lot",
            "date",
        ],
        "view-title": f"{die_view(setup.plane).name}",
        "picture": to_data(picture, Box(0.0, 0.0, *size)),
        "view-words": _lead_words(step, setup.plane),
        "hands": [_hand(contents, hands, p, place) for p in shown],
        "record": [breakable(shortened(p.name, 60)) for p in hands.plans],
        "foot": f"{shortened(contents.job, 50)}  ·  {shortened(names, 50)}  ·  "
        "hands clear of die, clamp and follower",
    }


def figure(text: str, units: str) -> dict[str, str]:
    """Split a printed length into whole, fraction and unit."""
    whole, _, part = text.rpartition(NO_BREAK)
    if "/" not in part:
        whole, part = text, ""
    return {"whole": whole, "part": part, "unit": units}


def alike(hands: Hands, place: int) -> bool:
    """Tell whether a bend is set up the same way for both hands: the first one, if the seam is."""
    if hands.second is None or place > 0 or not is_still(hands.first.bends[0].roll):
        return False
    clocks = {plan.seam.clock if plan.seam else None for plan in hands.plans}
    return len(clocks) == 1


def _hand(contents: PackContents, hands: Hands, plan: TubePlan, place: int) -> dict[str, Any]:
    """Give what differs between hands: roll, level, seam."""
    two = hands.second is not None and not alike(hands, place)
    width, height = (_TWO_HANDS if two else _ONE_HAND)[contents.paper]
    step, setup = plan.bends[place], plan.setup
    here = stage(plan, place, tail_shown(setup.clr, setup.follower))
    first = place == 0
    seam = plan.seam if first else None
    low = height * _LEVEL_SHARE
    return {
        "name": shortened(plan.name, 60) or "unnamed",
        "room": width - 4.0,
        "way": "as loaded" if first and is_still(step.roll) else roll_way(step.roll),
        "roll-picture": to_data(draw_roll(here, width, height), Box(0.0, 0.0, width, height)),
        "roll-words": "" if first else _roll_words(step),
        "level-title": f"level on leg {step.level.leg}" if step.level else "",
        "at-level": to_data(draw_level(here, width, low), Box(0.0, 0.0, width, low))
        if step.level
        else None,
        "level-words": level_words(step, first),
        "seam": to_data(draw_seam(seam.clock, 26.0), Box(0.0, 0.0, 26.0, 26.0)) if seam else None,
        "seam-words": f"Weld seam at {clock_words(seam.clock)}, seen from the tail."
        if seam
        else "",
    }


def _roll_words(step: BendStep) -> str:
    """Say the roll; after a turn end for end, that it comes after it."""
    words = roll_words(step.roll)
    return f"Then {words[0].lower()}{words[1:]}" if step.end_for_end else words


def _lead_words(step: BendStep, plane: str) -> str:
    tail = "tail toward you" if plane == "horizontal" else "tail to the right"
    ghost = "the ghost is where it stands before release"
    return f"Drawn with the {tail}. The {step.lead} end leads; {ghost}."


def _dial(step: BendStep, numbers: Numbers) -> dict[str, Any]:
    """Give what the dial must show: in large figures where to stop, first of all, and then."""
    first, last = first_stop(step, numbers), numbers.dial(step.dial_stop)
    pins = ", ".join(numbers.dial(s) for s in step.strokes)
    return {
        "dial-title": "First stop" if first else "Dial: stop at",
        "dial": {"whole": first or last, "part": "", "unit": ""},
        "then": last if first else "",
        "pins": pins,
        "interval": f"likely {interval(step)}",
    }


def _creep(step: BendStep, numbers: Numbers) -> str:
    """Say how to go from the first stop to the last."""
    first = first_stop(step, numbers)
    if not first:
        return "Pull to the dial stop, release, measure."
    rate = step.loaded / step.angle
    return (
        f"Pull to {first}, release, measure. If it is there already, leave it. If not, stop at "
        f"{first} + {rate:.2f} × ({short_degrees(step.angle)} – measured)."
    )


def _ordinal(n: int) -> str:
    ending = "th" if n % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"
