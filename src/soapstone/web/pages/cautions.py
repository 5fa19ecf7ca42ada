"""What to take care of, at the bender and where people or loads depend on a tube."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from nicegui import app

from soapstone.web.plain import document, el, top, words

CAUTIONS = (
    (
        "At the bender",
        (
            "Hands clear of die, clamp and follower: they pinch before one can let go.",
            "A loaded ram, spring or long lever lets go at once when a pin slips. Stand beside it, "
            "never in line with it, and let the load off before anything is touched.",
            "The lead end swings, the tail goes the other way: look where both go before pulling, "
            "at faces and windows too.",
            "Long sticks are lifted by two. Rest the tail on a stand, not on a knee.",
            "Clamp shut and every pin home before the first stroke of each bend.",
            "No gloves near anything that turns; gloves for cut ends and hot metal.",
        ),
    ),
    (
        "Sawing, coping and welding",
        (
            "Eyes and ears covered: chips and sparks fly further than one thinks.",
            "Cut ends are sharp inside too: deburr them before hands go near.",
            "Zinc, cadmium, paint and oil come off well beyond the weld, and the air is drawn away: "
            "their fumes poison, and those of stainless are harmful as well.",
            "A closed tube is never welded or galvanised without a vent: it bursts.",
        ),
    ),
    (
        "What the numbers are",
        (
            "A plan is arithmetic from what was measured. The first bend of a new lot is measured "
            "before the second is made.",
            "A gap that is certified holds for the shape as drawn; the tube as made comes as near as "
            "its budget says.",
            "Strength results are not an engineer's approval. Where people, vehicles, boats or "
            "buildings depend on a tube, a licensed engineer decides.",
            "Rails, guards, ladders, road vehicles and lifting gear have codes that differ from "
            "place to place: the local ones rule, and licensed trades do the work kept for them.",
        ),
    ),
)
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
        for title, lines in CAUTIONS:
            body += words(title, "h2") + el("ul", "".join(words(line, "li") for line in lines))
        return HTMLResponse(document("Cautions", el("div", body, "cautions")))

    return routes
