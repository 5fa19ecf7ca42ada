"""Read survey files."""

from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from soapstone.bench.values import Known
from soapstone.faults import Fault, model_faults, near, refuse_faults
from soapstone.job.survey.model import WAYS, Halfway, Survey, row_key
from soapstone.textfiles import read_toml

MOST_POINTS = 200
"""Points to be found; a survey by tape of a whole boat takes a tenth of it."""

MOST_ROWS = 2000


def read_survey(path: Path | str) -> Survey:
    """Read a survey file.

    Raises
    ------
    InputError
        One line that names the file and, key by key, all that is wrong with it.
    """
    path = Path(path)
    return survey_from(read_toml(path), path)


def survey_from(raw: Mapping[str, Any], where: Path | str = "survey") -> Survey:
    """Take a survey from plain tables; `where` names it in errors."""
    known = Known(units="in" if raw.get("units") == "in" else "mm")
    try:
        data = Survey.model_validate(dict(raw), context=known, by_name=False, by_alias=True)
    except ValidationError as error:
        raise refuse_faults(where, model_faults(Survey, error, raw)) from None
    faults = list(_faults(data))
    if faults:
        raise refuse_faults(where, faults)
    return data


def _faults(data: Survey) -> Iterator[Fault]:
    if not data.rows:
        yield Fault("tape", "missing; expected [[tape]] rows of from, to and length")
    if len(data.unknown) > MOST_POINTS:
        yield Fault("tape", f"expected at most {MOST_POINTS} points, not {len(data.unknown)}")
    if len(data.rows) > MOST_ROWS:
        yield Fault("tape", f"expected at most {MOST_ROWS} rows, not {len(data.rows)}")
    yield from _datum_twice(data)
    for number, row in enumerate(data.rows):
        kind, _, count = row_key(data, number).partition(" ")
        for name, times in Counter(row.points).items():
            if times > 1:
                key = (
                    "from"
                    if kind == "tape"
                    else "between"
                    if isinstance(row, Halfway)
                    else "points"
                )
                yield Fault(
                    f"{kind}[{count}].{key}", f'expected different points, "{name}" stands twice'
                )
    for number, side in enumerate(data.sides, start=1):
        yield from _side_faults(data, number, side.point, side.toward)


def _datum_twice(data: Survey) -> Iterator[Fault]:
    seen: dict[tuple[float, float, float], str] = {}
    for name, place in data.datum.items():
        if place in seen:
            yield Fault(f"datum.{name}", f'expected another place, it is where "{seen[place]}" is')
        seen.setdefault(place, name)


def _side_faults(data: Survey, number: int, point: str, toward: object) -> Iterator[Fault]:
    names = data.names
    if point not in names:
        yield Fault(f"side[{number}].point", f'no point named "{point}"{near(point, names)}')
    elif point in data.datum:
        yield Fault(f"side[{number}].point", f'expected a point to be found, "{point}" is known')
    if isinstance(toward, str) and toward not in WAYS:
        if toward not in names:
            known = (*WAYS, *names)
            what = f'expected a direction or a point, found "{toward}"{near(toward, known)}'
            yield Fault(f"side[{number}].toward", what)
        elif toward == point:
            yield Fault(f"side[{number}].toward", "expected another point than itself")
