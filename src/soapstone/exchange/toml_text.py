"""The text of a TOML file with its remarks, to change a part of it and keep the rest."""

from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError


def parsed(text: str) -> Any:
    """Read TOML so that it can be changed and written with its remarks, order and layout.

    Raises
    ------
    ValueError
        The text is no TOML.
    """
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(f"not TOML: {error}") from None


def put_figure(target: Any, key: str, figure: Any) -> None:
    """Put a figure into a table, below the last one where the key is new; None takes it out."""
    if figure is None:
        target.pop(key, None)
    elif key in target:
        target[key] = figure
    else:
        _add_below(target, key, figure)


def row_of(file: Any, table: str, number: int) -> Any:
    """Give the row at a place, from 0, of a list of tables.

    Raises
    ------
    ValueError
        There is no such row.
    """
    rows = file.get(table, [])
    if not (isinstance(rows, list) and 0 <= number < len(rows)):
        raise ValueError(f"no {table} {number + 1}")
    return rows[number]


def _add_below(target: Any, key: str, figure: Any) -> None:
    """Add a key below the last one: what is written after that speaks of what comes next."""
    if not hasattr(target, "value") or not hasattr(target.value, "body"):
        target[key] = figure
        return
    body, after = target.value.body, []
    while body and body[-1][0] is None:
        after.append(body.pop())
    target[key] = figure
    body.extend(reversed(after))
