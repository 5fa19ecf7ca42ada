"""The pages, a file each: what is on them and what a press of a button calls."""

from soapstone.web.pages import job, jobs
from soapstone.web.shop import Shop


def hang_up(shop: Shop) -> None:
    """Put every page of a shop in its place."""
    jobs.hang_up(shop)
    job.hang_up(shop)
