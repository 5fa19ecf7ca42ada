"""PDFs that pages hand out: cuts, strength, quotes; each made anew when it is asked for."""

import datetime

from fastapi import HTTPException, Query, Response
from nicegui import app

from soapstone.errors import InputError
from soapstone.flow.nesting import cut_sticks
from soapstone.flow.quoting import MOST_SETS, contents_of, price
from soapstone.flow.sawing import Wanted, saw_jobs
from soapstone.flow.strength import CAUTION, WANTED, strength_of
from soapstone.flow.strength_sheet import figures_of
from soapstone.flow.yard_stock import in_yard
from soapstone.sheets.contents import Paper
from soapstone.sheets.cut_page import cuts_pdf
from soapstone.sheets.quote_page import make_quote
from soapstone.sheets.strength_page import strength_pdf
from soapstone.web.desks import Desks

MOST_JOBS = 100
"""Jobs that one page of cuts is for at most."""


def lay_out(desks: Desks) -> None:
    """Put the PDFs in their places; what cannot be printed is not found there."""

    @app.get("/print/quote/{name}.pdf")
    def quote(name: str, count: int = 1) -> Response:
        if not 1 <= count <= MOST_SETS:
            raise HTTPException(404)
        try:
            done = price(desks.open(name).now.planned, count)
        except InputError:
            raise HTTPException(404) from None
        return _pdf(make_quote(contents_of(done, None, _today())))

    @app.get("/print/strength/{name}.pdf")
    def strength(name: str, reserve: float = WANTED, own_weight: bool = False) -> Response:
        try:
            planned = desks.open(name).now.planned
            done = strength_of(planned, reserve, own_weight=own_weight)
        except InputError:
            raise HTTPException(404) from None
        units = planned.job.units
        pdf = strength_pdf(
            figures_of(done), CAUTION, units, _paper(units), planned.job.name, _today()
        )
        return _pdf(pdf)

    @app.get("/print/cuts.pdf")
    def cuts(
        job: list[str] = Query(),  # noqa: B008
        times: list[int] = Query(),  # noqa: B008
        kerf: float = 3.0,
        left: bool = False,
    ) -> Response:
        if len(job) != len(times) or len(job) > MOST_JOBS:
            raise HTTPException(404)
        try:
            wanted = [
                Wanted(desks.open(name).now.planned, count)
                for name, count in zip(job, times, strict=True)
            ]
            remnants = in_yard(None) if left else ()
            found = [one.cut for one in saw_jobs(wanted, kerf, remnants) if one.cut]
        except InputError:
            raise HTTPException(404) from None
        units = wanted[0].plan.job.units
        return _pdf(cuts_pdf(cut_sticks(found), units, _paper(units), _today()))


def _pdf(content: bytes) -> Response:
    return Response(content, media_type="application/pdf")


def _paper(units: str) -> Paper:
    return "Letter" if units == "in" else "A4"


def _today() -> str:
    return datetime.datetime.now().astimezone().date().isoformat()
