"""`soapstone schema`: the JSON Schema of the files, for editors that complete and check."""

import json as _json
import sys
from typing import Literal

from soapstone.job.schema import bench_schema, job_schema, survey_schema


def command(
    which: Literal["job", "bench", "survey"] = "job",
    /,
    *,
    json: bool = True,  # noqa: ARG001
) -> int:
    """Print the JSON Schema of the job, the bench or the survey file.

    Parameters
    ----------
    which
        "job", "bench" or "survey".
    json
        The schema is JSON either way.
    """
    schema = {"job": job_schema, "bench": bench_schema, "survey": survey_schema}[which]()
    sys.stdout.write(_json.dumps(schema, indent=2, ensure_ascii=False) + "\n")
    return 0
