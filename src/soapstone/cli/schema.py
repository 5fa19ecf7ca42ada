"""`soapstone schema`: the JSON Schema of the files, for editors that complete and check."""

import json as _json
import sys
from typing import Literal

from soapstone.job.schema import bench_schema, job_schema


def command(which: Literal["job", "bench"] = "job", /, *, json: bool = True) -> int:  # noqa: ARG001
    """Print the JSON Schema of the job or the bench file.

    Parameters
    ----------
    which
        "job" or "bench".
    json
        The schema is JSON either way.
    """
    schema = job_schema() if which == "job" else bench_schema()
    sys.stdout.write(_json.dumps(schema, indent=2, ensure_ascii=False) + "\n")
    return 0
