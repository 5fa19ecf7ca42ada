"""Having the compiled code at hand before it is asked for."""

from soapstone.bench.files import starter_bench
from soapstone.flow.bending import bend
from soapstone.flow.planning import JobPlan, plan
from soapstone.job.files import job_from_text, starter_job_text


def warm() -> None:
    """Load the compiler, and what it has made, for what pages ask for again and again.

    It takes a second or two; on a machine that has none of it yet, up to a minute.
    """
    bend(warm_plan())


def warm_plan() -> JobPlan:
    """Load what planning needs, without the compiler: some tenths of a second."""
    return plan(job_from_text(starter_job_text("mm")), starter_bench("mm"))
