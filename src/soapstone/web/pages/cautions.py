"""What to take care of, at the bender and where people or loads depend on a tube."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from nicegui import app

from soapstone.web.plain import document, el, top, words

CAUTIONS = """
# At the bender
Hands clear of die, clamp and follower: they pinch before one can let go.
A loaded ram or lever lets go at once when a pin slips. Never stand in line with it.
Let the load off before anything is touched. Every pin home before the first stroke.
The lead end swings and the tail swings back: look where both go before pulling.
Long sticks are lifted by two. Rest the tail on a stand.
No gloves near anything that turns; gloves for cut ends and hot metal.

# Sawing, coping and welding
Eyes and ears covered: chips and sparks fly further than one thinks.
Cut ends are sharp inside too: deburr them before hands go near.
Zinc, cadmium, paint and oil come off well beyond the weld: their fumes poison.
Draw the air away; the fumes of stainless are harmful as well.
A closed tube is never welded or galvanised without a vent: it bursts.

# What the numbers are
A plan is arithmetic from what was measured. Measure the first bend of a new lot before the second.
A certified gap holds for the tube as drawn. As made, it comes as near as its budget says.
Strength results are not an engineer's approval.
Where people, vehicles, boats or buildings depend on a tube, a licensed engineer decides.
Codes for rails, guards, ladders, road vehicles and lifting gear differ from place to place.
The local ones rule, and licensed trades do the work that is kept for them.
"""
"""Common practice in bending and welding shops."""


def hang_up() -> None:
    """Put the page in its place."""
    app.include_router(router())


def router() -> APIRouter:
    """Give the page."""
    routes = APIRouter(default_response_class=HTMLResponse)

    @routes.get("/cautions")
    def cautions() -> HTMLResponse:
        body = top("Cautions", ("Jobs", "/"))
        for part in CAUTIONS.strip().split("\n\n"):
            title, *lines = part.splitlines()
            items = "".join(words(line, "li") for line in lines)
            body += words(title.lstrip("# "), "h2") + el("ul", items)
        return HTMLResponse(document("Cautions", el("div", body, "bender cautions")))

    return routes
