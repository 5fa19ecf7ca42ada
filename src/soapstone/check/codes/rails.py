"""Rules about rails over a floor: how high the top is, how wide the openings are.

Heights are square to the floor. Of a tube only its straights that run along the floor count, within
`LEVEL` degrees; its posts and the bends to them do not. Openings are between the surfaces of tubes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from soapstone.check.codes.model import Guard, Kind, Rule, Ruling
from soapstone.check.codes.tubes import HAIR
from soapstone.findings import Say
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.chain import walk

LEVEL = 15.0
"""Degrees from the floor's plane within which a straight is part of the rail."""

FLOOR = "a floor: `above` in its [[rail]], a halfspace keep-out or a point"
RUN = "a straight that runs along the floor"


@dataclass(frozen=True, slots=True)
class Band:
    """Between which heights in mm above the floor a tube's rail runs: undersides and tops.

    `under` and `top` are (least, greatest) of each.
    """

    tube: str
    under: tuple[float, float]
    top: tuple[float, float]


def band_of(
    name: str, line: Centreline, od: float, at: tuple[float, ...], up: tuple[float, ...]
) -> Band | None:
    """Give how high a tube's straights along the floor run; None when it has none."""
    way, upward = walk(line), np.array(up)
    starts, ends = way.nodes[0::2], way.nodes[1::2]
    rise = np.abs(way.directions @ upward)
    level = (rise <= np.sin(np.radians(LEVEL))) & (np.array(line.legs) > HAIR)
    if not level.any():
        return None
    reach = od / 2 * np.sqrt(1 - rise[level] ** 2)
    heights = np.stack((starts[level], ends[level])) @ upward - np.array(at) @ upward
    under, top = heights - reach, heights + reach
    return Band(
        name, (float(under.min()), float(under.max())), (float(top.min()), float(top.max()))
    )


def _height(code: str, rule: Rule, guard: Guard, bands: list[Band], say: Say) -> list[Ruling]:
    """Judge the top of the highest tube, all along."""
    top = max(bands, key=lambda band: band.top[1])
    low, high = top.top
    found = say(low) if high - low < 0.05 else f"{say(low)} to {say(high)}"
    ok = low >= rule.low - HAIR and high <= rule.high + HAIR
    return [Ruling(code, rule, guard.name, "pass" if ok else "fail", f"{found}, {top.tube}")]


def _lowest(code: str, rule: Rule, guard: Guard, bands: list[Band], say: Say) -> list[Ruling]:
    """Judge the opening between the floor and the lowest tube, where it is widest."""
    low = min(bands, key=lambda band: band.under[0])
    ok = low.under[1] <= rule.high + HAIR
    found = f"{say(low.under[1])} under {low.tube}"
    return [Ruling(code, rule, guard.name, "pass" if ok else "fail", found)]


def _opening(code: str, rule: Rule, guard: Guard, bands: list[Band], say: Say) -> list[Ruling]:
    """Judge the openings between tubes, each at its widest."""
    order = sorted(bands, key=lambda band: band.under[0])
    rulings = []
    for below, over in pairwise(order):
        wide = over.under[1] - below.top[0]
        ok = wide <= rule.high + HAIR
        found = f"{say(max(wide, 0.0))} between {below.tube} and {over.tube}"
        rulings.append(Ruling(code, rule, guard.name, "pass" if ok else "fail", found))
    if not rulings:
        needs = "the other tubes of this rail, or word that the lowest opening is the only one"
        rulings.append(Ruling(code, rule, guard.name, "not checked", "one tube only", needs))
    return rulings


RAILS: Mapping[Kind, Callable[[str, Rule, Guard, list[Band], Say], list[Ruling]]] = {
    "height": _height,
    "lowest": _lowest,
    "opening": _opening,
}


def judge_guard(code: str, rule: Rule, guard: Guard, say: Say) -> list[Ruling]:
    """Hold a rail against a rule of heights or openings; say what is missing to check it."""
    if guard.at is None:
        return [Ruling(code, rule, guard.name, "not checked", needs=FLOOR)]
    bands = []
    for tube in guard.tubes:
        plan = tube.plan
        band = band_of(plan.name, plan.shape, plan.setup.od, guard.at, guard.up)
        if band is None:
            return [Ruling(code, rule, plan.name, "not checked", "none does", RUN)]
        bands.append(band)
    return RAILS[rule.kind](code, rule, guard, bands, say)
