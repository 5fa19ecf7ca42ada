"""A file to start one's own job or bench from."""

from pathlib import Path
from typing import Literal

from soapstone.bench.files import starter_text
from soapstone.errors import InputError
from soapstone.job.files import starter_job_text
from soapstone.textfiles import write_whole


def start_file(file: Path, what: Literal["job", "bench"], units: str) -> Path:
    """Write the commented starter job or bench; a file that is there already is left alone."""
    if file.exists():
        raise InputError(f"{file}: it is there already; give a new name")
    if file.suffix.lower() != ".toml":
        raise InputError(f"{file}: expected a name ending in .toml")
    text = starter_job_text(units) if what == "job" else starter_text(units)
    write_whole(file, text.encode())
    return file.absolute()
