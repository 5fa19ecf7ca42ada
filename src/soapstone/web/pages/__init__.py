"""The pages, a file each: what is on them and what a press of a button calls."""

from soapstone.web.desks import Desks
from soapstone.web.pages import bench, job, jobs, landing, log, quote, strength, yard
from soapstone.web.printing import lay_out
from soapstone.web.shop import Shop


def hang_up(shop: Shop) -> None:
    """Put every page of a shop in its place."""
    desks = Desks(shop)
    lay_out(desks)
    jobs.hang_up(desks)
    job.hang_up(desks)
    bench.hang_up(desks)
    yard.hang_up(desks)
    log.hang_up(desks)
    landing.hang_up(desks)
    quote.hang_up(desks)
    strength.hang_up(desks)
