"""`soapstone sheet`: the shop pack as a PDF."""

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from soapstone.cli.output import Json, console, emit, escape, say_findings, today
from soapstone.flow import plan_job
from soapstone.flow.packing import write_pack
from soapstone.flow.remembering import Remember


def command(
    job: Path,
    /,
    *,
    out: Annotated[Path | None, Parameter(name=["--out", "-o"])] = None,
    paper: Literal["A4", "Letter"] | None = None,
    date: str = "",
    no_log: bool = False,
    pages: str = "",
    json: Json = False,
) -> int:
    """Print a job's shop pack: cover, stick rulers, a card for each bend, wrap bands at 1:1.

    A job with keep-outs is checked against them, and a page shows what the tubes keep clear of.
    Leaves with 0 when every tube can be made as printed, with 1 when one cannot; the pack then
    says so on its cover.

    Parameters
    ----------
    job
        A job file (.toml).
    out
        The PDF to write; left out, it lies beside the job and has its name.
    paper
        A4 or Letter; left out, A4 for jobs in mm and Letter for jobs in inches.
    date
        What the sheets say for a date; left out, today.
    pages
        The address that soapstone serve --lan prints, up to the port: each tube's sheet then
        carries a code that opens its page at the bender on a phone.
    no_log
        Plan from the bench's own trial bends alone.
    """
    planned = plan_job(job, Remember(left_out=no_log))
    pack = write_pack(planned, out or job.with_suffix(".pdf"), paper, date or today(), pages)
    emit(
        pack.as_json,
        lambda where: where.print(
            f"[bold]{escape(str(pack.file))}[/]  ({pack.pages} pages)", soft_wrap=True
        ),
        json,
    )
    if not json:
        for tube in pack.plan.tubes:
            say_findings(console(), tube.problems)
        say_findings(console(), pack.plan.findings)
    return 0 if pack.plan.sound else 1
