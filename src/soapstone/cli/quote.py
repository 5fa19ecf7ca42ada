"""`soapstone quote`: what a job costs to make, and the parcel it goes in."""

from functools import partial
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter
from rich.console import Console

from soapstone.cli.output import (
    FIRST_TIME,
    Json,
    emit,
    escape,
    patience,
    say_findings,
    table,
    today,
)
from soapstone.flow.quoting import QuotedJob, quote_job
from soapstone.quantities import format_mass
from soapstone.sheets.quote_words import money, parcel_words, price_words, quantity_words


def command(
    job: Path,
    /,
    *,
    count: float = 1,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    paper: Literal["A4", "Letter"] | None = None,
    date: str = "",
    json: Json = False,
) -> int:
    """Say what a job costs to make, line by line, and how large and heavy its parcel is.

    Prices and minutes stand in the bench file's [rates]. Tax is left out. Leaves with 0 when every
    tube can be made, with 1 when one cannot.

    Parameters
    ----------
    job
        A job file (.toml).
    count
        How many sets of the job's tubes; dies are put on once for all of them.
    out
        Print the quote for a customer as this PDF.
    paper
        A4 or Letter; left out, A4 for jobs in mm and Letter for jobs in inches.
    date
        What the quote says for a date; left out, today.
    """
    with patience(FIRST_TIME):
        done = quote_job(job, count, out, paper, date or today())
    emit(done.as_json, lambda where: _show(where, done), json)
    return 0 if done.sound else 1


def _show(where: Console, done: QuotedJob) -> None:
    priced, rates, units = done.quote, done.rates, done.plan.job.units
    rows = [
        (
            line.what,
            quantity_words(line, units, rates),
            price_words(line, units, rates),
            "–" if line.amount is None else money(line.amount, rates),
        )
        for line in priced.lines
    ]
    columns = ("line", "quantity", "price", rates.currency or "amount")
    where.print(table("", columns, rows))
    sets = f" for {priced.count}, {money(priced.each, rates)} each" if priced.count > 1 else ""
    known = "" if priced.complete else " of what has a price"
    word = f" {escape(rates.currency)}" if rates.currency else ""
    total = money(priced.total, rates)
    where.print(f"total{known} [bold]{total}[/]{word}{sets}; tax is left out")
    where.print(f"{priced.hours:.1f} hours; {format_mass(done.mass, units)} of tube")
    _show_parcel(where, done)
    say_findings(where, done.findings)
    if done.file:
        where.print(f"[bold]{escape(str(done.file))}[/]", soft_wrap=True)


def _show_parcel(where: Console, done: QuotedJob) -> None:
    parcel, units = done.parcel, done.plan.job.units
    if parcel is None:
        return
    size = partial(parcel_words, units=units)
    edges = " × ".join(size(edge) for edge in (parcel.length, parcel.width, parcel.height))
    each = "parcel" if done.quote.count == 1 else f"{done.quote.count} parcels, each"
    where.print(
        f"{each} {edges}, {format_mass(parcel.mass, units)}; "
        f"length plus girth {size(parcel.length + parcel.girth)}"
    )
