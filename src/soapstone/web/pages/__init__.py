"""The pages, a file each: what is on them and what a press of a button calls."""

from soapstone.web.bench_desk import Benches
from soapstone.web.desks import Desks
from soapstone.web.pages import (
    bench,
    bender,
    cautions,
    job,
    jobs,
    landing,
    log,
    made,
    phone,
    quote,
    route,
    sheets,
    steps,
    strength,
    survey,
    trial,
    yard,
)
from soapstone.web.printing import lay_out
from soapstone.web.shop import Shop


def hang_up(shop: Shop, phone_url: str = "") -> None:
    """Put every page of a shop in its place; `phone_url` is what a phone opens them by, if any."""
    desks, benches = Desks(shop), Benches(shop)
    lay_out(desks)
    jobs.hang_up(desks)
    job.hang_up(desks)
    route.hang_up(desks)
    sheets.hang_up(desks)
    steps.hang_up(desks)
    survey.hang_up(desks)
    bender.hang_up(desks)
    cautions.hang_up()
    phone.hang_up(phone_url)
    bench.hang_up(benches)
    yard.hang_up(desks)
    log.hang_up(desks)
    landing.hang_up(desks)
    quote.hang_up(desks)
    strength.hang_up(desks)
    made.hang_up(desks)
    trial.hang_up(benches)
