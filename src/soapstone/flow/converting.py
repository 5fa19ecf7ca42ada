"""Tubes from one kind of file into another."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.exchange.csv_files import Form, TubeShape, not_in_csv, read_tube_csv, write_tube_csv
from soapstone.exchange.job_toml import job_toml
from soapstone.geometry.chain import SPLIT_ABOVE
from soapstone.job.files import bench_of, read_job
from soapstone.job.model import Job
from soapstone.shape.resolve import resolve
from soapstone.textfiles import write_whole


@dataclass(frozen=True, slots=True)
class Converted:
    """A file written from another, and what it could not hold."""

    file: Path
    tubes: tuple[str, ...]
    left_out: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the file, its tubes and what was left out as a JSON object."""
        return {
            "file": str(self.file),
            "tubes": list(self.tubes),
            "left_out": list(self.left_out),
        }


def convert(source: Path, target: Path, form: str = "", units: str = "") -> Converted:
    """Turn the tubes of a .toml job into .csv and back, by the files' endings.

    `form` is "corners" or "legs" for CSV: corners unless a bend is too wide to have one; `units`
    "mm" or "in", the source's own when left out.
    """
    endings = (source.suffix.lower(), target.suffix.lower())
    known = (".toml", ".csv")
    for path, ending in zip((source, target), endings, strict=True):
        if ending not in known:
            raise InputError(f"{path}: expected a file ending in {' or '.join(known)}")
    job = read_job(source) if endings[0] == ".toml" else read_tube_csv(source)
    if units:
        job = job.model_copy(update={"units": units})
    names = tuple(tube.name for tube in job.tubes)
    if endings[1] == ".toml":
        write_whole(target, job_toml(job, target.absolute().parent).encode())
        return Converted(target.absolute(), names, ())
    return _to_csv(job, target, form)


def _to_csv(job: Job, target: Path, form: str) -> Converted:
    shaped = resolve(job, bench_of(job))
    lost = [str(finding) for shape, _ in shaped if shape.line is None for finding in shape.findings]
    if lost:
        raise InputError(f"{job.where}: {'; '.join(lost)}")
    shapes = [
        TubeShape(shape.name, setup.tubing, setup.die, shape.line, shape.points)
        for shape, setup in shaped
        if shape.line is not None
    ]
    widest = max((angle for shape in shapes for angle in shape.line.angles), default=0.0)
    chosen: Form = "legs" if form == "legs" or (not form and widest > SPLIT_ABOVE) else "corners"
    text = io.StringIO()
    write_tube_csv(text, shapes, chosen, job.units)
    write_whole(target, text.getvalue().encode())
    left_out = tuple(not_in_csv(job))
    return Converted(target.absolute(), tuple(shape.name for shape in shapes), left_out)
