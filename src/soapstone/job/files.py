"""Read job files, and find the bench that a job is made on."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from soapstone.bench.files import STARTERS, entries, read_bench, starter_bench, twice
from soapstone.bench.model import Bench
from soapstone.bench.values import Known, read_place
from soapstone.faults import Fault, model_faults, refuse_faults
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.textfiles import parse_toml, read_toml

BENCH_VARIABLE = "SOAPSTONE_BENCH"
_STARTER_FOLDER = Path(__file__).parent / "starter"


def read_job(path: Path | str) -> Job:
    """Read a job file.

    Raises
    ------
    InputError
        One line that names the file and, key by key, all that is wrong with it.
    """
    path = Path(path)
    return job_from_tables(read_toml(path), path, path.parent).at_path(path)


def job_from_text(text: str, path: Path | None = None) -> Job:
    """Read the text of a job file; `path` is where it lies or will lie, if anywhere.

    Without a path, meshes from files are not looked for.
    """
    folder = path.parent if path else None
    return job_from_tables(parse_toml(text, path or "job"), path or "job", folder).at_path(path)


def job_from_tables(raw: dict[str, Any], where: Path | str, folder: Path | None) -> Job:
    """Read a job from its tables as TOML gives them; `where` names it in errors."""
    units = "in" if raw.get("units") == "in" else "mm"
    names = dict.fromkeys(str(tube.get("name")).strip() for _, tube in entries(raw, "tube"))
    known = Known(units=units, points=_points(raw, units), tubes=names, folder=folder)
    faults = [*twice(raw, "tube"), *twice(raw, "keepout"), *_mirrors_in_a_ring(raw)]
    try:
        job = Job.model_validate(raw, context=known, by_name=False, by_alias=True)
    except ValidationError as error:
        raise refuse_faults(where, [*model_faults(Job, error, raw), *faults]) from None
    if faults:
        raise refuse_faults(where, faults)
    return job


def starter_job_text(units: str = "mm") -> str:
    """Give a small job with remarks, as the text of a file in mm or inches, to start one's own."""
    if units not in STARTERS:
        raise ValueError('units are "mm" or "in"')
    return (_STARTER_FOLDER / STARTERS[units]).read_text(encoding="utf-8")


def bench_of(job: Job) -> Bench:
    """Give the bench that a job is made on.

    It is the one the job names; else the shop's own (the file that the environment variable
    SOAPSTONE_BENCH names, or bench.toml in the user's configuration folder); else the starter
    bench in the job's units.
    """
    named = job.bench_path
    if named is not None:
        if not named.is_file():
            fault = Fault("bench", f'there is no file "{job.bench}" beside it')
            raise refuse_faults(job.where, [fault])
        return read_bench(named)
    own = own_bench_path()
    return read_bench(own) if own else starter_bench(job.units)


def own_bench_path() -> Path | None:
    """Give the path of the shop's own bench file, if there is one."""
    if named := os.environ.get(BENCH_VARIABLE):
        return Path(named)
    path = usual_bench_path()
    return path if path.is_file() else None


def usual_bench_path() -> Path:
    """Give the path where the shop's own bench file is looked for."""
    from platformdirs import user_config_path

    return user_config_path("soapstone", appauthor=False) / "bench.toml"


def _points(raw: dict[str, Any], units: str) -> dict[str, Vec3]:
    """Read the named points; one that is wrong is a fault of its own table, and not of its uses."""
    table = raw.get("points")
    points: dict[str, Vec3] = {}
    for name, value in table.items() if isinstance(table, dict) else ():
        try:
            points[name] = read_place(value, units)
        except ValueError:
            points[name] = (0.0, 0.0, 0.0)
    return points


def _mirrors_in_a_ring(raw: dict[str, Any]) -> Iterator[Fault]:
    """Find tubes that are mirror images of themselves, through however many others."""
    images: dict[str, str] = {}
    keys: dict[str, str] = {}
    for key, entry in entries(raw, "tube"):
        name, mirror = entry.get("name"), entry.get("mirror")
        of = mirror.get("of") if isinstance(mirror, dict) else None
        if isinstance(name, str) and isinstance(of, str):
            images[name.strip()] = of.strip()
            keys[name.strip()] = key
    for name, key in keys.items():
        at, seen = images[name], {name}
        while at in images and at not in seen:
            seen.add(at)
            at = images[at]
        if at == name:
            yield Fault(f"{key}.mirror.of", "expected a tube that is not its own mirror image")
