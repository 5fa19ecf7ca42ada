"""Write jobs as TOML: a whole job file, or new corners put into a file that keeps its remarks."""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import Array, Comment, InlineTable, Table, Whitespace

from soapstone.bench.values import Known, file_from, read_place, written
from soapstone.exchange.toml_text import parsed
from soapstone.geometry.centreline import Centreline
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.job.tube import WAYS
from soapstone.quantities import bare_length

LONG = 88
"""Characters above which a list of points goes on several lines."""


def job_toml(job: Job, folder: Path | None = None) -> str:
    """Write a whole job file in the job's units, every number with all its digits.

    Points that have a name are written by it; what a reader would take anyway is left out. A
    length in inches is read back within a part in 10^15 of what it was.

    Parameters
    ----------
    job
        The job.
    folder
        Where the file will lie, for the names of other files in it; the job's own place if None.
    """
    place = folder or (job.path.parent if job.path else None)
    known = Known(units=job.units, points=job.points, folder=place)
    tables = job.model_dump(context=known, by_alias=True, exclude_none=True, exclude_defaults=True)
    tables = {"format": job.format, **tables}
    if job.bench_path and folder:
        tables["bench"] = file_from(folder, job.bench_path)
    lines = [f"{key} = {_value(value)}" for key, value in tables.items() if not _is_table(value)]
    for key, value in tables.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *_pairs(value)]
        elif _is_table(value):
            for entry in value:
                lines += ["", f"[[{key}]]", *_pairs(entry)]
    return "\n".join(lines) + "\n"


def with_points(
    text: str,
    points: Mapping[str, Sequence[Vec3] | Centreline],
    moved: tuple[Path, Path] | None = None,
) -> str:
    """Put corners into the text of a job file in place of what gave the tubes their shapes.

    Everything else, remarks and layout too, stays as it is.

    Parameters
    ----------
    text
        A sound job file.
    points
        By tube name: corners in mm, ends included; a centreline is put in as legs and angles.
    moved
        The folder the text comes from and the one it goes to, when they differ: other files (the
        bench, meshes) are then named from the new one.

    Raises
    ------
    ValueError
        The text is no TOML, or has no such tube.
    """
    file = parsed(text)
    units = str(file.get("units", "mm"))
    names = {place: name for name, place in _named_points(file.unwrap(), units).items()}
    tubes = {str(tube["name"]).strip(): tube for tube in file.get("tube", ())}
    corners = {}
    for number, (name, places) in enumerate(points.items()):
        if name not in tubes:
            raise ValueError(f'no tube "{name}"')
        way = next(way for way in WAYS if way in tubes[name])
        marker = f"corners of tube {number} go here"
        # A marker takes the old key's place, and key and marker are changed in the text: the
        # remark on that line and the order of keys stay.
        remarks = _take_trailing_remarks(tubes[name], way)
        tubes[name][way] = marker
        if isinstance(places, Centreline):
            key, value = "bends", _value(_legs_and_angles(places, units, names))
        else:
            key = "points"
            value = _value([names.get(place, _bare(place, units)) for place in places])
        corners[marker] = key, value + remarks
    if moved:
        _rename_files(file, *moved)
    new = tomlkit.dumps(file)
    for marker, (key, value) in corners.items():
        pattern = rf"""["']?(?:{"|".join(WAYS)})["']?(\s*=\s*)"{marker}\""""
        before, equals, after = re.split(pattern, new, maxsplit=1)
        new = f"{before}{key}{equals}{value}{after}"
    return new


def _legs_and_angles(
    line: Centreline, units: str, names: Mapping[Vec3, str]
) -> dict[str, list[float | int] | str]:
    return {
        "legs": [written(bare_length(leg, units)) for leg in line.legs],
        "angles": [written(angle) for angle in line.angles],
        "rotations": [written(rotation) for rotation in line.rotations],
        "from": names.get(line.start, _bare(line.start, units)),
        "along": [written(value) for value in line.along],
        "up": [written(value) for value in line.up],
    }


def _rename_files(file: Any, old: Path, new: Path) -> None:
    """Name the files that a job reads from its new folder."""
    if "bench" in file:
        file["bench"] = file_from(new, old / str(file["bench"]))
    for keepout in file.get("keepout", ()):
        if "mesh" in keepout:
            keepout["mesh"]["file"] = file_from(new, old / str(keepout["mesh"]["file"]))


def with_named_points(text: str, places: Mapping[str, Vec3]) -> str:
    """Put named points into the text of a job file, in mm; everything else stays as it is.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    file = parsed(text)
    units = str(file.get("units", "mm"))
    if "points" not in file:
        file.add("points", tomlkit.table())
    for name, place in places.items():
        file["points"][name] = _bare(place, units)
    return tomlkit.dumps(file)


def _take_trailing_remarks(tube: Any, way: str) -> str:
    """Take what stands between a tube with a shape over several lines and the next table.

    The new corners go to that tube's end, and what introduces the next table must follow them.
    """
    shape = tube[way]
    if not isinstance(tube, Table) or isinstance(shape, (InlineTable, Array)):
        return ""
    remarks = ""
    for table in (shape, tube):
        body = table.value.body if isinstance(table, Table) else []
        while body and body[-1][0] is None and isinstance(body[-1][1], (Whitespace, Comment)):
            remarks = body.pop()[1].as_string() + remarks
    return f"\n{remarks.removesuffix(chr(10))}" if remarks else ""


def _named_points(tables: Mapping[str, Any], units: str) -> dict[str, Vec3]:
    return {name: read_place(value, units) for name, value in tables.get("points", {}).items()}


def _bare(place: Vec3, units: str) -> list[float | int]:
    return [written(bare_length(value, units)) for value in place]


def _is_table(value: object) -> bool:
    """Whether a value is written under a header of its own."""
    return isinstance(value, dict) or (
        isinstance(value, (list, tuple)) and len(value) > 0 and isinstance(value[0], dict)
    )


def _pairs(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in table.items()]


def _key(key: str) -> str:
    return tomlkit.key(key).as_string()


def _value(value: Any) -> str:
    """Write a value on one line, a long list of lists on several."""
    if isinstance(value, dict):
        inside = ", ".join(_pairs(value))
        return f"{{ {inside} }}"
    if isinstance(value, (list, tuple)):
        entries = [_value(entry) for entry in value]
        line = f"[{', '.join(entries)}]"
        lists = any(isinstance(entry, (list, tuple, dict)) for entry in value)
        if len(line) <= LONG or not lists:
            return line
        return "[\n" + "".join(f"  {entry},\n" for entry in entries) + "]"
    text: str = tomlkit.item(value).as_string()
    return text
