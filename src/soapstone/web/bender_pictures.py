"""A bend's pictures on a screen: how the tube lies in the bender, its roll, its level."""

from html import escape

from soapstone.plan.model import BendStep, TubePlan
from soapstone.sheets.bender_view import die_view, draw_bender, tail_shown
from soapstone.sheets.level_view import draw_level
from soapstone.sheets.machine import stage
from soapstone.sheets.roll_view import draw_roll
from soapstone.sheets.sketch import Box, Sketch
from soapstone.sheets.sketch_svg import to_svg

SIZE = (92.0, 56.0)
DIE = (92.0, 74.0)


def pictures(plan: TubePlan, bend: BendStep, kind: str) -> str:
    """Draw what helps at a step of a bend: roll and level to set it up by, the die to pull it."""
    place = next((i for i, one in enumerate(plan.bends) if one.n == bend.n), None)
    if place is None or bend.n in plan.made or kind not in ("set up", "pull"):
        return ""
    setup = plan.setup
    here = stage(plan, place, tail_shown(setup.clr, setup.follower))
    if kind == "pull":
        drawn = draw_bender(here, *DIE)
        return _figures([(drawn, DIE, f"{die_view(setup.plane).name}, held at the dial stop")])
    shown: list[tuple[Sketch, tuple[float, float], str]] = []
    if place:
        shown.append((draw_roll(here, *SIZE), SIZE, "the roll, seen from the tail"))
    if bend.level:
        shown.append((draw_level(here, *SIZE), SIZE, f"level on leg {bend.level.leg}"))
    if not shown:
        shown.append((draw_bender(here, *DIE), DIE, die_view(setup.plane).name))
    return _figures(shown)


def _figures(shown: list[tuple[Sketch, tuple[float, float], str]]) -> str:
    figures = (
        f'<figure><div class="paper">{to_svg(sketch, Box(0.0, 0.0, *size), title)}</div>'
        f"<figcaption>{escape(title)}</figcaption></figure>"
        for sketch, size, title in shown
    )
    return f'<div class="pictures">{"".join(figures)}</div>'
