"""Plans as JSON objects: mm, degrees and kg, keys that other people's scripts rely on."""

from collections.abc import Sequence
from typing import Any

from soapstone.findings import Finding, stops
from soapstone.geometry.measure import bounds
from soapstone.plan.model import BendStep, Cut, TubePlan, Unplanned


def tube_json(plan: TubePlan | Unplanned) -> dict[str, Any]:
    """Give one tube; a tube without a plan has the same keys, empty, and its problems."""
    if isinstance(plan, Unplanned):
        nothing = dict.fromkeys(("length", "stock", "stock_tape", "mass", "seam", "bounds"))
        return {
            "name": plan.name,
            "of": plan.of,
            **nothing,
            "points": [list(point) for point in plan.points],
            "bends": [],
            "cuts": [],
            "problems": problems_json(plan.problems),
        }
    setup = plan.setup
    least, greatest = bounds(plan.shape, setup.od)
    return {
        "name": plan.name,
        "of": plan.of,
        "tubing": setup.tubing,
        "die": setup.die,
        "length": plan.length,
        "stock": plan.stock,
        "stock_tape": plan.stock_tape,
        "mass": plan.mass,
        "points": [list(point) for point in plan.points],
        "legs": list(plan.shape.legs),
        "bounds": [list(least), list(greatest)],
        "bends": [bend_json(bend) for bend in plan.bends],
        "cuts": [_cut_json(cut) for cut in plan.cuts],
        "seam": None
        if plan.seam is None
        else {
            "clock": plan.seam.clock,
            "from_neutral": plan.seam.from_neutral,
            "worst_bend": plan.seam.worst_bend,
        },
        "problems": problems_json(plan.problems),
        "sound": not stops(plan.problems),
    }


def bend_json(bend: BendStep) -> dict[str, Any]:
    """Give one bend as it is made."""
    level = bend.level
    return {
        "n": bend.n,
        "lead": bend.lead,
        "mark": bend.mark,
        "stock_mark": bend.stock_mark,
        "leg": bend.leg,
        "rotation": bend.rotation,
        "angle": bend.angle,
        "loaded": bend.loaded,
        "dial": bend.dial,
        "dial_low": bend.dial_low,
        "dial_high": bend.dial_high,
        "dial_stop": bend.dial_stop,
        "first_stop": bend.first_stop,
        "roll": bend.roll,
        "strokes": list(bend.strokes),
        "level": None
        if level is None
        else {
            "leg": level.leg,
            "reads": level.reads,
            "rises": level.rises,
            "sharpness": level.sharpness,
        },
        "clr_free": bend.clr_free,
        "arc_from": bend.arc_from,
        "arc_to": bend.arc_to,
        "ahead": bend.ahead,
        "behind": bend.behind,
        "end_for_end": bend.end_for_end,
    }


def problems_json(findings: Sequence[Finding]) -> list[dict[str, str]]:
    """Give findings as objects with severity, where, what and mend."""
    return [finding.as_json() for finding in findings]


def _cut_json(cut: Cut) -> dict[str, Any]:
    return {
        "end": cut.end,
        "mark": cut.mark,
        "stock_mark": cut.stock_mark,
        "keeps": cut.keeps,
        "offcut": cut.offcut,
    }
