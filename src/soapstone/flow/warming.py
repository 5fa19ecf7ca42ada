"""Having the compiled code at hand before it is asked for."""

from soapstone.bench.files import starter_bench
from soapstone.flow.bending import bend
from soapstone.flow.planning import plan
from soapstone.job.files import job_from_text, starter_job_text


def warm() -> None:
    """Load the compiler, and what it has made, for what pages ask for again and again.

    It takes a second or two; on a machine that has none of it yet, up to a minute.
    """
    bend(plan(job_from_text(starter_job_text("mm")), starter_bench("mm")))
