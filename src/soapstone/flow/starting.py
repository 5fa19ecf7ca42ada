"""A file to start one's own job or bench from."""

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Literal

from soapstone.bench.files import starter_text
from soapstone.bench.setup import setup_for
from soapstone.errors import InputError
from soapstone.exchange.job_toml import job_toml
from soapstone.flow.reshaping import first_fitting, starting_points
from soapstone.job.files import bench_of, starter_job_text
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.quantities import Units, format_fine
from soapstone.shape.measured import Bent
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


BENCH = "bench.toml"
"""The bench file that jobs of a folder are made on where it is there."""


def new_job_text(
    folder: Path, name: str, units: Units, shape: str, numbers: Mapping[str, float]
) -> str:
    """Give the text of a job with one tube of a starter shape, to lie in a folder.

    It is made on the folder's own bench file where there is one, else on the shop's.

    Raises
    ------
    InputError, ValueError
        The bench cannot be read or has nothing to bend, or the numbers make no such shape.
    """
    bench_name = BENCH if (folder / BENCH).is_file() else None
    here = name.replace("/", " ").replace("\\", " ")  # a name such as "a/b" leads nowhere else
    job = Job(name=name, units=units, bench=bench_name).at_path(folder / f"{here}.toml")
    bench = bench_of(job)
    die, tubing = first_fitting(bench)
    setup = setup_for(bench, die, tubing, units)
    bent = Bent(setup.od, setup.clr_free, partial(format_fine, units=units))
    points = starting_points(shape, bent, numbers)
    tube = Tube(name=shape, tubing=tubing.name, die=die.name, points=points)
    return job_toml(job.with_tubes((tube,)).at_path(job.path), folder)
