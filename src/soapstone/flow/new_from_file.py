"""A file that came from elsewhere made a job of the shop's folder: tubes in CSV or in STEP."""

from dataclasses import dataclass, replace
from pathlib import Path

from soapstone.bench.materials import MATERIALS
from soapstone.bench.model import Bench, fits
from soapstone.errors import InputError
from soapstone.exchange.csv_files import UNNAMED, read_tube_csv
from soapstone.exchange.job_toml import job_toml
from soapstone.findings import Finding
from soapstone.flow.asked import length_asked
from soapstone.flow.planning import plan
from soapstone.flow.remembering import bench_as_is
from soapstone.flow.reshaping import first_fitting
from soapstone.flow.starting import BENCH
from soapstone.flow.taking_in import OPTIONS, AskedAs, job_from_step
from soapstone.job.files import bench_of, job_from_text
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.quantities import Units
from soapstone.textfiles import LARGEST_TOML, refuse_file

TAKEN = (".csv", ".step", ".stp")
"""Kinds of file that tubes are taken in from."""

MOST_TUBES = 300
"""Tubes of one file: a job of more takes minutes to plan whenever it changes."""


@dataclass(frozen=True, slots=True)
class AskedOfFile:
    """What a file may leave open.

    Attributes
    ----------
    units
        The job's units; "" for those of the file, which for a drawing are the shop's own.
    wall
        As typed: the wall of what a drawing has as solid bars.
    material
        What the tubes of a drawing are made of.
    tubing, die
        Of the bench, for the tubes of a table that names none.
    asked_as
        What all this is called where it is asked for.
    """

    units: str = ""
    wall: str = ""
    material: str = ""
    tubing: str = ""
    die: str = ""
    asked_as: AskedAs = OPTIONS


@dataclass(frozen=True, slots=True)
class NewJob:
    """The text of a job file to be, how many tubes it has, and what there is to say of it."""

    text: str
    tubes: int
    findings: tuple[Finding, ...]


def shop_bench(folder: Path, units: Units = "mm") -> Bench:
    """Give the bench that a new job in a folder is made on: the folder's own, else the shop's.

    Raises
    ------
    InputError
        It cannot be read.
    """
    return bench_of(_bare_job(folder, units))


def materials_of(bench: Bench) -> tuple[str, ...]:
    """Name the materials that tubes of a drawing can be of, the shop's own first."""
    own = [one.name for one in bench.materials]
    return tuple(dict.fromkeys((*own, *(one.name for one in MATERIALS))))


def new_job_from(source: Path, folder: Path, asked: AskedOfFile) -> NewJob:
    """Read the tubes of a file as a job that is to lie in a folder.

    It is made on the bench of that folder where there is one, and is planned once here, so that a
    job that is handed out can be opened.

    Raises
    ------
    InputError
        One line that names the file: it is of another kind, damaged, holds no tubes or too many,
        or names what the bench does not have.
    """
    ending = source.suffix.lower()
    if ending not in TAKEN:
        raise refuse_file(source, f"expected a file ending in one of {', '.join(TAKEN)}")
    if ending == ".csv":
        units, tubes, findings = _of_a_table(source, folder, asked)
    else:
        units, tubes, findings = _of_a_drawing(source, folder, asked)
    if len(tubes) > MOST_TUBES:
        many = f"expected at most {MOST_TUBES} tubes, found {len(tubes)}; split the file"
        raise refuse_file(source, many)
    job = _bare_job(folder, units, source).model_copy(
        update={"name": source.stem[:200], "tubes": tubes}
    )
    text = job_toml(job.at_path(folder / source.name), folder)
    if len(text.encode()) > LARGEST_TOML:
        raise refuse_file(source, "its tubes have too many corners for one job; split the file")
    read = job_from_text(text, folder / source.name)
    plan(read, bench_as_is(read))
    return NewJob(text, len(tubes), findings)


def _bare_job(folder: Path, units: Units, source: Path | None = None) -> Job:
    """Give a job without tubes, made on the folder's bench."""
    bench = BENCH if (folder / BENCH).is_file() else None
    return Job(units=units, bench=bench).at_path(folder / (source.name if source else BENCH))


def _of_a_table(
    source: Path, folder: Path, asked: AskedOfFile
) -> tuple[Units, tuple[Tube, ...], tuple[Finding, ...]]:
    table = read_tube_csv(source, tubing_known=bool(asked.tubing))
    units = _units(asked.units) if asked.units else table.units
    bench = shop_bench(folder, units)
    bare = [tube.name for tube in table.tubes if tube.tubing == UNNAMED]
    if bare and asked.tubing not in [one.name for one in bench.tubings]:
        die, tubing = first_fitting(bench)  # a shop without a bench has other names in inches
        asked = replace(asked, tubing=tubing.name, die=die.name)
    tubes = tuple(_made_of(tube, asked, bench) for tube in table.tubes)
    if not bare:
        return units, tubes, ()
    what = f'the file names no tubing for {len(bare)} of its tubes: "{asked.tubing}" is taken'
    return units, tubes, (Finding("note", "tubing", what, "change it under Tube if it is another"),)


def _made_of(tube: Tube, asked: AskedOfFile, bench: Bench) -> Tube:
    """Give a tube of a table the tubing asked for where it names none, and the die if that fits."""
    tubing = asked.tubing if tube.tubing == UNNAMED else tube.tubing
    ods = [one.od for one in bench.tubings if one.name == tubing]
    fitting = [die.name for die in bench.dies if any(fits(die.od, od) for od in ods)]
    die = tube.die or (asked.die if asked.die in fitting else None)
    return tube.model_copy(update={"tubing": tubing, "die": die})


def _of_a_drawing(
    source: Path, folder: Path, asked: AskedOfFile
) -> tuple[Units, tuple[Tube, ...], tuple[Finding, ...]]:
    units = _units(asked.units)
    wall = None
    if asked.wall.strip():
        wall = length_asked(asked.wall, units, asked.asked_as.wall)
    taken = job_from_step(
        source,
        units,
        wall,
        asked.material.strip(),
        as_drawn=False,
        bench=shop_bench(folder, units),
        asked_as=asked.asked_as,
    )
    return units, taken.job.tubes, taken.findings


def _units(named: str) -> Units:
    if named not in ("", "mm", "in"):
        raise InputError('units: expected "mm" or "in"')
    return "in" if named == "in" else "mm"
