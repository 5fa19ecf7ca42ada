"""Put trial bends and figures into the text of a bench file, the rest of it untouched."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

import tomlkit

from soapstone.exchange.toml_text import parsed, put_figure

Figure: TypeAlias = str | float | bool | list[str | float] | None
"""What a key is given; None takes it out, so that what is usual holds again."""

ALONE = ("bender", "rates")
"""Tables of which a bench has one."""


def with_trial(
    text: str,
    die: str,
    tubing: str,
    bends: Sequence[tuple[float, float]],
    lot: str = "",
    date: str = "",
    piece: str = "",
) -> str:
    """Add a row of trial bends, (dial, angle) in degrees, to the end of a bench file's text.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    parsed(text)
    rows = {"die": die, "tubing": tubing, "lot": lot, "date": date, "piece": piece}
    lines = [f"{key} = {tomlkit.item(value).as_string()}" for key, value in rows.items() if value]
    listed = ", ".join(f"[{dial:g}, {angle:g}]" for dial, angle in bends)
    added = "\n".join(["[[trial]]", *lines, f"bends = [{listed}]"])
    return f"{text.rstrip()}\n\n{added}\n"


def with_bend(
    text: str, die: str, tubing: str, bend: tuple[float, float], lot: str = "", date: str = ""
) -> str:
    """Add one trial bend, (dial, angle) in degrees: to its row where there is one, else as a new.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    file = parsed(text)
    wanted = {"die": die, "tubing": tubing, "lot": lot, "date": date}
    for row in _rows(file, "trial"):
        if "bends" in row and all(str(row.get(key, "")) == value for key, value in wanted.items()):
            row["bends"].append([float(f"{degrees:g}") for degrees in bend])
            return tomlkit.dumps(file)
    return with_trial(text, die, tubing, [bend], lot, date)


def with_figures(text: str, table: str, name: str, figures: Mapping[str, Figure]) -> str:
    """Put figures into a bench file's text; remarks and layout stay.

    Parameters
    ----------
    text
        A bench file.
    table
        "bender", "rates", "die" or "tubing"; empty for what stands at the head of the file.
    name
        Which die or tubing.
    figures
        By key, as they are to stand in the file.

    Raises
    ------
    ValueError
        The text is no TOML, or has no such die or tubing.
    """
    file = parsed(text)
    target = _target(file, table, name)
    for key, figure in figures.items():
        put_figure(target, key, figure)
    return tomlkit.dumps(file)


def with_name(text: str, table: str, key: str, old: str, new: str) -> str:
    """Put another name wherever a list of tables has an old one: a die's in trials, or in tubes.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    file = parsed(text)
    named = [row for row in _rows(file, table) if isinstance(row.get(key), str)]
    for row in named:
        if row[key].strip() == old:
            row[key] = new
    return tomlkit.dumps(file)


def _rows(file: Any, table: str) -> list[Any]:
    rows = file.get(table, [])
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def _target(file: Any, table: str, name: str) -> Any:
    if not table:
        return file
    if table in ALONE:
        if table not in file:
            file[table] = tomlkit.table()
        return file[table]
    for row in _rows(file, table):
        if str(row.get("name", "")).strip() == name:
            return row
    raise ValueError(f'no {table} "{name}" stands in the file any more')
