"""Tubes from one kind of file into another."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soapstone.errors import InputError
from soapstone.exchange.csv_files import Form, TubeShape, not_in_csv, read_tube_csv, write_tube_csv
from soapstone.exchange.job_toml import job_toml
from soapstone.geometry.chain import SPLIT_ABOVE
from soapstone.job.files import bench_of, own_bench_path, read_job
from soapstone.job.model import Job
from soapstone.job.tooling import NO_DIE
from soapstone.quantities import Units
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

    Raises
    ------
    InputError
        A file is wrong or of another kind, or it cannot hold what is asked.
    """
    _check(source, target, form)
    job = read_job(source) if _ending(source) == ".toml" else read_tube_csv(source)
    # what a job is made on must not change with the units it is written in
    written = job.model_copy(update={"units": units}).at_path(job.path) if units else job
    if _ending(target) == ".csv":
        return _to_csv(job, written.units, target, form)
    write_whole(target, job_toml(written, target.absolute().parent).encode())
    left_out = []
    if written.units != job.units and job.bench is None and own_bench_path() is None:
        left_out.append("the starter bench: that in other units has other names")
    return Converted(target.absolute(), tuple(tube.name for tube in job.tubes), tuple(left_out))


def _check(source: Path, target: Path, form: str) -> None:
    for path in (source, target):
        if _ending(path) not in (".toml", ".csv"):
            raise InputError(f"{path}: expected a file ending in .toml or .csv")
    if source.absolute() == target.absolute():
        raise InputError(f"{target}: expected another file than the one to read")
    if form and _ending(target) == ".toml":
        raise InputError(f"--as {form}: only a .csv has rows of corners or of legs")


def _ending(path: Path) -> str:
    return path.suffix.lower()


def _to_csv(job: Job, units: Units, target: Path, form: str) -> Converted:
    shaped = resolve(job, bench_of(job))
    lost = [str(finding) for shape, _ in shaped if shape.line is None for finding in shape.findings]
    if lost:
        raise InputError(f"{job.where}: {'; '.join(lost)}")
    shapes = [
        TubeShape(
            shape.name,
            setup.tubing,
            "" if setup.die == NO_DIE else setup.die,
            shape.line,
            shape.points,
        )
        for shape, setup in shaped
        if shape.line is not None
    ]
    widest = max((angle for shape in shapes for angle in shape.line.angles), default=0.0)
    if form == "corners" and widest > SPLIT_ABOVE:
        raise InputError(f"--as corners: a bend of {widest:g}° has no corner; expected --as legs")
    chosen: Form = "legs" if form == "legs" or widest > SPLIT_ABOVE else "corners"
    text = io.StringIO()
    write_tube_csv(text, shapes, chosen, units)
    write_whole(target, text.getvalue().encode())
    names = tuple(shape.name for shape in shapes)
    return Converted(target.absolute(), names, tuple(not_in_csv(job)))
